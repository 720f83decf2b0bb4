"""How well the upright stop comes back."""

from __future__ import annotations

import math

from plumbstar.diagnose.checks.check import Check, Input
from plumbstar.diagnose.checks.verdict import Number, Values, Verdict, arcmin, number_of
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES


def judge(v: Values, kit: Kit) -> Verdict:
    """The spread of the reading at the stop, against what a fix and a field can bear."""
    step = kit.altitude.resolution_deg
    readings = v["readings"]
    s = few.spread_interval(readings, step)
    slope = few.slope_of(readings, step)
    limit = max(kit.centring_arcmin / 60.0, 0.05)
    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    numbers = (
        number_of("spread", "spread of the stop, 1 sigma", s),
        Number("range", "highest less lowest", max(readings) - min(readings)),
        number_of("trend", "change from one time to the next", slope),
        Number("limit", "what your centring hides anyway", limit),
        Number(
            "share", "spread over the radius of your widest field", s.value / (field_deg / 2), ""
        ),
    )
    said = f"The stop comes back within {arcmin(s.value)} (1 sigma; 95 %: {arcmin(s.low)} to {arcmin(s.high)})"  # fmt: skip # noqa: E501
    grain = s.value <= 1.01 * step / math.sqrt(12.0)
    if grain:
        said += f", which is no more than the step of the reading ({arcmin(step)}) shows"
    if slope.sure_sign and abs(slope.value) * (len(readings) - 1) > limit:
        return Verdict(
            "mend",
            f"{said}, and it creeps: {60 * slope.value:+.1f}' each time.",
            numbers,
            "Something yields or slips: a soft pad, a loose screw, or the encoder itself. Make it "
            "hard against hard, and repeat",
        )
    if s.low > limit:
        return Verdict(
            "mend",
            f"{said}: worse than your centring ({arcmin(limit)}).",
            numbers,
            "Let one hard point bear on one hard face, clean both, and press with the same gentle "
            "force each time. Until then let every fix solve the stop",
        )
    if s.high > limit and not grain:
        return Verdict(
            "unsure",
            f"{said}: {len(readings)} times do not settle whether that is good enough "
            f"({arcmin(limit)}).",
            numbers,
            "Do it ten times more, and give all the readings together"
            if len(readings) >= 10
            else "Do it ten times or more",
        )
    return Verdict("good", f"{said}: good enough.", numbers, "Nothing to mend")


CHECK = Check(
    "stop-repeat",
    CHECK_TITLES["stop-repeat"],
    "How well the upright stop comes back: the floor of everything that trusts it.",
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
    judge,
)  # fmt: skip
