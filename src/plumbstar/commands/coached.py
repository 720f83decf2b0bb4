"""``why --coach`` of a message that is no list of sightings: read as far as it goes."""

from __future__ import annotations

import re

import msgspec

from plumbstar.coach import say
from plumbstar.coach.follows import follow
from plumbstar.coach.moments import Circumstances
from plumbstar.coach.number import judged, together
from plumbstar.coach.told import MessageTold
from plumbstar.commands import options as opt
from plumbstar.commands.shown import one_number, run_shown
from plumbstar.contract.answers.controller import NumberReport, NumbersReport
from plumbstar.contract.answers.mending import WhyReport
from plumbstar.diagnose.explain.answer import report_of
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.lists import towns
from plumbstar.sky.site import Site

_DAY = re.compile(r"\s*\d{4}-\d{2}-\d{2}\s*")


def whole_day(utc_text: str | None) -> bool:
    """Whether ``--utc`` is the date of an evening."""
    return _DAY.fullmatch(utc_text or "") is not None


def zone_at(site: Site | None) -> str | None:
    """The zone of the clocks there: of the nearest town; None where none is near."""
    return (towns.load().zone_at(site.lat_deg, site.lon_deg) or None) if site else None


def circumstances(site: Site | None, utc_text: str | None, zone: str | None) -> Circumstances:
    """Where and when, from the options of the command."""
    return Circumstances(
        site, opt.instant_of(utc_text), whole_day(utc_text), utc_text is not None, zone
    )


def answer_message(
    message: MessageTold, at: Circumstances, believed: tuple[Priors, Noise], kit: Kit
) -> tuple[WhyReport | NumberReport | NumbersReport, str]:
    """The report, and what to print. Never refuses a message. What a controller's numbers say is
    told with all the figures, as ``why --shown`` does."""
    priors, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    found = follow(message, at, *believed, kit)
    said = judged(found.message.numbers, at, priors, noise, kit)
    if not said:
        reply = say.answer(found, at)
        e = found.explanation
        report = (
            report_of(e)
            if e is not None
            else WhyReport(
                verdict=say.verdict(found), can_tell=False, causes=(), notes=(), measured=()
            )
        )
        understood = tuple(say.understood(found))
        return (
            msgspec.structs.replace(
                report, understood=understood, reply=reply, asks=found.ask.value
            ),
            reply,
        )
    reply = say.about_numbers(found, said, together(said, priors, noise, kit))
    if len(said) == 1:
        one, words = one_number(said[0].judgement, said[0].shown.pair, kit)
        return msgspec.structs.replace(one, reply=reply), words
    many, words = run_shown((), kit=kit, site=at.site, nights=[s.shown for s in said])
    assert isinstance(many, NumbersReport)  # of several nights
    return msgspec.structs.replace(many, reply=reply), words
