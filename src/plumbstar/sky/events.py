"""Rising and setting; twilight; and why there is none of it at some places.

Rising and setting are of the centre for stars, planets and deep-sky objects, and of the upper limb
for Sun and Moon, over a level horizon, with 34 arcmin of refraction there: the almanacs' convention
(Explanatory Supplement to the Astronomical Almanac, 3rd ed., section 12.1, memory), chosen over the
site's own air because horizontal refraction varies by several arcminutes from night to night
anyway: 20 s of time at mid latitudes, minutes near the poles. Twilight counts the Sun's centre
without air: -6 civil, -12 nautical, -18 deg astronomical.

Times are good to a few seconds for stars and planets as functions of the stated convention.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from plumbstar.sky.bodies import Body, semidiameter_rad
from plumbstar.sky.frame import frame
from plumbstar.sky.places import Target, place_in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import words
from plumbstar.units import Array, Indices

#: A height in radians (n,) as a function of seconds (n,) after some start.
Height = Callable[[Array], Array]

#: Refraction at the horizon, by convention.
HORIZON_REFRACTION_DEG = 34.0 / 60.0
#: The Sun's centre, degrees, at the darker edge of each twilight.
TWILIGHTS = {"civil": -6.0, "nautical": -12.0, "astronomical": -18.0}

_DAY_S = 86400.0
# The Moon's risings lie up to 25.2 h apart: a day and a bit catches one.
_SPAN_S = 25.5 * 3600.0
_STEP_S = 600.0


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happens, or the plain reason why it does not.

    ``what`` is "rise", "set", or for the Sun "dusk"/"dawn" with a twilight's name;
    ``instant`` is None when it does not happen in the span, and then ``reason`` says why.
    """

    what: str
    instant: Instant | None
    reason: str = ""
    #: Why it does not happen: the body stands below that height all the time.
    stays_below: bool = False


def _height(target: Target, start: Instant, site: Site, level_deg: float, *, limb: bool) -> Height:
    """Height (rad) without air over a level; ``limb``: of the upper limb of Sun and Moon."""

    def height(seconds: Array) -> Array:
        f = frame([start.plus_seconds(float(s)) for s in seconds], site)
        h = place_in_frame(target, f, airless=True)[1] - np.radians(level_deg)
        if limb and isinstance(target, Body) and target.name in ("Sun", "Moon"):
            h = h + semidiameter_rad(target, f)
        return np.asarray(h)

    return height


def _crossings(h: Height, span_s: float) -> tuple[list[float], list[float], Array]:
    """Seconds after the start of upward and of downward crossings of zero, and the samples."""
    seconds = np.arange(0.0, span_s + _STEP_S, _STEP_S)
    values = h(seconds)
    up, down = _changes(values)
    rises = _refine(h, seconds[up], seconds[up + 1])
    sets = _refine(h, seconds[down], seconds[down + 1])
    # A body that grazes the horizon may cross twice between two samples: look closer at any
    # sample that is a local extreme within 0.5 deg of zero.
    for i in range(1, len(values) - 1):
        top = values[i] >= values[i - 1] and values[i] >= values[i + 1]
        bottom = values[i] <= values[i - 1] and values[i] <= values[i + 1]
        graze = abs(values[i]) < np.radians(0.5)
        if graze and ((top and values[i] < 0.0) or (bottom and values[i] >= 0.0)):
            fine = np.arange(seconds[i - 1], seconds[i + 1] + 1.0, 20.0)
            up, down = _changes(h(fine))
            rises += [float(fine[k]) + 10.0 for k in up]
            sets += [float(fine[k]) + 10.0 for k in down]
    return sorted(rises), sorted(sets), values


def _changes(values: Array) -> tuple[Indices, Indices]:
    """The samples after which the sign turns to plus, and those after which to minus."""
    up = values >= 0.0
    return np.flatnonzero(~up[:-1] & up[1:]), np.flatnonzero(up[:-1] & ~up[1:])


