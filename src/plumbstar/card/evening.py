"""The evening's times: Sun, twilight, Moon, and from when to when stars can be sighted."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from plumbstar.card.model import Moment
from plumbstar.choose.candidates import when_to_sight
from plumbstar.guide.sun import SUN_UP_DEG
from plumbstar.sky.bodies import Body, illuminated_fraction, sun_altitude
from plumbstar.sky.events import Event, Night, night, rise_and_set
from plumbstar.sky.local_time import local
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import words

_DAY_S = 86400.0
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class EveningTimes:
    """The times in order, a sentence on the Moon, and the span in which stars may be sighted.

    ``anchor`` is a moment of the evening itself, for the date. ``first`` is None where the Sun
    does not set, and then ``reason`` says so.
    """

    anchor: Instant
    moments: tuple[Moment, ...]
    sky: str
    first: Instant | None
    last: Instant
    reason: str = ""


def evening(asked: Instant, site: Site, zone: str = "") -> EveningTimes:
    """The night under way at ``asked``, or if the Sun is up then, the coming one.

    ``zone`` is that of the times in its sentence (local_time).
    """
    down = float(np.degrees(sun_altitude(asked, site))) <= SUN_UP_DEG
    start = noon_before(asked, site.lon_deg) if down else asked
    n = night(start, site)
    sunset = n.sunset.instant
    if sunset is None:  # polar day or night: the day round the moment asked for
        start = asked
    begin = sunset or start
    end = n.sunrise.instant or begin.plus_seconds(_DAY_S)
    moonrise, moonset = rise_and_set(Body("Moon"), begin, site)
    first, reason = _first(n, asked, begin, site)
    last = n.civil_dawn.instant or end
    if first is not None and last < first:
        last = end
    return EveningTimes(
        anchor=begin,
        moments=_moments(n, moonrise, moonset, end),
        sky=_sky(begin, end, moonrise, moonset, site, zone),
        first=first,
        last=last,
        reason=reason,
    )


#: Between the first stars and the first target: two stars are found, sighted and judged. Judgement.
SIGHTING_MINUTES = 15.0


def looking(e: EveningTimes, asked: Instant, hours: float) -> tuple[Instant, Instant] | None:
    """From when to when targets are looked at: ``hours`` from the first stars on, dawn at most.

    None where the Sun does not set. When the night was under way as asked, no time is set aside
    for the first stars: they have been sighted.
    """
    if e.first is None:
        return None
    end = min(e.last, e.first.plus_seconds(3600.0 * hours))
    start = e.first if e.first == asked else e.first.plus_seconds(60.0 * SIGHTING_MINUTES)
    return (start, end) if start < end else None


def noon_before(instant: Instant, lon_deg: float) -> Instant:
    """The last noon of mean solar time at that longitude."""
    noon = (0.5 - lon_deg / 360.0) % 1.0
    return instant.plus_seconds(-((instant.jd2 - noon) % 1.0) * _DAY_S)


def night_of(instant: Instant, lon_deg: float) -> tuple[dt.date, str]:
    """The evening's date at that longitude (mean solar time), and "28 to 29 January 2027".

    ``instant`` is one of the night's evening, before midnight there. The Sun's own time is used
    because a date in UTC would be a day off where the evening falls across midnight UTC.
    """
    here = instant.plus_seconds(lon_deg / 360.0 * 86400.0)
    first = dt.date.fromisoformat(here.iso()[:10])
    second = first + dt.timedelta(days=1)
    start = f"{first.day}"
    if first.month != second.month:
        start += f" {_MONTHS[first.month - 1]}"
    if first.year != second.year:
        start += f" {first.year}"
    return first, f"{start} to {second.day} {_MONTHS[second.month - 1]} {second.year}"


def _first(n: Night, asked: Instant, begin: Instant, site: Site) -> tuple[Instant | None, str]:
    """From when to sight: dusk, or the moment asked for when the night is under way by then."""
    first = n.civil_dusk.instant or when_to_sight(begin, site)
    if first < asked and float(np.degrees(sun_altitude(asked, site))) <= -6.0:
        first = asked
    if float(np.degrees(sun_altitude(first, site))) > SUN_UP_DEG:
        reason = n.sunset.reason or "the Sun does not set"
        return None, f"{words.upper_first(reason)}: no stars to sight."
    return first, ""


def _moments(n: Night, moonrise: Event, moonset: Event, end: Instant) -> tuple[Moment, ...]:
    """In the order in which they come; those that do not come stay in their usual place."""
    rows = [
        ("sunset", "Sunset", "", n.sunset),
        ("civil_dusk", "Civil dusk", "the brightest stars show", n.civil_dusk),
        ("nautical_dusk", "Nautical dusk", "stars to sight by", n.nautical_dusk),
        ("astronomical_dusk", "Astronomical dusk", "fully dark", n.astronomical_dusk),
        ("astronomical_dawn", "Astronomical dawn", "dark no longer", n.astronomical_dawn),
        ("nautical_dawn", "Nautical dawn", "", n.nautical_dawn),
        ("civil_dawn", "Civil dawn", "", n.civil_dawn),
        ("sunrise", "Sunrise", "telescope covered", n.sunrise),
    ]
    out = [Moment(k, what, means, e.instant, e.reason, e.stays_below) for k, what, means, e in rows]
    for key, what, event in (("moonrise", "Moonrise", moonrise), ("moonset", "Moonset", moonset)):
        if event.instant is None or event.instant > end:
            continue  # the sentence on the sky tells of it
        at = next(
            (i for i, m in enumerate(out) if m.instant is not None and m.instant > event.instant),
            len(out),
        )
        out.insert(at, Moment(key, what, "", event.instant))
    return tuple(out)


def _sky(
    begin: Instant, end: Instant, moonrise: Event, moonset: Event, site: Site, zone: str
) -> str:
    """The Moon in a sentence: how much of it is lit, and when it is up in that night."""
    moon = Body("Moon")
    lit = illuminated_fraction(moon, begin.plus_seconds(end.minus(begin) / 2.0))
    up = place_of(moon, begin, site)[1] > 0.0
    rises = moonrise.instant if moonrise.instant and moonrise.instant < end else None
    sets = moonset.instant if moonset.instant and moonset.instant < end else None
    if rises and sets:
        if rises < sets:
            when = f"up from {local(rises, zone)} to {local(sets, zone)}"
        else:
            when = f"up until {local(sets, zone)} and again from {local(rises, zone)}"
    elif rises:
        when = f"up from {local(rises, zone)}"
    elif sets:
        when = f"up until {local(sets, zone)}"
    else:
        when = "up all night" if up else "down all night"
    return f"Moon {words.lit(lit)}, {when}."
