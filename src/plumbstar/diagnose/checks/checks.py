"""Guided checks by daylight or at the bench: what to do, what to write down, what it means.

Each :class:`Check` is a plain description (for a page or a terminal to show) with a pure function
``judge(values, kit)`` that turns the numbers into a
:class:`~plumbstar.diagnose.checks.judging.Verdict`. Nothing here knows of a screen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from plumbstar.diagnose.checks import judging
from plumbstar.diagnose.checks.judging import Number, State, Values, Verdict
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.text.advice import CHECK_TITLES, Advice, Do

__all__ = ["CHECKS", "SUN_FIRST", "Check", "Input", "Number", "State", "Verdict", "find"]

SUN_FIRST = (
    "The Sun first: know where it is before you take off a cap, keep the tube at least 20 degrees "
    "away from it all the time, never sweep toward it, and cap the finder. Children and passers-by "
    "look through anything that points somewhere."
)


@dataclass(frozen=True)
class Input:
    """One thing to write down. ``many``: a list, of at least ``at_least``; ``choices``: words;
    ``text``: any name.

    ``default`` None means that it must be given.
    """

    key: str
    label: str
    unit: str = "deg"
    many: bool = False
    at_least: int = 1
    low: float = -1e6
    high: float = 1e6
    default: float | str | None = None
    choices: tuple[str, ...] = ()
    text: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "key": self.key,
            "label": self.label,
            "unit": self.unit,
            "many": self.many,
            "at_least": self.at_least,
            "low": self.low,
            "high": self.high,
            "default": self.default,
            "choices": list(self.choices),
            "text": self.text,
        }


@dataclass(frozen=True)
class Check:
    """A check: what it is for, what it needs, the steps in plain words, and what to write down."""

    id: str
    title: str
    why: str
    needs: tuple[str, ...]
    steps: tuple[str, ...]
    inputs: tuple[Input, ...]
    judge: Callable[[Values, Kit], Verdict] = field(repr=False, compare=False)
    warning: str = ""

    def to_dict(self) -> dict[str, Any]:
        """The description, for a page to render."""
        return {
            "id": self.id,
            "title": self.title,
            "why": self.why,
            "needs": list(self.needs),
            "warning": self.warning,
            "steps": list(self.steps),
            "inputs": [i.to_dict() for i in self.inputs],
        }

    def read(self, raw: Values) -> dict[str, Any]:
        """Values as typed (text, numbers or lists of them) checked and with defaults filled in.

        Raises :class:`UserError` naming the input, what came and what was wanted.
        """
        keys = [i.key for i in self.inputs]
        for key in raw:
            if key not in keys:
                raise UserError(
                    f"'{key}' for the check {self.id}",
                    f"one of {', '.join(keys)}",
                    "Check the name",
                )
        return {i.key: read_one(i, raw.get(i.key), self.id) for i in self.inputs}

    def run(self, raw: Values, kit: Kit) -> Verdict:
        """:meth:`read`, then judge."""
        return self.judge(self.read(raw), kit)


def read_one(i: Input, raw: Any, check: str) -> Any:
    """One input as typed, checked; its default if it is empty. Raises :class:`UserError`."""
    empty = raw is None or raw == "" or (isinstance(raw, Sequence) and len(raw) == 0)
    if empty:
        if i.default is None:
            raise UserError(
                f"no {i.key} for the check {check}",
                f"{i.label}{f', in {i.unit}' if i.unit else ''}",
                Advice(Do.READ_THE_CHECK, f"{check}:{i.key}"),
            )
        return i.default
    if i.choices:
        word = str(raw[0] if isinstance(raw, list | tuple) else raw).strip().lower()
        if word not in i.choices:
            raise UserError(f"{i.key}={word}", " or ".join(i.choices), "Use one of these words")
        return word
    if i.text:
        return str(raw).strip()
    if isinstance(raw, str):
        parts: list[Any] = raw.replace(";", ",").replace("−", "-").replace(",", " ").split()
    elif isinstance(raw, Sequence):
        parts = list(raw)
    else:
        parts = [raw]
    numbers = []
    for part in parts:
        try:
            x = float(part)
        except (TypeError, ValueError):
            raise UserError(
                f"{i.key}: '{part}'", f"a number in {i.unit}", "Write it with a decimal point"
            ) from None
        if not (math.isfinite(x) and i.low <= x <= i.high):
            raise UserError(
                f"{i.key}: {x:g}{'°' if i.unit == 'deg' else f' {i.unit}'}",
                f"{i.low:g} to {i.high:g}",
                "Check it and its unit",
            )
        numbers.append(x)
    if not i.many:
        if len(numbers) != 1:
            raise UserError(f"{len(numbers)} numbers for {i.key}", "one", "Give one number")
        return numbers[0]
    if len(numbers) < i.at_least:
        raise UserError(
            f"{len(numbers)} for {i.key}", f"at least {i.at_least}", "Repeat it, and give them all"
        )
    return numbers


_AXIS = Input("axis", "which axis", "", default="azimuth", choices=("azimuth", "altitude"))


_MARK = Input(
    "mark_arcmin", "how closely you can return to the mark, 1 sigma", "arcmin",
    low=0.1, high=600, default=6.0,
)  # fmt: skip

CHECKS: tuple[Check, ...] = (
    Check(
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
            _MARK,
        ),
        judging.once_round,
    ),
    Check(
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
            _AXIS,
            _MARK,
        ),
        judging.there_and_back,
    ),
    Check(
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
        judging.stop_repeat,
    ),
    Check(
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
        judging.stop_direction,
    ),
    Check(
        "backlash",
        CHECK_TITLES["backlash"],
        "A mark come upon from the left and from the right should read the same.",
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
            _AXIS,
        ),
        judging.backlash,
        SUN_FIRST + " By day use a mark far from the Sun; a lamp at dusk is better.",
    ),
    Check(
        "level",
        CHECK_TITLES["level"],
        "Shows what your lean really costs, so that nobody wastes dusk on a bubble.",
        ("a spirit level or a board with a marble, if you like",),
        (
            "Lay a straight board on the ground board and find its steepest direction.",
            "Measure how much higher one end is than the other, and how long the board is.",
        ),
        (
            Input("rise_mm", "how much higher one end is", "mm", low=0, high=500),
            Input("over_mm", "over what length", "mm", low=50, high=5000, default=1000.0),
        ),
        judging.level,
    ),
    Check(
        "both-sides",
        CHECK_TITLES["both-sides"],
        "Gives the cone and the stop by daylight, with no star and no level.",
        ("a tube that can pass over the top", "a mark a kilometre away or more, near the horizon"),
        (
            "Wait until the Sun is down but the mark still shows. If it must be by day: the Sun "
            "off to one side, neither near the mark nor opposite to it, and the cap on for every "
            "swing.",
            "Centre the mark at high power. Write down azimuth and altitude readings.",
            "Cap the tube. Lift it over the top, turn the base half round, uncap, and centre the "
            "same mark again. Write both readings down: the altitude is now past 90.",
            "Three rounds.",
        ),
        (
            Input("direct_az", "azimuth readings, direct", many=True, low=-1e5, high=1e5),
            Input("direct_alt", "altitude readings, direct", many=True, low=-20, high=80),
            Input("reverse_az", "azimuth readings, over the top", many=True, low=-1e5, high=1e5),
            Input("reverse_alt", "altitude readings, over the top", many=True, low=0, high=200),
        ),
        judging.both_sides,
        SUN_FIRST + " Over the top the tube sweeps down the opposite side of the sky, where the "
        "Sun is if it was behind you: cap the tube before it moves.",
    ),
    Check(
        "drift-field",
        CHECK_TITLES["drift-field"],
        "Hit chances are only as good as the field they are for.",
        ("a star of known declination, near the celestial equator", "a stopwatch"),
        (
            "Choose a star within 30° of the celestial equator.",
            "Put it just outside the east edge of the field and keep your hands off.",
            "Time it from its appearance to its disappearance, through the middle of the field.",
            "Three times.",
        ),
        (
            Input("seconds", "times from edge to edge", "s", many=True, low=2, high=3600),
            Input("dec_deg", "the star's declination", low=-75, high=75),
            Input("eyepiece", "which eyepiece (default: the widest)", "", default="", text=True),
        ),
        judging.drift_field,
    ),
)  # fmt: skip


def find(name: str) -> Check:
    """The check of that id, or whose id begins so. Raises :class:`UserError`."""
    wanted = name.strip().lower().replace("_", "-").replace(" ", "-")
    hits = [c for c in CHECKS if c.id == wanted] or [c for c in CHECKS if c.id.startswith(wanted)]
    if wanted and len(hits) == 1:
        return hits[0]
    have = ", ".join(c.id for c in CHECKS)
    raise UserError(f"the check '{name}'", f"one of {have}", Advice(Do.CHOOSE_A_CHECK))
