"""Away and back to one mark."""

from __future__ import annotations

import math

from plumbstar.diagnose.checks.check import AXIS, MARK, Check, Input
from plumbstar.diagnose.checks.verdict import (
    Number,
    Values,
    Verdict,
    arcmin,
    circle_of,
    number_of,
    same_length,
    wrap,
)
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.text.advice import CHECK_TITLES


def judge(v: Values, kit: Kit) -> Verdict:
    """Away and back to one mark: what the reading has lost."""
    same_length(v, "before", "after")
    step = circle_of(kit, v["axis"]).resolution_deg
    lost = [wrap(b - a) for a, b in zip(v["before"], v["after"], strict=True)]
    mark = math.hypot(float(v["mark_arcmin"]) / 60.0, step / math.sqrt(12.0)) * math.sqrt(2.0)
    e = few.mean_of(lost, step)
    n = len(lost)
    numbers = (
        number_of("lost", "reading lost on the way", e),
        Number("largest", "largest", max(lost, key=abs)),
        Number("mark", "what the mark alone allows, 1 sigma", mark),
    )
    chi2 = sum(x * x for x in lost) / mark**2
    if chi_square_survival(chi2, n) < 0.01:
        return Verdict(
            "mend",
            f"The {v['axis']} reading does not come back: {arcmin(max(lost, key=abs))} lost at "
            f"worst, where the mark allows {arcmin(mark)}. The encoder slips.",
            numbers,
            "Tighten the encoder's coupling, turn slowly through the whole swing, and see where it "
            "is lost. If only fast swings lose it, poll faster or turn more slowly",
        )
    if n < 3:
        return Verdict(
            "unsure",
            f"Nothing lost within what the mark allows ({arcmin(mark)}), but {n} swing"
            f"{'' if n == 1 else 's'} prove little.",
            numbers,
            "Do it three to five times, once fast",
        )
    return Verdict(
        "good", f"The {v['axis']} reading comes back every time.", numbers, "Nothing to mend"
    )


CHECK = Check(
    "there-and-back",
    CHECK_TITLES["there-and-back"],
    "Finds slip on either axis; the altitude cannot be turned once round.",
    ("a mark, or the stop", "two minutes"),
    (
        "Bring the axis to a mark and write down its reading.",
        "Swing it far away, at the speed of an ordinary push, and bring it back to the mark.",
        "Write down the reading. Three to five times, one of them fast.",
    ),
    (
        Input("before", "the reading at the mark before each swing", many=True, low=-1e5,
              high=1e5),
        Input("after", "the reading at the mark after it", many=True, low=-1e5, high=1e5),
        AXIS,
        MARK,
    ),
    judge,
)  # fmt: skip
