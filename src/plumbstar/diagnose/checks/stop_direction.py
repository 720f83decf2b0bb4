"""Which way added thickness tips the tube."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from plumbstar.diagnose.checks.check import Check, Input, told
from plumbstar.diagnose.checks.verdict import (
    Number,
    State,
    Values,
    Verdict,
    number_of,
    step_of,
    unfolded,
)
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES

#: An arm is measured with a tape to within so much. Common practice, no source.
TAPE = 0.03
#: Beyond this a piece under a stop tips no tube; an arm so many times the kit's or less is no arm.
#: Both common practice, no source.
MOST_DEG, MOST_WRONG = 30.0, 4.0


@dataclass(frozen=True)
class Tip:
    """What a known thickness under the stop does to the reading; degrees and mm.

    ``adding``: which way it tips the tube, None where the change is too small to tell; then there
    is no ``arm_mm``, with its 95 % interval where there is one. ``few_readings``: one each, too few
    for more than the direction. ``stated_mm``: the kit's arm, 0 for none; ``kit_agrees`` on the
    direction.
    """

    change: few.Estimate
    thickness_mm: float
    adding: Literal["raises", "lowers"] | None
    arm_mm: float | None
    arm_interval_mm: tuple[float, float] | None
    few_readings: bool
    stated_mm: float
    kit_agrees: bool

    @property
    def arm_doubted(self) -> bool:
        """Whether the kit's arm does not fit what was measured."""
        if not self.stated_mm or self.arm_interval_mm is None:
            return False
        low, high = self.arm_interval_mm
        return not low * (1 - TAPE) <= self.stated_mm <= high * (1 + TAPE)

    @property
    def least_deg(self) -> float:
        """The smallest change that these readings would have shown."""
        e = self.change
        return (e.high - e.low) / 2 if math.isfinite(e.low) else math.inf

    @property
    def state(self) -> State:
        if self.adding is None:
            return "unsure"
        return "good" if self.kit_agrees and not self.arm_doubted else "mend"


def measure(v: Values, kit: Kit) -> Tip:
    """Which way added thickness tips the tube, and the lever arm it implies: t / tan(change)."""
    step = step_of(v, kit.altitude)
    anchor = v["before"][0]
    e = few.difference_of(unfolded(v["before"], anchor), unfolded(v["after"], anchor), step)
    mm = float(v["thickness_mm"])
    if abs(e.value) > MOST_DEG:
        raise UserError(
            f"a change of {e.value:+.1f}° at the stop by {mm:g} mm",
            f"less than {MOST_DEG:g}°",
            "Check the readings, and that the altitude was not set anew in between",
        )
    sure = e.sure_sign if math.isfinite(e.low) else abs(e.value) > 3 * step
    adding: Literal["raises", "lowers"] | None = None
    arm, interval = None, None
    if sure and e.value != 0.0:
        adding = "raises" if e.value > 0 else "lowers"
        arm = _arm(mm, e.value)
        ends = [abs(x) for x in (e.low, e.high)] if math.isfinite(e.low) else []
        if ends and min(ends) > 0:
            interval = _arm(mm, max(ends)), _arm(mm, min(ends))
    stated = kit.stop.lever_arm_mm
    if interval and stated and not interval[0] / MOST_WRONG <= stated <= interval[1] * MOST_WRONG:
        raise UserError(
            f"a change of {e.value:+.2f}° by {mm:g} mm, which is a lever arm of {arm:.0f} mm, "
            f"where the kit says {stated:g}",
            "the thickness of the piece in mm, and the kit's arm nearly so",
            "Check the thickness, and that the altitude was not set anew in between. If both are "
            "right, measure the arm and correct it in the kit",
        )
    return Tip(
        change=e,
        thickness_mm=mm,
        adding=adding,
        arm_mm=arm,
        arm_interval_mm=interval,
        few_readings=interval is None,
        stated_mm=stated,
        kit_agrees=kit.stop.adding == adding,
    )


def _arm(mm: float, change_deg: float) -> float:
    return mm / math.tan(math.radians(abs(change_deg)))


def say(t: Tip) -> Verdict:
    """The direction and the arm in words."""
    e, mm = t.change, t.thickness_mm
    change = number_of("change", "change of the reading at the stop", e)
    if t.adding is None or t.arm_mm is None:
        return Verdict(
            t.state,
            f"The change, {e.value:+.2f}°, is too small to tell"
            + (f": it would have had to be {t.least_deg:.2f}°." if e.count > 2 else "."),
            (change,),
            "Use a thicker piece (5 or 10 mm), read three times without and three times with it, "
            "and do not set the altitude anew in between",
        )
    low, high = t.arm_interval_mm or (None, None)
    doubt = ""
    if t.arm_doubted:
        doubt = f" The kit says an arm of {t.stated_mm:g} mm, which does not fit: measure it again."
    keep = f"{t.stated_mm:g}" if t.stated_mm and not t.arm_doubted else f"{t.arm_mm:.0f}"
    return Verdict(
        t.state,
        f"Adding thickness {t.adding} the tube: {e.value:+.2f}° for {mm:g} mm, so the lever arm "
        f"is about {t.arm_mm:.0f} mm.{doubt}"
        + (
            " One reading each: enough for the direction only. Three each would check the arm."
            if t.few_readings
            else ""
        )
        + _what_was_seen(t),
        (
            change,
            Number("lever_arm_mm", "lever arm it implies", t.arm_mm, "mm", low, high),
            Number("per_mm", "each millimetre tips the tube by", e.value / mm),
        ),
        "The kit says the same: nothing to do"
        if t.state == "good"
        else f'Write into the kit, under [stop]: adding = "{t.adding}" and lever_arm_mm = {keep}',
        ()
        if t.state == "good"
        else (("[stop]", "adding", t.adding), ("[stop]", "lever_arm_mm", float(keep))),
        ""
        if t.state == "good"
        else f"The telescope is described anew by one press: adding thickness {t.adding} the tube, "
        f"and the arm is {keep} mm long",
    )


def _what_was_seen(t: Tip) -> str:
    """How wrong the kit's arm could be without this having shown it."""
    if t.arm_doubted or not t.stated_mm or t.arm_interval_mm is None:
        return ""
    low, high = t.arm_interval_mm
    return (
        f" The arm is between {low:.0f} and {high:.0f} mm, and the kit's {t.stated_mm:g} fits: one "
        "outside would have shown."
    )


CHECK = Check(
    "stop-direction",
    CHECK_TITLES["stop-direction"],
    "Shims cannot be planned without it. Once for each telescope.",
    ("a piece of known thickness, 3 to 10 mm", "the altitude reading"),
    (
        "Bring the tube against the stop and write down the altitude reading, three times.",
        "Put the piece where the stop bears. Do not set the altitude anew.",
        "Bring the tube against the stop again and write down the reading, three times.",
        "Take the piece out again.",
    ),
    (
        Input("before", "the altitude reading at the stop without the piece", many=True,
              low=-360, high=360),
        Input("after", "the reading with the piece in place", many=True, low=-360, high=360),
        Input("thickness_mm", "the thickness of the piece", "mm", low=0.1, high=100),
    ),
    told(measure, say),
)  # fmt: skip
