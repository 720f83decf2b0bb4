"""Turns of the base, each read at the same mark."""

from __future__ import annotations

import itertools
import math

import numpy as np

from plumbstar.diagnose.checks.check import MARK, Check, Input
from plumbstar.diagnose.checks.verdict import Number, Values, Verdict, arcmin, number_of, wrap
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.text.advice import CHECK_TITLES


def judge(v: Values, kit: Kit) -> Verdict:
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
    sigma = (max(mark, e.spread) if n > 1 else mark) / math.sqrt(sxx)
    off = e.value - 360.0
    numbers = [
        number_of("turn", "one turn reads", e),
        Number("error", "error of a quarter turn's push", off / 4.0),
    ]
    ticks = kit.azimuth.ticks_per_turn
    if ticks:
        true_ticks = ticks * e.value / 360.0
        numbers.append(Number("ticks", "counts in one turn", true_ticks, "counts",
                              ticks * (e.value - 2 * sigma) / 360.0,
                              ticks * (e.value + 2 * sigma) / 360.0))  # fmt: skip
    if e.value < 0:
        return Verdict(
            "mend",
            "The azimuth counts the wrong way round.",
            tuple(numbers),
            f"Set [azimuth] reversed = {'false' if kit.azimuth.reversed else 'true'} in the kit, "
            "or check which way you turned",
        )
    start = sum(run_on) / (n + 1) - e.value * middle
    chi2 = sum((r - start - e.value * i) ** 2 for i, r in enumerate(run_on)) / mark**2
    slips = n > 1 and chi_square_survival(chi2, n - 1) < 0.01
    if slips:
        worst = max(range(n), key=lambda i: abs(turns[i] - float(np.median(turns))))
        return Verdict(
            "mend",
            f"The turns do not agree: the readings at the mark scatter by {arcmin(e.spread)}, and "
            f"the mark allows {arcmin(mark)}. Turn {worst + 1} stands out. That is slip.",
            tuple(numbers),
            "Tighten what couples the encoder to the base (set screw, belt, friction roller), "
            "clean it, and repeat. Do not change the tick count for a slip",
        )
    if abs(off) > 3 * sigma:
        if ticks:
            mend = (
                f"Set [azimuth] ticks_per_turn = {round(ticks * e.value / 360.0)} in the kit and "
                "repeat"
            )
        else:
            mend = "The circle is drawn or printed at the wrong scale: print it anew and repeat"
        again = "" if n >= 3 else " Do three turns before you believe it."
        return Verdict(
            "mend",
            f"One turn reads {e.value:.2f}° instead of 360: the count of a turn is wrong, not "
            f"slipping, if it is so every time.{again}",
            tuple(numbers),
            mend,
        )
    if n == 1 and sigma > 0.1:
        return Verdict(
            "unsure",
            f"One turn agrees within what the mark allows ({arcmin(math.sqrt(2) * mark)}).",
            tuple(numbers),
            "Do three turns and read each",
        )
    return Verdict(
        "good",
        f"One turn is one turn: {e.value:.2f}°, and the mark is hit within {arcmin(mark)}. "
        "No slip, and the count is right.",
        tuple(numbers),
        "Nothing to mend",
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
    judge,
)  # fmt: skip
