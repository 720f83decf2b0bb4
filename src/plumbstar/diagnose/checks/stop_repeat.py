"""How well the upright stop comes back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto

from plumbstar.diagnose.checks.check import Check, Input, told
from plumbstar.diagnose.checks.verdict import (
    Number,
    Values,
    Verdict,
    arcmin,
    number_of,
    step_of,
    unfolded,
)
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES

#: No stop comes back as badly as that: a reading is wrong. Common practice, no source.
MOST_DEG = 10.0


class ComesBack(Enum):
    """What the spread of a stop comes to."""

    CREEPS = auto()
    TOO_WIDE = auto()
    UNSETTLED = auto()
    TOO_COARSE = auto()
    GOOD = auto()


@dataclass(frozen=True)
class StopSpread:
    """How the stop came back over ``count`` times, degrees; ``field_deg``: the widest field.

    ``within_step``: the spread is no more than the ``step_deg`` of the reading shows.
    """

    count: int
    range_deg: float
    spread: few.Estimate
    creep: few.Estimate
    limit_deg: float
    field_deg: float
    step_deg: float
    within_step: bool

    @property
    def finding(self) -> ComesBack:
        if self.step_deg > 2 * self.limit_deg and self.range_deg < 1.5 * self.step_deg:
            return ComesBack.TOO_COARSE
        if self.creep.sure_sign and abs(self.creep.value) * (self.count - 1) > self.limit_deg:
            return ComesBack.CREEPS
        if self.spread.low > self.limit_deg:
            return ComesBack.TOO_WIDE
        if self.spread.high > self.limit_deg and not self.within_step:
            return ComesBack.UNSETTLED
        return ComesBack.GOOD


def measure(v: Values, kit: Kit) -> StopSpread:
    """The spread of the reading at the stop, against what a fix and a field can bear."""
    step = step_of(v, kit.altitude)
    readings = unfolded(v["readings"], v["readings"][0])
    apart = max(readings) - min(readings)
    if apart > MOST_DEG:
        raise UserError(
            f"readings at the stop that lie {apart:.1f}° apart",
            "readings of one and the same place",
            "Look for a slip of the pen among them",
        )
    s = few.spread_interval(readings, step)
    return StopSpread(
        count=len(readings),
        range_deg=apart,
        spread=s,
        creep=few.slope_of(readings, step),
        # Three minutes of arc are good whatever the hand: common practice, no source.
        limit_deg=max(kit.centring_arcmin / 60.0, 0.05),
        field_deg=kit.true_field_deg(kit.finder_eyepiece()),
        step_deg=step,
        within_step=s.value <= 1.01 * step / math.sqrt(12.0),
    )


def say(x: StopSpread) -> Verdict:
    """The spread in words."""
    s = x.spread
    numbers = (
        number_of("spread", "spread of the stop, two times in three", s),
        Number("range", "highest less lowest", x.range_deg),
        number_of("trend", "change from one time to the next", x.creep),
        Number("limit", "what your centring hides anyway", x.limit_deg),
        Number(
            "share", "spread over the radius of your widest field", s.value / (x.field_deg / 2), ""
        ),
    )
    said = (
        f"The stop comes back within {arcmin(s.value)} "
        f"(1 sigma; 95 %: {arcmin(s.low)} to {arcmin(s.high)})"
    )
    if x.within_step:
        said += f", which is no more than the step of the reading ({arcmin(x.step_deg)}) shows"
    limit = arcmin(x.limit_deg)
    match x.finding:
        case ComesBack.CREEPS:
            return Verdict(
                "mend",
                f"{said}, and it creeps: {60 * x.creep.value:+.1f}' each time.",
                numbers,
                "Something yields or slips: a soft pad, a loose screw, or the encoder itself. Let "
                "one hard face bear on another, and repeat",
            )
        case ComesBack.TOO_WIDE:
            return Verdict(
                "mend",
                f"{said}: worse than your centring ({limit}).",
                numbers,
                "Let one hard point bear on one hard face, clean both, and press with the same "
                "gentle force each time. Until then let every fix solve the stop",
            )
        case ComesBack.TOO_COARSE:
            return Verdict(
                "unsure",
                f"Whether the stop comes back within {limit} cannot be told from readings in steps "
                f"of {arcmin(x.step_deg)}.",
                numbers,
                "Read it more finely, to a tenth of a degree or better, and repeat",
            )
        case ComesBack.UNSETTLED:
            return Verdict(
                "unsure",
                f"{said}: {x.count} times do not settle whether that is good enough ({limit}).",
                numbers,
                "Do it ten times more, and give all the readings together"
                if x.count >= 10
                else "Do it ten times or more",
            )
        case ComesBack.GOOD:
            seen = f"A spread over {arcmin(max(s.high, x.limit_deg))} would have shown"
            said = f"{said}: good enough. {seen}."
            return Verdict("good", said, numbers, "Nothing to mend")


CHECK = Check(
    "stop-repeat",
    CHECK_TITLES["stop-repeat"],
    "How well the upright stop comes back: whatever trusts it can be no better than that.",
    ("the altitude encoder or a gauge that stays on the tube", "three minutes"),
    (
        "Do not set the altitude anew during this check: the readings are compared.",
        "Bring the tube against the stop as you always do and write down the altitude reading.",
        "Take it well away and bring it back. Ten times.",
    ),
    (
        Input("readings", "the altitude reading at the stop", many=True, at_least=3, low=-360,
              high=360),
    ),
    told(measure, say),
)  # fmt: skip
