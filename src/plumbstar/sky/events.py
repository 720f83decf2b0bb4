"""Rising, highest and setting; twilight; and why there is none of it at some places.

Rising and setting are of the centre for stars, planets and deep-sky objects, and of the upper limb
for Sun and Moon, over a level horizon (``horizon_deg`` raises it), with 34 arcmin of refraction at
the horizon: the almanacs' convention (Explanatory Supplement to the Astronomical Almanac, 3rd ed.,
section 12.1, memory), chosen over the site's own air because horizontal refraction varies by
several arcminutes from night to night anyway: 20 s of time at mid latitudes, minutes near the
poles. Twilight counts the Sun's centre without air: -6 civil, -12 nautical, -18 deg astronomical.

Times are good to a few seconds for stars and planets as functions of the stated convention.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbstar.sky.bodies import Body, semidiameter_rad
from plumbstar.sky.frame import frame
from plumbstar.sky.places import Target, place_in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

Array = NDArray[np.float64]

#: Refraction at the horizon, by convention.
HORIZON_REFRACTION_DEG = 34.0 / 60.0
#: The Sun's centre, degrees, at the darker edge of each twilight.
TWILIGHTS = {"civil": -6.0, "nautical": -12.0, "astronomical": -18.0}

_DAY_S = 86400.0
# The Moon's transits lie up to 25.2 h apart, and its risings; a day and a bit catches one of each.
_SPAN_S = 25.5 * 3600.0
_STEP_S = 600.0


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happens, or the plain reason why it does not.

    ``what`` is "rise", "transit", "set", or for the Sun "dusk"/"dawn" with a twilight's name;
    ``instant`` is None when it does not happen in the span, and then ``reason`` says why.
    """

    what: str
    instant: Instant | None
    reason: str = ""


def _height(target: Target, site: Site, horizon_deg: float) -> Callable[[Array, Instant], Array]:
    """Height (rad) over the stated horizon, as a function of seconds after a start."""

    def height(seconds: Array, start: Instant) -> Array:
        f = frame([start.plus_seconds(float(s)) for s in np.atleast_1d(seconds)], site)
        _, alt = place_in_frame(target, f, airless=True)
        h = alt - np.radians(horizon_deg - HORIZON_REFRACTION_DEG)
        if isinstance(target, Body):
            h = h + semidiameter_rad(target, f)
        return np.asarray(h)

    return height


def _crossings(
    h: Callable[[Array, Instant], Array], start: Instant, span_s: float
) -> tuple[list[float], list[float], Array]:
    """Seconds after ``start`` of upward and of downward crossings of zero, and the samples."""
    seconds = np.arange(0.0, span_s + _STEP_S, _STEP_S)
    values = h(seconds, start)
    up = np.nonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))[0]
    down = np.nonzero((values[:-1] >= 0.0) & (values[1:] < 0.0))[0]
    # A body that grazes the horizon may cross twice between two samples: look closer at any
    # sample that is a local extreme within 0.5 deg of zero.
    rises = _refine(h, start, seconds[up], seconds[up + 1])
    sets = _refine(h, start, seconds[down], seconds[down + 1])
    for i in range(1, len(values) - 1):
        top = values[i] >= values[i - 1] and values[i] >= values[i + 1]
        bottom = values[i] <= values[i - 1] and values[i] <= values[i + 1]
        graze = abs(values[i]) < np.radians(0.5)
        if graze and ((top and values[i] < 0.0) or (bottom and values[i] >= 0.0)):
            fine = np.arange(seconds[i - 1], seconds[i + 1] + 1.0, 20.0)
            v = h(fine, start)
            for k in np.nonzero((v[:-1] < 0.0) & (v[1:] >= 0.0))[0]:
                rises.append(float(fine[k]) + 10.0)
            for k in np.nonzero((v[:-1] >= 0.0) & (v[1:] < 0.0))[0]:
                sets.append(float(fine[k]) + 10.0)
    return sorted(rises), sorted(sets), values


