"""Sightings on both sides of a slip: one zero was lost, everything else still holds.

After a slip the readings of one circle (or both) are off by an unknown constant. The lean of the
base, the cone, the squareness and the rest are what they were. So the evening is cut at each slip.
Each part is solved with, as its prior, what the part before it found, except that the zero of the
circle that slipped is free again; one sighting of any star then settles it.

A part hands on its terms jointly, with what they have in common: two stars hardly tell the lean
from the cone, but their sum they tell well. Handed on one by one, that sum was lost, and with it
what shows a later slip (a circle turned by 1.0 deg among three stars went unnoticed, at 94 %).

What may have happened in a part (a bad star, something that moved) is handed on, too: each account
with its chance and its own terms. A later part weighs them again. One account more is that the base
was knocked with the slip: without it four stars after such a knock brought 83 of 100 pushes into
the field, and bring 98 (tests/solve/test_epochs.py).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.mount.priors import UNKNOWN, EarlierPart, Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.posterior import continuous_readings
from plumbstar.solve.since import last_contradicts
from plumbstar.solve.weighing import HARDLY_A_HAND, Weighed, covariance_about, share_of
from plumbstar.turns import half_turn
from plumbstar.units import Array

#: How far an altitude circle may have slipped, 1 sigma. A slip is anything; more would be seen.
ALTITUDE_SLIP = math.radians(20.0)
#: What makes a circle slip, or a board start again, knocks the base too: so often, and each lean by
#: so much (1 sigma). Common practice, no source; how much hangs on them is measured by
#: design/two_slips.py --knocks (docs/faults.md).
KNOCKED_TOO, KNOCKED_BY = 0.05, math.radians(0.6)
#: So many accounts of a part are handed on; what is beyond them is one wide account.
MOST_ACCOUNTS = 6


@dataclass(frozen=True)
class EpochFix:
    """The sightings between two slips, by index into the evening's, and their fix."""

    indices: tuple[int, ...]
    fix: Fix


def freed(priors: Priors, axes: Iterable[str], beforehand: Priors) -> Priors:
    """The same beliefs with the zeros of the circles that slipped forgotten.

    The axis "base": it stands anew, and leans as it may have leant ``beforehand``.
    """
    for axis in axes:
        if axis == "azimuth":
            priors = priors.anew(INDEX["azimuth_zero"], 0.0, UNKNOWN)
        elif axis == "base":
            for name in ("lean_north", "lean_west"):
                i = INDEX[name]
                priors = priors.anew(i, float(beforehand.mean[i]), float(beforehand.sigma[i]))
        else:
            priors = priors.loosened(INDEX["altitude_zero"], ALTITUDE_SLIP)
    return priors


def perhaps_knocked(priors: Priors) -> Priors:
    """The same beliefs, and beside them that the base was knocked when the circle slipped."""
    whole, knocked = priors, replace(priors, either=())
    for name in ("lean_north", "lean_west"):
        whole = whole.loosened(INDEX[name], KNOCKED_BY * math.sqrt(KNOCKED_TOO))
        knocked = knocked.loosened(INDEX[name], KNOCKED_BY)
    accounts = priors.either or (EarlierPart(1.0, replace(priors, either=())),)
    still = tuple(a._replace(chance=a.chance * (1.0 - KNOCKED_TOO)) for a in accounts)
    return replace(whole, either=(*still, EarlierPart(KNOCKED_TOO, knocked)))


def handed_on(fix: Fix, belief: Priors, to: Sighting) -> Priors:
    """What the next part, whose first sighting is ``to``, starts from: what this one found, or,
    where its sightings contradict one another, the ``belief`` that it started from itself.

    A display that folds into one turn counts the next part's turns from nought again, and the
    azimuth scale acts on the count: the zero takes up what that makes.
    """
    if fix.contradictory:
        return belief
    both = continuous_readings([*fix.sightings, to])[:, 0]
    turn = round((both[-1] - math.radians(to.az_reading_deg)) / (2 * math.pi)) * 2 * math.pi
    carried = np.eye(N_TERMS)
    if fix.prior.sigma[INDEX["azimuth_zero"]] > 0:
        carried[INDEX["azimuth_zero"], INDEX["azimuth_scale"]] = turn

    def jointly(mean: Array, covariance: Array) -> Priors:
        return Priors.jointly(carried @ mean, carried @ covariance @ carried.T)

    whole = jointly(fix.mean, covariance_about(fix.mean, fix.stories))
    accounts = [
        EarlierPart(p, jointly(mean, covariance), coarser, unexpected)
        for p, mean, covariance, coarser, unexpected in accounts_of(fix.stories)
    ]
    plain = len(accounts) == 1 and accounts[0].coarser == 1.0 and not accounts[0].unexpected
    return replace(whole, either=() if plain else tuple(accounts))


def accounts_of(stories: Sequence[Weighed]) -> Iterator[tuple[float, Array, Array, float, bool]]:
    """What may have happened, as a few Gaussians of the terms, likeliest first.

    Each a chance, a mean (12,) and a covariance (12, 12), radians, how many times less well than
    stated its hand centred, 1 for one of about as stated, and whether the mount is one that the kit
    does not expect. Stories that differ in a fault's
    size are one, and those beyond :data:`MOST_ACCOUNTS` are put together: by a usual hand, and by
    one that was hardly a hand.
    """
    by: dict[tuple[object, ...], list[Weighed]] = {}
    for w in stories:
        by.setdefault((w.story.what, w.story.handed, _hardly_a_hand(w)), []).append(w)
    groups = sorted(by.values(), key=share_of, reverse=True)
    rest = [w for group in groups[MOST_ACCOUNTS - 1 :] for w in group]
    rests = [[w for w in rest if _hardly_a_hand(w) == rough] for rough in (False, True)]
    for group in [*groups[: MOST_ACCOUNTS - 1], *filter(None, rests)]:
        chance = share_of(group)
        first = group[0].mean
        gaps = np.array([w.mean - first for w in group])
        gaps[:, 0] = half_turn(gaps[:, 0])
        mean = first + sum(w.share * gap for w, gap in zip(group, gaps, strict=True)) / chance
        coarser = group[0].story.coarser if _hardly_a_hand(group[0]) else 1.0
        unexpected = group[0].story.unexpected
        yield chance, mean, covariance_about(mean, group), coarser, unexpected


def _hardly_a_hand(w: Weighed) -> bool:
    return w.story.coarser >= HARDLY_A_HAND


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
        if parts:
            belief = perhaps_knocked(belief)
        known = [k - low for k in still if low < k < high]
        asked = [k - low for k in doubted if low <= k < high]
        here = [sightings[i] for i in mine]
        fix = solve(here, belief, noise, still=known, doubted=asked)
        parts.append(EpochFix(mine, fix))
        if high < len(sightings):
            belief = handed_on(fix, belief, sightings[high])
    return tuple(parts)
