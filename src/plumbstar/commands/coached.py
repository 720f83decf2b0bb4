"""``why --coach`` of a message that is no list of sightings: read as far as it goes."""

from __future__ import annotations

import re

import msgspec

from plumbstar.coach import say
from plumbstar.coach.follows import Circumstances, follow
from plumbstar.coach.message import MessageTold
from plumbstar.coach.number import judged
from plumbstar.commands import options as opt
from plumbstar.commands.shown import one_number
from plumbstar.contract.answers.controller import NumberReport
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
    message: MessageTold, at: Circumstances, priors: Priors, noise: Noise, kit: Kit
) -> tuple[WhyReport, str]:
    """The report, and the reply. Never refuses a message."""
    found = follow(message, at, priors, noise, kit)
    reply = say.answer(found, at)
    e = found.explanation
    report = (
        report_of(e)
        if e is not None
        else WhyReport(verdict=say.verdict(found), can_tell=False, causes=(), notes=(), measured=())
    )
    return (
        msgspec.structs.replace(
            report, understood=tuple(say.understood(found)), reply=reply, asks=found.ask.value
        ),
        reply,
    )


def answer_number(
    message: MessageTold, at: Circumstances, priors: Priors, noise: Noise, kit: Kit
) -> tuple[NumberReport, str] | None:
    """What a controller's number says, with all the figures, as ``why --shown`` does; None where
    the message does not tell enough."""
    said = judged(message, at, priors, noise, kit)
    if said is None:
        return None
    shown, j = said
    return one_number(j, shown.pair, kit)