def _refine(
    h: Callable[[Array, Instant], Array], start: Instant, low: Array, high: Array
) -> list[float]:
    """Bisect each bracket to 0.1 s (13 halvings of 600 s), all of them at once."""
    low, high = low.copy(), high.copy()
    if low.size == 0:
        return []
    before = h(low, start) < 0.0
    for _ in range(13):
        mid = (low + high) / 2.0
        same = (h(mid, start) < 0.0) == before
        low, high = np.where(same, mid, low), np.where(same, high, mid)
    return [float(x) for x in (low + high) / 2.0]


def _why_not(target: Target, values: Array, span_s: float) -> str:
    who = "the " + target.label if target.label in ("Sun", "Moon") else target.label
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


def rise_and_set(
    target: Target, start: Instant, site: Site, horizon_deg: float = 0.0
) -> tuple[Event, Event]:
    """The next rising and the next setting within 25.5 hours after ``start``."""
    rises, sets, values = _crossings(_height(target, site, horizon_deg), start, _SPAN_S)
    found = []
    for what, times in (("rise", rises), ("set", sets)):
        if times:
            found.append(Event(what, start.plus_seconds(times[0])))
        else:
            found.append(Event(what, None, _why_not(target, values, _SPAN_S)))
    return found[0], found[1]


def transit(target: Target, start: Instant, site: Site) -> Event:
    """The next moment within 25.5 hours at which the target crosses the meridian at its highest.

    At a pole nothing crosses a meridian in any sense that matters: instant None, with the reason.
    """
    if abs(site.lat_deg) > 89.9:
        return Event("transit", None, "at the pole everything keeps its height all day")

    def hour_angle(seconds: Array, start: Instant) -> Array:
        """Sine-like measure of the hour angle, rad, -pi to pi; zero at upper transit."""
        f = frame([start.plus_seconds(float(s)) for s in np.atleast_1d(seconds)], site)
        az, alt = place_in_frame(target, f, airless=True)
        phi = np.radians(site.lat_deg)
        # Spherical triangle pole-zenith-star, solved for the hour angle.
        y = -np.sin(az) * np.cos(alt)
        x = np.sin(alt) * np.cos(phi) - np.cos(alt) * np.cos(az) * np.sin(phi)
        return np.asarray(np.arctan2(y, x))

    seconds = np.arange(0.0, _SPAN_S + _STEP_S, _STEP_S)
    values = hour_angle(seconds, start)
    k = np.nonzero((values[:-1] < 0.0) & (values[1:] >= 0.0) & (values[1:] < 1.0))[0]
    if k.size == 0:
        return Event("transit", None, f"{target.label} does not cross the meridian in that time")
    times = _refine(hour_angle, start, seconds[k[:1]], seconds[k[:1] + 1])
    return Event("transit", start.plus_seconds(times[0]))


def sun_crossings(start: Instant, site: Site, altitude_deg: float) -> tuple[Event, Event]:
    """The next moments (sinking, climbing) at which the Sun's centre passes ``altitude_deg``.

    Without air. Events "dusk" and "dawn"; None with the reason where the Sun stays on one side.
    """

    def height(seconds: Array, start: Instant) -> Array:
        f = frame([start.plus_seconds(float(s)) for s in np.atleast_1d(seconds)], site)
        return np.asarray(
            place_in_frame(Body("Sun"), f, airless=True)[1] - np.radians(altitude_deg)
        )

    span = _DAY_S + 1800.0
    rises, sets, values = _crossings(height, start, span)
    if np.all(values >= 0.0):
        reason = f"the Sun stays above {altitude_deg:g}° for the next day"
    else:
        reason = f"the Sun stays below {altitude_deg:g}° for the next day"
    return (
        Event("dusk", start.plus_seconds(sets[0])) if sets else Event("dusk", None, reason),
        Event("dawn", start.plus_seconds(rises[0])) if rises else Event("dawn", None, reason),
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
        # White night: the Sun dips but not so far before it rises again.
        dusks[name] = Event(f"{name} dusk", dusk.instant, dusk.reason)
        dawns[name] = Event(f"{name} dawn", dawn.instant, dawn.reason)
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
