"""Turns of the base, each read at the same mark."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.diagnose.checks.check import MARK, Check, Input, told
from plumbstar.diagnose.checks.verdict import Number, Values, Verdict, arcmin, number_of, wrap
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.text.advice import CHECK_TITLES


class OnceRound(Enum):
    """What the turns come to."""

    BACKWARDS = auto()
    SLIPS = auto()
    MISCOUNTS = auto()
    TOO_FEW = auto()
    GOOD = auto()


@dataclass(frozen=True)
class Turns:
    """What one turn reads, degrees; ``sigma_deg`` of it; ``mark_deg``: how the mark is hit.

    ``worst``: the turn that stands out, from 1. ``ticks``: the kit's count of a turn, 0 for none;
    ``reversed``: whether the kit says that it counts backwards.
    """

    turn: few.Estimate
    sigma_deg: float
    mark_deg: float
    count: int
    slips: bool
    worst: int
    ticks: int
    reversed: bool

    @property
    def finding(self) -> OnceRound:
        if self.turn.value < 0:
            return OnceRound.BACKWARDS
        if self.slips:
            return OnceRound.SLIPS
        if abs(self.turn.value - 360.0) > 3 * self.sigma_deg:
            return OnceRound.MISCOUNTS
        if self.count == 1 and self.sigma_deg > 0.1:
            return OnceRound.TOO_FEW
        return OnceRound.GOOD


def measure(v: Values, kit: Kit) -> Turns:
    """Turns of the base, each read at the same mark: 360 degrees, or the count is wrong, or slips.

    A reading that runs on gains a turn, one that folds comes back to itself; both are understood.
    A line through the readings at the mark, each hit within ``mark_arcmin``: its slope is the turn,
    and what is left over is chi-square with (turns - 1) degrees of freedom unless something slips.
    """
    readings, side = v["readings"], 1.0 if v["turned"] == "right" else -1.0
    step = kit.azimuth.resolution_deg
    mark = math.hypot(float(v["mark_arcmin"]) / 60.0, step / math.sqrt(12.0))
    # All within one turn after whole turns: the reading folds, and only the remainder is seen.
    folds = max(readings) - min(readings) <= 360.0
    steps = [side * (b - a) for a, b in itertools.pairwise(readings)]
    turns = [360.0 + wrap(t) if folds else t for t in steps]
    n = len(turns)
    run_on = [0.0, *itertools.accumulate(turns)]
    e = few.slope_of(run_on, step)
    if n == 1:
        e = few.Estimate(turns[0], -math.inf, math.inf, mark, 1)
    middle = n / 2.0
    sxx = sum((i - middle) ** 2 for i in range(n + 1))
    start = sum(run_on) / (n + 1) - e.value * middle
    chi2 = sum((r - start - e.value * i) ** 2 for i, r in enumerate(run_on)) / mark**2
    return Turns(
        turn=e,
        sigma_deg=(max(mark, e.spread) if n > 1 else mark) / math.sqrt(sxx),
        mark_deg=mark,
        count=n,
        slips=n > 1 and chi_square_survival(chi2, n - 1) < 0.01,
        worst=1 + max(range(n), key=lambda i: abs(turns[i] - float(np.median(turns)))),
        ticks=kit.azimuth.ticks_per_turn,
        reversed=kit.azimuth.reversed,
    )


def say(x: Turns) -> Verdict:
    """The turns in words."""
    e, numbers, mark = x.turn, _numbers(x), arcmin(x.mark_deg)
    match x.finding:
        case OnceRound.BACKWARDS:
            return Verdict(
                "mend",
                "The azimuth counts the wrong way round.",
                numbers,
                f"Set [azimuth] reversed = {'false' if x.reversed else 'true'} in the kit, "
                "or check which way you turned",
            )
        case OnceRound.SLIPS:
            return Verdict(
                "mend",
                f"The turns do not agree: the readings at the mark scatter by {arcmin(e.spread)}, "
                f"and the mark allows {mark}. Turn {x.worst} stands out. That is slip.",
                numbers,
                "Tighten what couples the encoder to the base (set screw, belt, friction roller), "
                "clean it, and repeat. Do not change the tick count for a slip",
            )
        case OnceRound.MISCOUNTS:
            again = "" if x.count >= 3 else " Do three turns before you believe it."
            return Verdict(
                "mend",
                f"One turn reads {e.value:.2f}° instead of 360: the count of a turn is wrong, not "
                f"slipping, if it is so every time.{again}",
                numbers,
                f"Set [azimuth] ticks_per_turn = {round(x.ticks * e.value / 360.0)} in the kit and "
                "repeat"
                if x.ticks
                else "The circle is drawn or printed at the wrong scale: print it anew and repeat",
            )
        case OnceRound.TOO_FEW:
            return Verdict(
                "unsure",
                "One turn agrees within what the mark allows "
                f"({arcmin(math.sqrt(2) * x.mark_deg)}).",
                numbers,
                "Do three turns and read each",
            )
        case OnceRound.GOOD:
            return Verdict(
                "good",
                f"One turn reads as one turn: {e.value:.2f}°, and the mark is hit within {mark}. "
                "No slip, and the count is right.",
                numbers,
                "Nothing to mend",
            )


def _numbers(x: Turns) -> tuple[Number, ...]:
    e, per_deg = x.turn, x.ticks / 360.0
    turn = number_of("turn", "one turn reads", e)
    error = Number("error", "error of a quarter turn's push", (e.value - 360.0) / 4.0)
    if not x.ticks:
        return turn, error
    low, high = e.value - 2 * x.sigma_deg, e.value + 2 * x.sigma_deg
    return (
        turn,
        error,
        Number(
            "ticks",
            "counts in one turn",
            per_deg * e.value,
            "counts",
            per_deg * low,
            per_deg * high,
        ),
    )


CHECK = Check(
    "once-round",
    CHECK_TITLES["once-round"],
    "Tells a wrong tick count (the same error every turn) from slip (another error each turn).",
    ("a pencil mark or tape on base and ground board", "two minutes"),
    (
        "Mark where the rocker box stands, finely: half a millimetre at 300 mm is 6 arcmin.",
        "Write down the azimuth reading at the mark.",
        "Turn once round to the right, slowly, and stop exactly at the mark. Write it down.",
        "Do that three times, without setting anything anew.",
    ),
    (
        Input("readings", "the azimuth reading at the mark, first and after each turn",
              many=True, at_least=2, low=-1e5, high=1e5),
        Input("turned", "which way you turned", "", default="right", choices=("right", "left")),
        MARK,
    ),
    told(measure, say),
)  # fmt: skip
