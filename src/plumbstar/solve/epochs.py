"""Sightings on both sides of a slip: one zero was lost, everything else still holds.

After a slip the readings of one circle (or both) are off by an unknown constant. The lean of the
base, the cone, the squareness and the rest are what they were. So the evening is cut at each slip.
Each part is solved with, as its prior, what the part before it found, except that the zero of the
circle that slipped is free again; one sighting of any star then settles it.

What this gives away: the posterior of one part is handed on as independent terms (means and
sigmas), so its correlations are lost. That makes the next fix more careful, not less: correlated
errors that would have cancelled are added. Joining both parts in one solution with an unknown step
would keep them, at the price of a twelfth term that is free only sometimes.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from plumbstar.mount.priors import UNKNOWN, Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.since import last_contradicts

#: How far an altitude circle may have slipped, 1 sigma. A slip is anything; more would be seen.
ALTITUDE_SLIP = math.radians(20.0)


@dataclass(frozen=True)
class EpochFix:
    """The sightings between two slips, by index into the evening's, and their fix."""

    indices: tuple[int, ...]
    fix: Fix


def freed(priors: Priors, axes: Iterable[str], beforehand: Priors) -> Priors:
    """The same beliefs with the zeros of the circles that slipped forgotten.

    The axis "base": it stands anew, and leans as it may have leant ``beforehand``.
    """
    mean, sigma = priors.mean.copy(), priors.sigma.copy()
    for axis in axes:
        if axis == "azimuth":
            mean[INDEX["azimuth_zero"]], sigma[INDEX["azimuth_zero"]] = 0.0, UNKNOWN
        elif axis == "base":
            for name in ("lean_north", "lean_west"):
                i = INDEX[name]
                mean[i], sigma[i] = beforehand.mean[i], beforehand.sigma[i]
        else:
            i = INDEX["altitude_zero"]
            sigma[i] = math.hypot(sigma[i], ALTITUDE_SLIP)
    return Priors(mean, sigma)


def handed_on(fix: Fix, belief: Priors) -> Priors:
    """What the next part starts from: what this one found, or, where its sightings contradict one
    another, the ``belief`` that it started from itself."""
    return belief if fix.contradictory else Priors(fix.mean.copy(), fix.sigma.copy())


def solve_parts(
    sightings: Sequence[Sighting],
    priors: Priors,
    noise: Noise,
    slips: Sequence[tuple[int, tuple[str, ...]]],
    still: Collection[int] = (),
    doubted: Collection[int] = (),
) -> tuple[EpochFix, ...]:
    """The fix of each part, oldest first; the last is the present one. Empty without sightings.

    ``slips``: (how many of the sightings came before it, which circles), oldest first. Counted and
    not timed, since a clock may be set while an outing runs. ``still``: indices of sightings just
    before which nothing moved, as the observer knows; ``doubted``: of those that could not be what
    they said unless something moved, and were, as the observer answered. Raises
    :class:`~plumbstar.errors.UserError` as :func:`plumbstar.solve.fix.solve` does.
    """
    parts: list[EpochFix] = []
    belief = priors
    edges = [0, *(n for n, _ in slips), len(sightings)]
    for k, (low, high) in enumerate(itertools.pairwise(edges)):
        if k:
            belief = freed(belief, slips[k - 1][1], priors)
            # A last sighting that contradicted the others may have told of a base that was knocked:
            # no later one can say so any more.
            last = parts[-1] if parts else None
            if last is not None and last_contradicts(last.fix.stories, len(last.indices)):
                belief = freed(belief, ("base",), priors)
        mine = tuple(range(low, high))
        if not mine:
            continue
        known = [k - low for k in still if low < k < high]
        asked = [k - low for k in doubted if low <= k < high]
        here = [sightings[i] for i in mine]
        fix = solve(here, belief, noise, still=known, doubted=asked)
        parts.append(EpochFix(mine, fix))
        belief = handed_on(fix, belief)
    return tuple(parts)
