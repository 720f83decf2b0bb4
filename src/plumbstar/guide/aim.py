"""From a reading to what is left to push: the arithmetic of every tick, frozen for the stream.

The evening makes a new :class:`Aim` at each change; the stream only reads it. Nothing here waits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.contract.reading import FieldOffset, PushLeft, ReadingRecord
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.guide.course import Course
from plumbstar.guide.sun import check_sun
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
    """

    fix: Fix | None = None
    course: Course | None = None
    sun: Course | None = None
    field_deg: float = 1.0
    push_seconds: float = 20.0
    filter_confirmed: bool = False
    stop_deg: tuple[float, float] | None = None
    refused: bool = False


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


def place_stop(direction: Array, stop_deg: tuple[float, float] | None) -> Array:
    """The direction (3,) of a sweep's stop beside a target's direction (3,)."""
    if stop_deg is None:
        return direction
    az, alt = kinematics.az_alt(direction)
    right, up = np.radians(stop_deg)
    basis = kinematics.tangent_basis(az, alt)
    far = math.hypot(right, up)
    # Along a great circle, so that far stops near the zenith are not squeezed.
    step = right * basis[0] + up * basis[1]
    out: Array = math.cos(far) * direction + (np.sinc(far / math.pi) * step)
    return out


def left_from(aim: Aim, az_deg: float, alt_deg: float, now: Instant) -> Left | None:
    """What is left from a reading; None without a fix or target, or while the Sun forbids it."""
    if aim.fix is None or aim.course is None or aim.refused:
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


def sun_sentence(aim: Aim, course: Course, now: Instant) -> str | None:
    """Why the Sun forbids this target now, or None. The push's end counts as well as its start."""
    if aim.sun is None:
        return None
    for ahead in (0.0, aim.push_seconds):
        t = now.plus_seconds(ahead)
        try:
            check_sun(*course.az_alt_deg(t), *aim.sun.az_alt_deg(t), aim.filter_confirmed)
        except UserError as e:
            return e.on_pages()
    return None


def reading_event(
    reading: Reading, left: Left | None, now: Instant, monotonic: float
) -> ReadingRecord:
    """The stream's reading, with what is left to push."""
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
    )


def _round(x: float | None, digits: int) -> float | None:
    return None if x is None else round(x, digits)
