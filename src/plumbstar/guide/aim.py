"""From a reading to what is left to push: the arithmetic of every tick, frozen for the stream.

The evening makes a new :class:`Aim` at each change; the stream only reads it. Nothing here waits.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from plumbstar.contract.reading import FieldOffset, PushLeft, ReadingRecord
from plumbstar.encoders.reading import Reading
from plumbstar.guide.course import Course
from plumbstar.guide.stops import place_stop
from plumbstar.guide.sun import SUN_UP_DEG, Ban, Banned, Spot, banned, reach_deg
from plumbstar.guide.way import way_banned
from plumbstar.mount import kinematics
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.units import Array

#: A push of this length or more takes the kit's whole push time; a shorter one its share. Common
#: practice, no source. At the end of a push nothing is left to be allowed for.
LONG_PUSH_DEG = 30.0
#: The sound begins to rise within this distance.
HEARD_FROM_DEG = 30.0


@dataclass(frozen=True, eq=False)
class Aim:
    """What a push needs: the fix, the target's and the Sun's course, the field; see Evening.

    ``stop_deg`` is the present stop of a sweep, (right, up) from the target's predicted place.
    ``doubted``: the Sun by the other clocks known, each as its course and by how many seconds that
    clock is ahead; by day the tube is kept away from all of them.
    """

    fix: Fix | None = None
    course: Course | None = None
    sun: Course | None = None
    field_deg: float = 1.0
    push_seconds: float = 20.0
    filter_confirmed: bool = False
    stop_deg: tuple[float, float] | None = None
    refused: bool = False
    doubted: tuple[tuple[Course, float], ...] = ()

    @property
    def place(self) -> str:
        """A name for what it leads to, target and stop: what is left to push to one place says
        nothing of another. Empty without a target."""
        if self.course is None:
            return ""
        stop = "" if self.stop_deg is None else "{:+.4f}{:+.4f}".format(*self.stop_deg)
        return f"{self.course.target.key}{stop}"


@dataclass(frozen=True, slots=True)
class Left:
    """What is left to do from one reading, degrees and seconds; offsets on the sky."""

    push_az_deg: float
    push_alt_deg: float
    seconds: float
    right_deg: float
    up_deg: float
    in_field: bool
    beep: float


def left_from(aim: Aim, az_deg: float, alt_deg: float, now: Instant) -> Left | None:
    """What is left from a reading; None without a fix or target, or while the Sun forbids the place
    or the way there."""
    if aim.fix is None or aim.course is None or aim.refused:
        return None
    if way_there(aim, az_deg, alt_deg, now) is not None:
        return None
    tube = aim.fix.direction_of(az_deg, alt_deg)
    target = aim.course.direction(now)
    goal = place_stop(target, aim.stop_deg)
    apart = math.degrees(_angle(tube, goal))
    seconds = aim.push_seconds * min(1.0, apart / LONG_PUSH_DEG)
    later = place_stop(aim.course.direction(now.plus_seconds(seconds)), aim.stop_deg)
    to_az, to_alt = aim.fix.reading_of(later, az_deg).tolist()
    right, up = _offset(tube, target)
    radius = aim.field_deg / 2.0
    return Left(
        to_az - az_deg,
        to_alt - alt_deg,
        seconds,
        right,
        up,
        apart <= radius,
        _beep(apart, radius),
    )


def _angle(a: Array, b: Array) -> float:
    return 2.0 * math.atan2(float(np.linalg.norm(a - b)), float(np.linalg.norm(a + b)))


def _offset(tube: Array, target: Array) -> tuple[float, float]:
    """Target minus tube on the sky, (right, up) degrees, along the great circle between them."""
    basis = kinematics.tangent_basis(*kinematics.az_alt(tube))
    across = basis @ target
    size = float(np.linalg.norm(across))
    scale = math.degrees(_angle(tube, target)) / size if size > 1e-12 else 0.0
    return float(across[0]) * scale, float(across[1]) * scale


def _beep(apart_deg: float, radius_deg: float) -> float:
    """0 far away, 1 at the centre, even steps for each halving of the distance."""
    near = max(radius_deg / 4.0, 1e-6)
    if apart_deg <= near:
        return 1.0
    return max(0.0, 1.0 - math.log(apart_deg / near) / math.log(HEARD_FROM_DEG / near))


def moments(aim: Aim, now: Instant) -> tuple[Instant, Instant]:
    """A push's start and end: a long one at sunrise may have the Sun up at its end only."""
    return now, now.plus_seconds(aim.push_seconds)


