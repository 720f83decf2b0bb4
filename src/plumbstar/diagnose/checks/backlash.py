"""One mark come upon from both sides."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.diagnose.checks.check import AXIS, SUN_FIRST, Check, Input, told
from plumbstar.diagnose.checks.verdict import (
    Number,
    State,
    Values,
    Verdict,
    arcmin,
    circle_of,
    number_of,
    step_of,
    wrap,
)
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES

#: So much play is none: two marks, or two axes. Common practice, no source.
MOST_DEG = 20.0


@dataclass(frozen=True)
class Play:
    """The other way less the one way, and what the hand hides anyway, degrees."""

    axis: str
    found: few.Estimate
    limit_deg: float
    state: State


def measure(v: Values, kit: Kit) -> Play:
    """One mark come upon from both sides: the readings differ by the play."""
    step = step_of(v, circle_of(kit, v["axis"]))
    anchor = v["one_way"][0]
    one = [wrap(x - anchor) for x in v["one_way"]]
    other = [wrap(x - anchor) for x in v["other_way"]]
    e = few.difference_of(one, other, step)
    if abs(e.value) > MOST_DEG:
        raise UserError(
            f"{abs(e.value):.1f}° between the two ways",
            f"less than {MOST_DEG:g}°",
            "Check that all readings are of the same mark and the same axis",
        )
    limit = max(kit.centring_arcmin / 60.0, 0.05)
    state: State = "unsure"
    if e.sure_sign and abs(e.value) > limit:
        state = "mend"
    elif max(abs(e.low), abs(e.high)) <= limit or (
        e.sure_sign and abs(e.value) <= limit and e.count >= 4
    ):
        state = "good"
    return Play(v["axis"], e, limit, state)


def say(p: Play) -> Verdict:
    """The play in words."""
    e = p.found
    numbers = (
        number_of("play", "the other way less the one way", e),
        Number("limit", "what your centring hides anyway", p.limit_deg),
    )
    if p.state == "mend":
        where = "rising" if p.axis == "altitude" else "turning right"
        sentence = f"There is {arcmin(e.value)} of play in {p.axis}."
        mend = (
            f"Take it out of the coupling; until then approach every star and object {where}, so "
            "that the play is the same each time"
        )
    elif p.state == "good":
        most = arcmin(max(abs(e.low), abs(e.high)))
        sentence = (
            f"The play in {p.axis}, {arcmin(e.value)}, is less than your centring hides; more than "
            f"{most} would have shown."
        )
        mend = "Nothing to mend"
    else:
        sentence = (
            f"{e.value * 60:+.0f}' between the two ways, but {e.count} readings do not settle "
            "whether that is play or careless centring"
        ) + (
            f": up to {arcmin(max(abs(e.low), abs(e.high)))} could be there."
            if math.isfinite(e.low)
            else "."
        )
        mend = "Approach the mark three to five times from each side"
    return Verdict(p.state, sentence, numbers, mend)


CHECK = Check(
    "backlash",
    CHECK_TITLES["backlash"],
    "A mark should read the same, whether you come to it from the left or from the right.",
    ("a distant lamp, or a star low in the pole's direction", "five minutes"),
    (
        "Use a high power. Bring the mark to the middle turning one way only; write it down.",
        "Go past it and bring it to the middle turning the other way; write it down.",
        "Three to five times each way. For altitude: from below and from above.",
    ),
    (
        Input("one_way", "readings coming from the left (or from below)", many=True, low=-1e5,
              high=1e5),
        Input("other_way", "readings coming from the right (or from above)", many=True,
              low=-1e5, high=1e5),
        AXIS,
    ),
    told(measure, say),
    SUN_FIRST + " By day use a mark far from the Sun; a lamp at dusk is better.",
)  # fmt: skip
