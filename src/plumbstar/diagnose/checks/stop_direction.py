"""Which way added thickness tips the tube."""

from __future__ import annotations

import math

from plumbstar.diagnose.checks.check import Check, Input
from plumbstar.diagnose.checks.verdict import Number, Values, Verdict, number_of
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES


def judge(v: Values, kit: Kit) -> Verdict:
    """Which way added thickness tips the tube, and the lever arm it implies: t / tan(change)."""
    step = kit.altitude.resolution_deg
    e = few.difference_of(v["before"], v["after"], step)
    mm = float(v["thickness_mm"])
    numbers = [number_of("change", "change of the reading at the stop", e)]
    fine = step < 0.4 * abs(e.value)
    sure = e.sure_sign if math.isfinite(e.low) else abs(e.value) > 3 * step
    if not sure or e.value == 0.0:
        return Verdict(
            "unsure",
            f"The change, {e.value:+.2f}°, is too small beside its uncertainty to tell.",
            tuple(numbers),
            "Use a thicker piece (5 or 10 mm), read three times without and three times with it, "
            "and do not set the altitude anew in between",
        )
    adding = "raises" if e.value > 0 else "lowers"
    arm = mm / math.tan(math.radians(abs(e.value)))
    ends = [abs(x) for x in (e.low, e.high)] if math.isfinite(e.low) else []
    low, high = (
        (mm / math.tan(math.radians(max(ends))), mm / math.tan(math.radians(min(ends))))
        if ends and min(ends) > 0
        else (None, None)
    )
    numbers.append(Number("lever_arm_mm", "lever arm it implies", arm, "mm", low, high))
    numbers.append(Number("per_mm", "each millimetre tips the tube by", e.value / mm))
    stated = kit.stop.lever_arm_mm
    doubt = ""
    if stated and low is not None and high is not None and not low * 0.9 <= stated <= high * 1.1:
        doubt = f" The kit says an arm of {stated:g} mm, which does not fit: measure it again."
    keep = f"{arm:.0f}" if not stated or doubt else f"{stated:g}"
    done = kit.stop.adding == adding and not doubt
    return Verdict(
        "good" if done else "mend",
        f"Adding thickness {adding} the tube: {e.value:+.2f}° for {mm:g} mm, so the lever arm "
        f"is about {arm:.0f} mm.{doubt}"
        + ("" if fine or e.count > 2 else " One reading each: enough for the direction only."),
        tuple(numbers),
        "The kit says the same: nothing to do"
        if done
        else f'Write into the kit, under [stop]: adding = "{adding}" and lever_arm_mm = {keep}',
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
    judge,
)  # fmt: skip