def _refine(h: Height, low: Array, high: Array) -> list[float]:
    """Bisect each bracket to 0.1 s (13 halvings of 600 s), all of them at once."""
    if low.size == 0:
        return []
    before = h(low) < 0.0
    for _ in range(13):
        mid = (low + high) / 2.0
        same = (h(mid) < 0.0) == before
        low, high = np.where(same, mid, low), np.where(same, high, mid)
    return [float(x) for x in (low + high) / 2.0]


def _why_not(target: Target, values: Array, span_s: float) -> str:
    who = words.spoken(target.label)
    hours = round(span_s / 3600.0)
    if np.all(values >= 0.0):
        if target.label == "Sun":
            return f"the Sun stays up for the next {hours} hours (polar day)"
        return f"{who} stays above the horizon for the next {hours} hours"
    if np.all(values < 0.0):
        if target.label == "Sun":
            return f"the Sun stays down for the next {hours} hours (polar night)"
        return f"{who} stays below the horizon for the next {hours} hours"
    return f"{who} does not do so in the next {hours} hours"


def rise_and_set(target: Target, start: Instant, site: Site) -> tuple[Event, Event]:
    """The next rising and the next setting within 25.5 hours after ``start``."""
    height = _height(target, start, site, -HORIZON_REFRACTION_DEG, limb=True)
    rises, sets, values = _crossings(height, _SPAN_S)
    found = []
    for what, times in (("rise", rises), ("set", sets)):
        if times:
            found.append(Event(what, start.plus_seconds(times[0])))
        else:
            found.append(Event(what, None, _why_not(target, values, _SPAN_S)))
    return found[0], found[1]


def sun_crossings(start: Instant, site: Site, altitude_deg: float) -> tuple[Event, Event]:
    """The next moments (sinking, climbing) at which the Sun's centre passes ``altitude_deg``.

    Without air. Events "dusk" and "dawn"; None with the reason where the Sun stays on one side.
    """
    height = _height(Body("Sun"), start, site, altitude_deg, limb=False)
    rises, sets, values = _crossings(height, _DAY_S + 1800.0)
    below = not np.all(values >= 0.0)
    if not below:
        reason = f"the Sun stays above {altitude_deg:g}° for the next day"
    else:
        reason = f"the Sun stays below {altitude_deg:g}° for the next day"
    return (
        Event("dusk", start.plus_seconds(sets[0])) if sets else Event("dusk", None, reason, below),
        Event("dawn", start.plus_seconds(rises[0]))
        if rises
        else Event("dawn", None, reason, below),
    )


@dataclass(frozen=True, slots=True)
class Night:
    """The next sunset and what follows it; each Event may be None with its reason."""

    sunset: Event
    civil_dusk: Event
    nautical_dusk: Event
    astronomical_dusk: Event
    astronomical_dawn: Event
    nautical_dawn: Event
    civil_dawn: Event
    sunrise: Event


def night(start: Instant, site: Site) -> Night:
    """The evening and morning after the next sunset (or of the next day where the Sun never sets).

    Twilights are looked for after that sunset, so the events are in the order of one night. For
    the night already under way, start from the noon before.
    """
    _, sunset = rise_and_set(Body("Sun"), start, site)
    after = sunset.instant or start
    sunrise, _ = rise_and_set(Body("Sun"), after.plus_seconds(1.0), site)
    dusks, dawns = {}, {}
    for name, altitude in TWILIGHTS.items():
        dusk, dawn = sun_crossings(after, site, altitude)
        dusks[name] = Event(f"{name} dusk", dusk.instant, dusk.reason, dusk.stays_below)
        dawns[name] = Event(f"{name} dawn", dawn.instant, dawn.reason, dawn.stays_below)
    return Night(
        sunset,
        dusks["civil"],
        dusks["nautical"],
        dusks["astronomical"],
        dawns["astronomical"],
        dawns["nautical"],
        dawns["civil"],
        sunrise,
    )


def darkness(sun_alt_deg: float) -> str:
    """What kind of light it is for a Sun at that altitude (centre, without air): plain words."""
    if sun_alt_deg > -50.0 / 60.0:
        return "daylight"
    if sun_alt_deg > -6.0:
        return "bright twilight"
    if sun_alt_deg > -12.0:
        return "twilight"
    if sun_alt_deg > -18.0:
        return "almost dark"
    return "dark"
