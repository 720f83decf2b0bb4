"""Away and back to one mark."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.diagnose.checks.check import AXIS, MARK, Check, Input, told
from plumbstar.diagnose.checks.verdict import (
    Number,
    State,
    Values,
    Verdict,
    arcmin,
    circle_of,
    number_of,
    same_length,
    smallest_step,
    step_of,
    wrap,
)
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.text.advice import CHECK_TITLES

#: No coupling loses so much on a swing and holds otherwise: another mark, or a missing reading.
#: Common practice, no source.
MOST_DEG = 60.0


@dataclass(frozen=True)
class Lost:
    """What the reading lost over the swings, degrees; ``mark_deg``: what the mark allows;
    ``least_deg``: the smallest loss on one swing that would have shown."""

    axis: str
    mean: few.Estimate
    swings: int
    largest_deg: float
    mark_deg: float
    slips: bool
    least_deg: float

    @property
    def state(self) -> State:
        # Three swings are asked for: common practice, no source.
        return "mend" if self.slips else "unsure" if self.swings < 3 else "good"


def measure(v: Values, kit: Kit) -> Lost:
    """Away and back to one mark: what the reading has lost."""
    same_length(v, before="before", after="after")
    step = step_of(v, circle_of(kit, v["axis"]))
    lost = [wrap(b - a) for a, b in zip(v["before"], v["after"], strict=True)]
    if abs(most := max(lost, key=abs)) > MOST_DEG:
        raise UserError(
            f"{abs(most):.0f}° lost on one swing",
            f"less than {MOST_DEG:g}°",
            "Check that both lists are of the same mark, in the same order, and that none is "
            "missing",
        )
    mark = math.hypot(float(v["mark_arcmin"]) / 60.0, step / math.sqrt(12.0)) * math.sqrt(2.0)
    chi2 = sum(x * x for x in lost) / mark**2
    return Lost(
        axis=v["axis"],
        mean=few.mean_of(lost, step),
        swings=len(lost),
        largest_deg=max(lost, key=abs),
        mark_deg=mark,
        least_deg=smallest_step(len(lost), mark, [1.0]),
        slips=chi_square_survival(chi2, len(lost)) < 0.01,
    )


def say(x: Lost) -> Verdict:
    """What was lost, in words."""
    numbers = (
        number_of("lost", "reading lost on the way", x.mean),
        Number("largest", "largest", x.largest_deg),
        Number("mark", "what the mark alone allows, two times in three", x.mark_deg),
    )
    mark = arcmin(x.mark_deg)
    if x.slips:
        sentence = (
            f"The {x.axis} reading does not come back: {arcmin(x.largest_deg)} lost at worst, "
            f"where the mark allows {mark}. The encoder slips."
        )
        mend = (
            "Tighten the encoder's coupling, turn slowly through the whole swing, and see where it "
            "is lost. If only fast swings lose it, poll faster or turn more slowly"
        )
    elif x.state == "unsure":
        few_words = "1 swing proves" if x.swings == 1 else f"{x.swings} swings prove"
        sentence = f"Nothing lost within what the mark allows ({mark}), but {few_words} little: "
        sentence += f"only more than {arcmin(x.least_deg)} on one of them would have shown."
        mend = "Do it three to five times, once fast"
    else:
        least = arcmin(x.least_deg)
        sentence = f"The {x.axis} reading comes back every time: no swing lost more than {least}."
        mend = "Nothing to mend"
    return Verdict(x.state, sentence, numbers, mend)


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
    told(measure, say),
)  # fmt: skip
