"""Sightings that contradict one another: did something move between two of them?

A slip that the encoders could not show, a tripod that was knocked, a slip answered falsely with
"nothing moved": afterwards the sightings before and after each agree among themselves and not with
one another. The stories of the fix tell where, and what moved. It is asked of the observer, and the
fix goes by the likelier story meanwhile.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import Axis
from plumbstar.solve.posterior import Data
from plumbstar.solve.weighing import Weighed, share_of

#: It is asked when the stories in which something moved have this share together.
ASKED = 0.5
#: A check buys no more than the share of what speaks against the move; under this it is not asked
#: for. Common practice, no source.
WORTH_CHECKING = 0.03


@dataclass(frozen=True)
class Moved:
    """Something moved just before sighting ``first`` of the fix: these ``axes``.

    ``probability``: of something having moved at all. ``by_deg``: how far one circle's zero moved,
    NaN where more than one number did. ``again``: the sighting whose star, sighted again, would
    best tell it from the likeliest other story; None where none would. ``denied``: the observer
    said that nothing moved there.
    """

    first: int
    axes: tuple[Axis, ...]
    by_deg: float
    probability: float
    again: int | None
    denied: bool = False


def moved_of(
    stories: Sequence[Weighed],
    sightings: Sequence[Sighting],
    noise: Noise,
    still: Collection[int] = (),
) -> Moved | None:
    """What the stories tell; None while it is the likelier that nothing moved. ``still``: indices
    of sightings just before which nothing moved, as the observer says."""
    moving = [w for w in stories if w.story.moves]
    probability = share_of(moving)
    if probability < ASKED:
        return None
    places: dict[tuple[int, tuple[Axis, ...]], list[Weighed]] = {}
    for w in moving:
        last = w.story.moves[-1]
        places.setdefault((last.first, last.axes), []).append(w)
    (first, axes), told = max(places.items(), key=lambda row: share_of(row[1]))
    best = told[0]
    by = math.nan
    if len(axes) == 1:
        by = math.degrees(best.moved_by[sum(len(m.sigmas) for m in best.story.moves[:-1])])
    others = [w for w in stories if all(m.first != first for m in w.story.moves)]
    worth = share_of(others) > WORTH_CHECKING
    again = _telling(best, others[0], Data.of(sightings, noise)) if worth else None
    return Moved(first, axes, by, probability, again, first in still)


def _telling(one: Weighed, other: Weighed, data: Data) -> int | None:
    """The sighting whose place the two stories would read most differently now, in sigmas."""
    far = []
    for toward, basis in zip(data.toward, data.basis, strict=True):
        near = float(data.readings[-1, 0])
        reading = kinematics.reading_of(toward, one.mean, near)
        d, J = kinematics.direction_jacobian(reading, other.mean)
        gap = basis @ (d - toward)
        _, J1 = kinematics.direction_jacobian(reading, one.mean)
        cov = basis @ (J @ other.covariance @ J.T + J1 @ one.covariance @ J1.T) @ basis.T
        cov = cov + np.eye(2) * one.noise.centring**2
        far.append(float(gap @ np.linalg.solve(cov, gap)))
    best = int(np.argmax(far))
    return best if far[best] > 9.0 else None
