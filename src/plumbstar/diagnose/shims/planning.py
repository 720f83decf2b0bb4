"""The upright stop: what to put under it or take out, and whether that is worth doing now.

The altitude zero (true minus reading) moves by as much as a thickness tips the tube, up or down as
the kit says (``[stop] adding``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from plumbstar.choose.forecast import Belief, trusting_stop
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.diagnose.shims.thickness import MOST_PIECES, Move, best_moves, thickness_wanted, tip
from plumbstar.errors import UserError
from plumbstar.kit import Kit, Shim
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, STOP
from plumbstar.units import Array

#: How closely the stop comes back after it was taken apart for a shim, 1 sigma. Common practice, no
#: source; `plumbstar check stop-repeat` measures it.
RESEATING = math.radians(0.05)
#: A gain in hit chance that is worth a screwdriver in the dark. Common practice, no source.
WORTH_IT = 0.05
#: The good pair and one more star in a third quarter of the sky, (3, 2) radians.
THREE_STARS = np.vstack([GOOD_PAIR, np.radians([[320.0, 35.0]])])


class ShimVerdict(StrEnum):
    """What to do about the stop."""

    LEAVE = "leave"
    SHIM_NOW = "shim now"
    SHIM_BY_DAY = "shim by day"
    SIGHT_ONE_MORE = "sight one more"

    @property
    def is_work(self) -> bool:
        """Whether pieces are to be moved."""
        return self in (ShimVerdict.SHIM_NOW, ShimVerdict.SHIM_BY_DAY)


@dataclass(frozen=True)
class Chances:
    """Mean hit chance over the sky above 20 deg, before and after, for two ways of working.

    ``trusting_*``: a recipe that takes the stop at its word, after two good stars.
    ``solving_*``: the stop solved along with the rest, after two good stars; ``third_star``: the
    same with one more star in a third quarter and nothing mended.
    """

    trusting_before: float
    trusting_after: float
    solving_before: float
    solving_after: float
    third_star: float


@dataclass(frozen=True)
class ShimPlan:
    """What to do under the stop. Degrees and millimetres.

    ``wanted_mm``: thickness that would null the offset exactly, positive to add. ``moves``: the
    best the shims allow; empty for nothing. ``left_deg``: the offset expected afterwards, with
    ``left_sigma_deg``. ``short_of``: True if the shims at hand cannot come near.
    ``unknown_stack``: nobody wrote down what is under the stop, of which something is to go.
    """

    offset_deg: float
    offset_sigma_deg: float
    deg_per_mm: float
    wanted_mm: float
    wanted_sigma_mm: float
    moves: tuple[Move, ...]
    moved_mm: float
    left_deg: float
    left_sigma_deg: float
    short_of: bool
    chances: Chances
    field_deg: float
    verdict: ShimVerdict
    unknown_stack: bool


def chances(
    priors: Priors,
    noise: Noise,
    radius: float,
    before: tuple[float, float],
    after: tuple[float, float],
    belief: Belief | None = None,
) -> Chances:
    """Hit chances with the stop known to be at ``before`` and ``after``: (mean, sigma), radians.

    ``priors`` is for all other terms; a fix that solves the stop takes its prior from the same
    knowledge. See :mod:`plumbstar.choose.worth`. ``belief``: what many outings know of all terms,
    the stop too (``history.Summary``), with ``priors`` what they teach a fix; then "now" is told
    from it, and is the same number as theirs.
    """
    base = belief if belief is not None else Belief.from_priors(priors)

    def at(stop: tuple[float, float]) -> tuple[Belief, Priors]:
        if belief is not None and stop == before:
            return belief, priors
        mean, sigma = priors.mean.copy(), priors.sigma.copy()
        mean[INDEX[STOP]], sigma[INDEX[STOP]] = stop[0], max(stop[1], 1e-6)
        return base.with_term(STOP, *stop), Priors(mean, sigma)

    def solve(stop: tuple[float, float], places: Array) -> float:
        return chance_over_sky(*at(stop), places, noise, radius)

    def trust(stop: tuple[float, float]) -> float:
        return chance_over_sky(at(stop)[0], trusting_stop(priors), GOOD_PAIR, noise, radius)

    return Chances(
        trust(before), trust(after), solve(before, GOOD_PAIR), solve(after, GOOD_PAIR),
        solve(before, THREE_STARS),
    )  # fmt: skip


def plan(
    offset: float,
    sigma: float,
    kit: Kit,
    *,
    priors: Priors | None = None,
    belief: Belief | None = None,
    noise: Noise | None = None,
    in_place: Sequence[Shim] = (),
    field_deg: float | None = None,
    after_dark: bool = True,
) -> ShimPlan:
    """What to do about an altitude zero of ``offset`` with 1 sigma ``sigma``, radians.

    ``in_place``: shims known to be under the stop now, which may be taken out. ``priors``: for the
    other terms (default: the kit's). ``belief``: see :func:`chances`. ``noise``: with the hand as
    learnt (default: the kit's). ``after_dark``: whether it
    is night and a star costs less than a screwdriver. Raises :class:`UserError` when the kit does
    not say enough, or for a sigma that is no sigma.
    """
    if not (math.isfinite(sigma) and sigma >= 0):
        raise UserError(f"an uncertainty of {sigma:g}", "0 or more", "Take it from the fix")
    wanted = thickness_wanted(offset, kit)
    arm = kit.stop.lever_arm_mm
    per_mm = tip(1.0, arm)
    moves = best_moves(wanted, kit.shim, in_place, tolerance_mm=0.25 * sigma / per_mm)
    unknown_stack = wanted < 0 and not in_place
    if unknown_stack:
        # Nobody wrote down what is under the stop: say what to take out, in pieces as on hand.
        takeable = [Shim(thickness_mm=s.thickness_mm, count=MOST_PIECES) for s in kit.shim]
        moves = best_moves(wanted, (), takeable, tolerance_mm=0.25 * sigma / per_mm)
    moved = sum(m.thickness_mm * m.count for m in moves)
    sign = -1.0 if kit.stop.adding == "lowers" else 1.0
    left = offset + sign * tip(moved, arm)
    reseat = RESEATING if moves else 0.0
    left_sigma = math.hypot(sigma, reseat)
    kit_priors = priors if priors is not None else Priors.from_kit(kit)
    field = field_deg if field_deg is not None else kit.true_field_deg(kit.finder_eyepiece())
    c = chances(
        kit_priors,
        noise or Noise.from_kit(kit),
        math.radians(field) / 2,
        (offset, sigma),
        (left, left_sigma),
        belief,
    )
    lack = abs(wanted - moved)
    # Pieces that overshoot are told as short only where half of it is left.
    short = abs(wanted) * per_mm > sigma and lack > max(
        0.25, abs(wanted) * (0.25 if abs(moved) < abs(wanted) else 0.5)
    )
    return ShimPlan(
        offset_deg=math.degrees(offset),
        offset_sigma_deg=math.degrees(sigma),
        deg_per_mm=math.degrees(per_mm),
        wanted_mm=wanted,
        wanted_sigma_mm=sigma / per_mm,
        moves=moves,
        moved_mm=moved,
        left_deg=math.degrees(left),
        left_sigma_deg=math.degrees(left_sigma),
        short_of=short,
        chances=c,
        field_deg=field,
        verdict=_verdict(offset, sigma, moves, c, after_dark),
        unknown_stack=unknown_stack,
    )


def _verdict(
    offset: float, sigma: float, moves: Sequence[Move], c: Chances, after_dark: bool
) -> ShimVerdict:
    if abs(offset) < 2 * sigma:
        return ShimVerdict.SIGHT_ONE_MORE
    if not moves or c.trusting_after - c.trusting_before < WORTH_IT:
        return ShimVerdict.LEAVE
    if after_dark and c.solving_after - c.solving_before < WORTH_IT:
        return ShimVerdict.SHIM_BY_DAY
    return ShimVerdict.SHIM_NOW