def suns_at(aim: Aim, t: Instant) -> tuple[Spot, ...]:
    """Where the Sun is then; by day also where the other clocks known put it."""
    if aim.sun is None:
        return ()
    sun = aim.sun.az_alt_deg(t)
    if sun[1] <= SUN_UP_DEG:
        return (sun,)
    return (sun, *(c.az_alt_deg(t.plus_seconds(ahead)) for c, ahead in aim.doubted))


def place_banned(aim: Aim, course: Course, now: Instant) -> Banned | None:
    """Why the Sun forbids a target now, whatever is searched for; None if it does not."""
    return _banned(aim, course, None, now)


def aim_banned(aim: Aim, course: Course, now: Instant) -> Banned | None:
    """The same for the target followed, with the stop of its search where there is one."""
    at_target = _banned(aim, course, None, now)
    if at_target is not None or aim.stop_deg is None:
        return at_target
    return _banned(aim, course, aim.stop_deg, now)


def _banned(
    aim: Aim, course: Course, stop_deg: tuple[float, float] | None, now: Instant
) -> Banned | None:
    if aim.sun is None:
        return None
    for t in moments(aim, now):
        place = spot(place_stop(course.direction(t), stop_deg))
        reach = reach_deg(aim.fix, *place, aim.field_deg)
        near = Ban.TARGET if stop_deg is None else Ban.STOP
        for sun in suns_at(aim, t):
            found = banned(place, sun, aim.filter_confirmed, reach, near)
            if found is not None:
                return found
    return None


def way_there(aim: Aim, az_deg: float, alt_deg: float, now: Instant) -> Banned | None:
    """Whether the push from a reading to the aim may pass the Sun; None if not, or without aim.

    To where the aim is at the push's start and at its end, past the Sun of both.
    """
    if aim.fix is None or aim.course is None or aim.sun is None:
        return None
    both = moments(aim, now)
    suns = [sun for t in both for sun in suns_at(aim, t) if sun[1] > SUN_UP_DEG]
    if not suns:
        return None
    goals = [place_stop(aim.course.direction(t), aim.stop_deg) for t in both]
    ends = [aim.fix.reading_of(goal, az_deg).tolist() for goal in goals]
    for (to_az, to_alt), sun in itertools.product(ends, suns):
        found = way_banned(aim.fix, (az_deg, alt_deg), (to_az, to_alt), sun, aim.field_deg)
        if found is not None:
            return found
    return None


def spot(direction: Array) -> Spot:
    """A direction (3,) as azimuth and altitude, degrees."""
    az, alt = np.degrees(kinematics.az_alt(direction))
    return float(az), float(alt)


def reading_event(
    reading: Reading,
    left: Left | None,
    now: Instant,
    monotonic: float,
    sun_bars: bool = False,
    place: str = "",
) -> ReadingRecord:
    """The stream's reading, with what is left to push. ``sun_bars``: the way passes the Sun;
    ``place``: the aim's."""
    here = reading.state != "absent"
    return ReadingRecord(
        az_reading_deg=_round(reading.az_deg, 4),
        alt_reading_deg=_round(reading.alt_deg, 4),
        state=reading.state,
        age_s=round(max(0.0, monotonic - reading.at_monotonic), 1) if here else None,
        slip=reading.slip,
        problem=reading.problem,
        unix_ms=round(now.to_unix() * 1000.0),
        push=None
        if left is None
        else PushLeft(
            az_deg=round(left.push_az_deg, 4),
            alt_deg=round(left.push_alt_deg, 4),
            seconds=round(left.seconds, 1),
        ),
        offset=None
        if left is None
        else FieldOffset(right_deg=round(left.right_deg, 4), up_deg=round(left.up_deg, 4)),
        in_field=left is not None and left.in_field,
        beep=None if left is None else round(left.beep, 3),
        sun_bars=sun_bars,
        place=place,
    )


def _round(x: float | None, digits: int) -> float | None:
    return None if x is None else round(x, digits)
