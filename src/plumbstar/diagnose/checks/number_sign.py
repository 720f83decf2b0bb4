"""Which way a closed controller's number counts, by a known change under the stop."""

from __future__ import annotations

from plumbstar.controller.say import sign_sentence
from plumbstar.controller.sign import SignLearnt, learn_sign
from plumbstar.diagnose.checks.check import Check, Input, told
from plumbstar.diagnose.checks.verdict import Number, Values, Verdict
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise
from plumbstar.text.advice import CHECK_TITLES

#: No two stars make a number move so many times as much as the stop tips: three times the two that
#: a pair at opposite azimuths gives. Common practice, no source.
MOST_TIMES = 6.0


def measure(v: Values, kit: Kit) -> SignLearnt:
    """From two numbers with the same two stars, before and after (controller/sign.py)."""
    if not v["added_mm"]:
        raise UserError(
            "a thickness of 0 mm",
            "how much was added, minus if it was taken out, in mm",
            "Change the stop between the two numbers",
        )
    learnt = learn_sign(
        float(v["before"]),
        float(v["after"]),
        float(v["added_mm"]),
        Noise.from_kit(kit),
        adding=kit.stop.adding,
        lever_arm_mm=kit.stop.lever_arm_mm,
    )
    told = learnt.to_zero_mm is not None
    if told and learnt.size_ratio is not None and learnt.size_ratio > MOST_TIMES:
        raise UserError(
            f"a number that moved by {v['after'] - v['before']:+.1f}° for {v['added_mm']:g} mm, "
            f"{learnt.size_ratio:.0f} times what the kit's arm of {learnt.lever_arm_mm:g} mm gives",
            "two numbers with the same two stars, and the thickness in mm",
            "Check both numbers, the thickness and the arm",
        )
    return learnt


def say(s: SignLearnt) -> Verdict:
    """What the change teaches, in words."""
    sign = s.sign if s.direction_known else None
    first = (
        ""
        if s.direction_known or s.to_zero_mm is None
        else f" Do the check “{CHECK_TITLES['stop-direction']}” first: it tells whether that is so."
    )
    mend = (
        f'Write into the kit, under [controller]: sign = "{sign}". On the phone: Prepare, Your '
        "controller"
        if sign is not None
        else ""
    )
    return Verdict(
        "good" if sign is not None else "unsure",
        sign_sentence(s) + first,
        (
            Number("per_mm", "each millimetre moves the number by", s.per_mm_deg),
            Number("least", "the smallest change of the number that surely tells", s.least_deg),
        ),
        mend,
        (("[controller]", "sign", sign),) if sign is not None else (),
        "The button writes it into the kit" if sign is not None else "",
    )


CHECK = Check(
    "number-sign",
    CHECK_TITLES["number-sign"],
    "For a closed controller that shows one number. Once for each controller.",
    ("two evenings or one long one", "a piece of known thickness, 1 to 5 mm"),
    (
        "Stop and two stars, as always. Write down the number with its sign.",
        "Put the piece where the stop bears.",
        "Stop and the same two stars again. Write down the number.",
    ),
    (
        Input("before", "the number before", "deg", low=-90, high=90),
        Input("after", "the number after, with the same two stars", "deg", low=-90, high=90),
        Input("added_mm", "how much was added, minus if it was taken out", "mm", low=-100,
              high=100),
    ),
    told(measure, say),
)  # fmt: skip
