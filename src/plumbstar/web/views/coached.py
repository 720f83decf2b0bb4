"""A newcomer's message, answered on the thinking thread for whoever helps."""

from __future__ import annotations

import re

from plumbstar.coach import say
from plumbstar.coach.follows import follow
from plumbstar.coach.message import read_message
from plumbstar.coach.moments import Circumstances
from plumbstar.coach.number import judged, together
from plumbstar.contract.mending import CoachAnswer
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky import coordinates
from plumbstar.sky.lists import towns
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def coached(text: str, town: str, day: str, now: Instant) -> CoachAnswer:
    """Of somebody else's telescope nothing is known: a plain kit stands for it.

    ``town``: theirs, or coordinates; empty where it is not known; ``day``: the date of their
    evening, empty for this one. Raises :class:`UserError` for a town or a date that is none,
    never for the message.
    """
    site, place, zone = _where(town.strip())
    at = Circumstances(site, *_when(day.strip(), now), zone)
    message, kit = read_message(text), Kit()
    priors, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    found = follow(message, at, priors, noise, kit)
    said = judged(found.message.numbers, at, priors, noise, kit)
    reply = (
        say.about_numbers(found, said, together(said, priors, noise, kit))
        if said
        else say.answer(found, at)
    )
    return CoachAnswer(
        reply=reply, understood=tuple(say.understood(found)), place=place, asks=found.ask.value
    )


def _where(town: str) -> tuple[Site | None, str, str | None]:
    """The site, what it is called, the zone of its clocks."""
    if not town:
        return None, "", None
    if any(c.isdigit() for c in town):  # no town's name has figures
        site = Site.parse(town)
        zone = towns.load().zone_at(site.lat_deg, site.lon_deg)
        return site, coordinates.words(site.lat_deg, site.lon_deg), zone or None
    found = towns.find(town, 1)[0]
    return Site(found.lat_deg, found.lon_deg, 0.0), found.label, found.time_zone


def _when(day: str, now: Instant) -> tuple[Instant, bool, bool]:
    """The evening, that it is a whole one, and that it was said: a message is of some evening, not
    of this moment."""
    if not day:
        return Instant.parse(now.iso()[:10]), True, True
    if _DAY.fullmatch(day) is None:
        raise UserError(f"the date '{day[:20]}'", "year-month-day", "For example 2027-01-28")
    return Instant.parse(day), True, True
