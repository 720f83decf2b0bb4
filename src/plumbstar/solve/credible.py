"""Can a press be what it says: this star, centred, at these readings?

Asked of a sighting before it is saved. What the fix leaves open, what was believed of the mount
beforehand, and a base knocked as far as it may lean are all allowed for: those the fix finds out by
itself. Beyond them it is another star, a reading that did not follow, or a slip, and the observer,
whose eye is still at the eyepiece, knows which.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import Cut
from plumbstar.mount.terms import INDEX
from plumbstar.sky.angles import offset_rad, separation_rad
from plumbstar.solve.epochs import freed
from plumbstar.solve.fix import Fix, solve

#: So many sigma from where it may be, it cannot be: by chance one press in 3,000 (exp(-4^2 / 2), a
#: normal law in two dimensions). Common practice, no source.
BEYOND = 4.0
#: As near as this, in sigma, to where one star alone has it, it bears that star out against the
#: fix: 96 in 100 do of those that follow a wrong star. Common practice, no source.
BEARS_OUT = 2.5
#: Readings nearer to one another than this are the same, degrees. Common practice, no source.
SAME_DEG = 0.2
#: So many earlier sightings settle the mount well enough to judge the next.
ENOUGH = 12


@dataclass(frozen=True)
class FarOff:
    """The reading is ``off_deg`` from where it should be, and at most ``bound_deg`` can be.

    ``points_az_deg``, ``points_alt_deg``: where the tube pointed by the best that is known, true
    (azimuth nan before any star); ``stood_alt_deg``: how high the named star stood.
    ``altitude_only``: nothing is known of the azimuth yet. ``same_as``: the index of the earlier
    sighting that has the same reading and is of something else, or None.
    """

    off_deg: float
    bound_deg: float
    altitude_only: bool
    same_as: int | None
    points_az_deg: float
    points_alt_deg: float
    stood_alt_deg: float


def far_off(
    tap: Sighting,
    fix: Fix | None,
    beforehand: Priors,
    noise: Noise,
    field_deg: float,
    earlier: Sequence[Sighting] = (),
) -> FarOff | None:
    """Why the sighting cannot be what it says, or None when it can.

    ``fix``: of the sightings before it, None before the first one or when they tell nothing.
    ``beforehand``: what was believed before the evening; its lean is how far a knock may tip the
    base. ``earlier``: all sightings before it, oldest first; what agrees with one of the last
    two alone is credible, so that nobody is asked again after a slip that was answered for, nor
    after a wrong star. Somewhere in the field of ``field_deg`` is always credible.
    """
    knock = float(max(beforehand.sigma[INDEX[n]] for n in ("lean_north", "lean_west")))
    fixes = [fix] if fix is not None and not fix.contradictory else []
    alone = BEARS_OUT if fixes else BEYOND
    fixes += [solve([s], beforehand, noise, find_bad=False) for s in earlier[-2:]]
    ways = [_from_the_fix(tap, f, knock) for f in fixes]
    if not ways:
        ways = [_in_altitude(tap, beforehand, noise, knock)]
    bounds = [
        (alone if k else BEYOND) * sigma + math.radians(field_deg) / 2.0
        for k, (_, sigma) in enumerate(ways)
    ]
    if not all(off > bound for (off, _), bound in zip(ways, bounds, strict=True)):
        return None
    (off, _), bound = ways[0], bounds[0]
    if fixes:
        points = fixes[0].pointing_of(tap.az_reading_deg, tap.alt_reading_deg)
    else:
        zero = math.degrees(float(beforehand.mean[INDEX["altitude_zero"]]))
        points = np.array([math.nan, tap.alt_reading_deg + zero])
    same = [k for k, s in enumerate(earlier) if _same_reading(s, tap, bound)]
    return FarOff(
        *(math.degrees(off), math.degrees(bound), not fixes, same[-1] if same else None),
        *(float(points[0]), float(points[1]), tap.true_alt_deg),
    )


def those_far_off(
    sightings: Sequence[Sighting],
    beforehand: Priors,
    noise: Noise,
    field_deg: float,
    slips: Sequence[Cut] = (),
    start: int = 0,
) -> list[tuple[int, FarOff]]:
    """Which of an evening's sightings from index ``start`` on, by index, cannot be what they say,
    each judged by those before it.

    ``slips``: where something moved, as :func:`plumbstar.solve.epochs.solve_parts` takes them. What
    came before one tells nothing of what comes after it here, and the first one after it can be
    anywhere: it settles the slip.
    """
    out = []
    for k, tap in enumerate(sightings[start:], start):
        since = max((n for n, _ in slips if n <= k), default=0)
        earlier = sightings[max(since, k - ENOUGH) : k]
        if since and not earlier:
            continue
        belief = freed(
            beforehand, [axis for n, axes in slips if n <= k for axis in axes], beforehand
        )
        far = far_off(tap, None, belief, noise, field_deg, earlier)
        if far is not None and earlier:  # only then the slower look, at all of them together
            far = far_off(tap, solve(earlier, belief, noise), belief, noise, field_deg, earlier)
        if far is not None:
            same = None if far.same_as is None else far.same_as + k - len(earlier)
            out.append((k, replace(far, same_as=same)))
    return out


def _from_the_fix(tap: Sighting, fix: Fix, knock: float) -> tuple[float, float]:
    """How far the tube points from the star by the fix, and one sigma that way, radians."""
    az, alt = math.radians(tap.true_az_deg), math.radians(tap.true_alt_deg)
    points = np.radians(fix.pointing_of(tap.az_reading_deg, tap.alt_reading_deg))
    off = offset_rad(az, alt, points[0], points[1])
    far = float(np.hypot(*off))
    if far == 0.0:
        return 0.0, knock
    covariance = fix.pointing_covariance(np.array(az), np.array(alt), tap.az_reading_deg)
    way = off / far
    may = np.linalg.inv(covariance + knock**2 * np.eye(2))
    return far, 1.0 / math.sqrt(float(way @ may @ way))


def _in_altitude(tap: Sighting, prior: Priors, noise: Noise, knock: float) -> tuple[float, float]:
    """The same before any star: the altitude alone, over the zenith too."""
    alt = math.radians(tap.true_alt_deg)
    read = math.radians(tap.alt_reading_deg) + float(prior.mean[INDEX["altitude_zero"]])
    names = ("altitude_zero", "lean_north", "squareness", "cone", "droop")
    sigmas = [float(prior.sigma[INDEX[name]]) for name in names]
    variance = float(noise.variances(np.array(alt))[..., 1])
    off = min(abs(read - alt), abs(math.pi - read - alt))
    return off, math.hypot(knock, math.sqrt(variance), *sigmas)


def _same_reading(a: Sighting, b: Sighting, bound: float) -> bool:
    """The circles did not move, though the two stand further apart than can be."""
    readings = np.radians(
        [a.az_reading_deg, a.alt_reading_deg, b.az_reading_deg, b.alt_reading_deg]
    )
    places = np.radians([a.true_az_deg, a.true_alt_deg, b.true_az_deg, b.true_alt_deg])
    still = float(separation_rad(*readings)) < math.radians(SAME_DEG)
    return still and float(separation_rad(*places)) > bound
