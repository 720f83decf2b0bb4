"""The push: how far left or right, up or down, from here; and the sweep when it is not there."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from plumbstar.contract.answers.pointing import PushNumbers
from plumbstar.errors import UserError
from plumbstar.guide.snag import Snag, snags
from plumbstar.guide.sun import (
    SUN_KEEP_OUT_DEG,
    SUN_UP_DEG,
    Ban,
    Banned,
    apart_deg,
    check_sun,
    reach_deg,
)
from plumbstar.guide.way import way_banned
from plumbstar.sky.skyline import Skyline
from plumbstar.solve.fix import Fix
from plumbstar.solve.since import NEXT_PUSH
from plumbstar.turns import line_deg

#: A place in the sky against time: seconds from now -> true azimuth and altitude, degrees.
Path = Callable[[float], tuple[float, float]]

#: Lower than this nothing is pushed to, degrees.
DOWN_DEG = -1.0
#: A day and night, every half hour, seconds from now.
_A_DAY = range(0, 86400, 1800)


class Push(PushNumbers, frozen=True, kw_only=True):
    """One instruction. ``skyline_deg``: its height at the target's azimuth, where one is known;
    ``limits_deg``: from where to where the tube moves up and down.
    """

    snags: tuple[Snag, ...] = ()
    skyline_deg: float | None = None
    limits_deg: tuple[float, float] = (0.0, 90.0)


def below_horizon(target: str, path: Path, sun: Path, seconds: float = 0.0) -> UserError:
    """That it is down at that moment, and whether to wait for it; ``path`` and ``sun`` as of
    :func:`push`."""
    az, alt = path(seconds)
    # "Come back when it has risen" is no advice for the Sun, or for what stands near it.
    if apart_deg(az, alt, *sun(seconds)) < SUN_KEEP_OUT_DEG:
        then = "Choose another"
    elif max(path(s)[1] for s in _A_DAY) < 0.0:
        then = "Choose another: from here it never rises"
    else:
        then = "Choose another, or come back when it has risen"
    return UserError(f"{target} is {-alt:.0f} degrees below the horizon", "", then)


def push(
    fix: Fix,
    target: str,
    path: Path,
    az_reading_deg: float,
    alt_reading_deg: float | None,
    field_deg: float,
    *,
    sun: Path,
    filter_confirmed: bool = False,
    seconds: float = 20.0,
    skyline: Skyline | None = None,
    min_alt_deg: float = 0.0,
    max_alt_deg: float = 90.0,
    still: float = NEXT_PUSH,
    way_checked: bool = False,
) -> Push:
    """From a reading to a target's reading at the moment the push will end, the shorter way round.

    ``path`` and ``sun`` give true places (degrees) at a number of seconds from now;
    ``alt_reading_deg`` None: it is not known from where (then by night only). ``still``: the
    probability that nothing will have moved since the last sighting; ``way_checked``: whoever
    calls asks about the way, which need not end at the target (a search). Raises
    :class:`SunRefusal` near the Sun, by day, or where the way there may pass it, with the whole
    field and the fix's doubt; and UserError for a target below the horizon.
    """
    # A long push at sunset or sunrise: the Sun may be up at one end of it only.
    for moment in (0.0, seconds):
        place = path(moment)
        reach = reach_deg(fix, *place, field_deg, az_reading_deg)
        check_sun(*place, *sun(moment), filter_confirmed, reach)
    az, alt = path(seconds)
    if alt < DOWN_DEG:
        raise below_horizon(target, path, sun, seconds)
    to_az, to_alt = fix.reading_for(az, alt, near_az_deg=az_reading_deg)
    for moment in (0.0, seconds):
        if sun(moment)[1] <= SUN_UP_DEG:
            continue
        if alt_reading_deg is None:
            raise Banned(Ban.WAY_UNKNOWN).refusal()
        if way_checked:
            break
        goal = (float(to_az), float(to_alt))
        barred = way_banned(fix, (az_reading_deg, alt_reading_deg), goal, sun(moment), field_deg)
        if barred is not None:
            raise barred.refusal()
    cov = fix.pointing_covariance(np.radians(az), np.radians(alt), az_reading_deg)
    chance = still * float(fix.hit_chance(az, alt, field_deg, az_reading_deg))
    values, vectors = np.linalg.eigh(cov)
    major = vectors[:, 1]
    horizon = float(skyline.altitude_deg(az)) if skyline is not None else None
    return Push(
        target=target,
        to_az_deg=float(to_az),
        to_alt_deg=float(to_alt),
        push_az_deg=float(to_az - az_reading_deg),
        push_alt_deg=float(to_alt - (alt_reading_deg or 0.0)),
        target_az_deg=az,
        target_alt_deg=alt,
        hit_chance=chance,
        field_deg=field_deg,
        patch_major_deg=math.degrees(math.sqrt(values[1])),
        patch_minor_deg=math.degrees(math.sqrt(max(values[0], 0.0))),
        patch_angle_deg=line_deg(math.degrees(math.atan2(major[1], major[0]))),
        seconds=seconds,
        snags=tuple(snags(alt, horizon, (min_alt_deg, max_alt_deg))),
        skyline_deg=horizon,
        limits_deg=(min_alt_deg, max_alt_deg),
    )
