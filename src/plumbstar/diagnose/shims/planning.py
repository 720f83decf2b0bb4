"""The upright stop: what to put under it or take out, and whether that is worth doing now.

The altitude zero (true minus reading) moves by as much as a thickness tips the tube, up or down as
the kit says (``[stop] adding``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from plumbstar.choose.forecast import Belief, trusting_stop
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.diagnose.shims.thickness import MOST_PIECES, Move, best_moves, thickness_wanted, tip
from plumbstar.errors import UserError
from plumbstar.kit import Kit, Shim
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.text.words import percent, upper_first

STOP = "altitude_zero"
#: How closely the stop comes back after it was taken apart for a shim, 1 sigma. Common practice, no
#: source; `plumbstar check stop-repeat` measures it.
RESEATING = math.radians(0.05)
#: A gain in hit chance that is worth a screwdriver in the dark. Common practice, no source.
WORTH_IT = 0.05
#: The good pair and one more star in a third quarter of the sky, (3, 2) radians.
THREE_STARS = np.vstack([GOOD_PAIR, np.radians([[320.0, 35.0]])])

Verdict = Literal["leave", "shim now", "shim by day", "sight one more"]


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
    verdict: Verdict
    sentence: str
    steps: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        c = self.chances
        return {
            "offset_deg": self.offset_deg,
            "offset_sigma_deg": self.offset_sigma_deg,
            "deg_per_mm": self.deg_per_mm,
            "wanted_mm": self.wanted_mm,
            "wanted_sigma_mm": self.wanted_sigma_mm,
            "moves": [{"thickness_mm": m.thickness_mm, "count": m.count} for m in self.moves],
            "moved_mm": self.moved_mm,
            "left_deg": self.left_deg,
            "left_sigma_deg": self.left_sigma_deg,
            "short_of": self.short_of,
            "field_deg": self.field_deg,
            "hit_chance": {
                "trusting_the_stop_before": c.trusting_before,
                "trusting_the_stop_after": c.trusting_after,
                "solving_the_stop_before": c.solving_before,
                "solving_the_stop_after": c.solving_after,
                "solving_with_a_third_star": c.third_star,
            },
            "verdict": self.verdict,
            "sentence": self.sentence,
            "steps": list(self.steps),
        }


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

    def solve(stop: tuple[float, float], places: Any) -> float:
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
    in_place: Sequence[Shim] = (),
    field_deg: float | None = None,
    after_dark: bool = True,
) -> ShimPlan:
    """What to do about an altitude zero of ``offset`` with 1 sigma ``sigma``, radians.

    ``in_place``: shims known to be under the stop now, which may be taken out. ``priors``: for the
    other terms (default: the kit's). ``belief``: see :func:`chances`. ``after_dark``: whether it
    is night and a star costs less than a screwdriver. Raises :class:`UserError` when the kit does
    not say enough, or for a sigma that is no sigma.
    """
    if not (math.isfinite(sigma) and sigma >= 0):
        raise UserError(f"an uncertainty of {sigma:g}", "nought or more", "Take it from the fix")
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
        Noise.from_kit(kit),
        math.radians(field) / 2,
        (offset, sigma),
        (left, left_sigma),
        belief,
    )
    short = abs(wanted - moved) > max(0.25, 0.5 * abs(wanted)) and abs(wanted) * per_mm > sigma
    verdict, sentence, steps = _words(
        offset, sigma, wanted, moves, left, left_sigma, short, unknown_stack, c, after_dark
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
        verdict=verdict,
        sentence=sentence,
        steps=steps,
    )


def said(moves: Sequence[Move]) -> str:
    """ "add 2 x 1 mm and take out 1 x 0.5 mm"."""
    put = " + ".join(f"{m.count} x {m.thickness_mm:g} mm" for m in moves if m.count > 0)
    take = " + ".join(f"{-m.count} x {m.thickness_mm:g} mm" for m in moves if m.count < 0)
    parts = [f"add {put}" if put else "", f"take out {take}" if take else ""]
    return " and ".join(p for p in parts if p) or "nothing"


def _words(
    offset: float,
    sigma: float,
    wanted: float,
    moves: Sequence[Move],
    left: float,
    left_sigma: float,
    short: bool,
    unknown_stack: bool,
    c: Chances,
    after_dark: bool,
) -> tuple[Verdict, str, tuple[str, ...]]:
    size = f"{math.degrees(offset):+.2f} ± {math.degrees(sigma):.2f}°"
    gain_trust = c.trusting_after - c.trusting_before
    gain_solve = c.solving_after - c.solving_before
    gain_star = c.third_star - c.solving_before
    odds = (
        f"Trusting the stop: {percent(c.trusting_before)} in the field now, "
        f"{percent(c.trusting_after)} after. Solving it with two good stars: "
        f"{percent(c.solving_before)} now, {percent(c.solving_after)} after; with a third star "
        f"instead: {percent(c.third_star)}."
    )
    if abs(offset) < 2 * sigma:
        steps = (
            "Leave the stop as it is.",
            "Sight one more star, toward another quarter, and ask again.",
        )
        return "sight one more", f"Do not shim yet: the stop, {size}, may be right. {odds}", steps
    if not moves or gain_trust < WORTH_IT:
        poor_fit = (short or not moves) and c.trusting_before < 1.0 - WORTH_IT
        why = (
            f"the shims on hand do not come near the {abs(wanted):.1f} mm it wants"
            if poor_fit
            else "mending it would gain next to nothing"
        )
        verb = "Add" if wanted > 0 else "Take out"
        later = (f"{verb} about {abs(wanted):.1f} mm when you have it.",) if poor_fit else ()
        return (
            "leave",
            f"The stop is off by {size}, but {why}. {odds}",
            ("Leave it, and let the fix solve the stop.", *later),
        )
    what = said(moves)
    steps_list = [
        "Put the cap on and the tube against the stop, and hold it there.",
        f"{upper_first(what)} where the stop bears. Clean both faces first.",
        "Set the altitude at the stop anew and sight two stars a quarter turn apart.",
        f"The offset should then be {math.degrees(left):+.2f} ± {math.degrees(left_sigma):.2f}°. "
        "If the offset has doubled, the kit's `adding` is the wrong way round.",
    ]
    if unknown_stack:
        steps_list.insert(
            1,
            "This asks you to take thickness out. If nothing is under the stop, file or reset it.",
        )
    if short:
        steps_list.append("The shims on hand do not reach all the way.")
    head = f"The stop is off by {size}: {what}"
    if after_dark and gain_solve < WORTH_IT:
        return (
            "shim by day",
            f"{head}, by day. Tonight let the fix absorb it: solving the stop loses nothing"
            f"{' and a third star buys more' if gain_star > max(gain_solve, 0.01) else ''}. {odds}",
            tuple(steps_list),
        )
    return "shim now", f"{head}. {odds}", tuple(steps_list)
