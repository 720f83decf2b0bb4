"""The description of a check, and what was typed for it read.

Each :class:`Check` is a plain description (for a page or a terminal to show) with a pure function
``judge(values, kit)`` that turns the numbers into a
:class:`~plumbstar.diagnose.checks.verdict.Verdict`: first what was measured, as a record, then the
words for it (:func:`told`). Nothing here knows of a screen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from plumbstar.diagnose.checks.typed import coarseness, seconds_of, separate
from plumbstar.diagnose.checks.verdict import TYPED_STEP, Values, Verdict
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import many

SUN_FIRST = (
    "The Sun first: know where it is before you take off a cap, keep the tube at least 20 degrees "
    "away from it all the time, never sweep toward it, and cap the finder. Children and passers-by "
    "look through anything that points somewhere."
)


_UNITS = {"deg": "degrees", "arcmin": "minutes of arc", "s": "seconds"}


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

    @property
    def quoted(self) -> str:
        """Its label, as an error names it: the key is nothing to whoever fills in a form."""
        return f"“{self.label}”"

    @property
    def unit_words(self) -> str:
        """Its unit after a number: " in degrees"."""
        return f" in {_UNITS.get(self.unit, self.unit)}" if self.unit else ""


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

    def read(self, raw: Values) -> dict[str, Any]:
        """Values as typed (text, numbers or lists of them) checked and with defaults filled in, and
        how coarsely the readings were written (``TYPED_STEP``).

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
        read = {i.key: read_one(i, raw.get(i.key), self.id) for i in self.inputs}
        lists = [raw.get(i.key) for i in self.inputs if i.many and i.unit == "deg"]
        return {**read, TYPED_STEP: coarseness([x for x in lists if x is not None])}

    def run(self, raw: Values, kit: Kit) -> Verdict:
        """:meth:`read`, then judge."""
        return self.judge(self.read(raw), kit)


#: What a check has measured: a record of its own.
F = TypeVar("F")


def told(
    measure: Callable[[Values, Kit], F], say: Callable[[F], Verdict]
) -> Callable[[Values, Kit], Verdict]:
    """The judgement of a check: ``measure`` finds the facts, ``say`` has the words for them."""
    return lambda values, kit: say(measure(values, kit))


def read_one(i: Input, raw: Any, check: str) -> Any:
    """One input as typed, checked; its default if it is empty. Raises :class:`UserError`."""
    empty = raw is None or raw == "" or (isinstance(raw, Sequence) and len(raw) == 0)
    if empty:
        if i.default is None:
            raise UserError(
                f"nothing for {i.quoted}",
                f"{'numbers' if i.many else 'a number'}{i.unit_words}",
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
        parts: list[Any] = separate(raw, i.quoted, not i.many)
    elif isinstance(raw, Sequence):
        parts = list(raw)
    else:
        parts = [raw]
    numbers = []
    for part in parts:
        try:
            x = float(seconds_of(part) if i.unit == "s" and isinstance(part, str) else part)
        except (TypeError, ValueError):
            raise UserError(
                f"{i.quoted}: '{part}'",
                f"a number{i.unit_words}",
                "Write it with a decimal point",
            ) from None
        if not (math.isfinite(x) and i.low <= x <= i.high):
            raise UserError(
                f"{i.quoted}: {x:g}{'°' if i.unit == 'deg' else f' {i.unit}'}",
                f"{i.low:g} to {i.high:g}",
                "Check it and its unit",
            )
        numbers.append(x)
    if not i.many:
        if len(numbers) != 1:
            raise UserError(f"{len(numbers)} numbers for {i.quoted}", "one", "Give one number")
        return numbers[0]
    if len(numbers) < i.at_least:
        raise UserError(
            f"{many(len(numbers), 'number')} for {i.quoted}",
            f"at least {i.at_least}",
            "Repeat it, and give them all",
        )
    return numbers


#: Inputs that several checks ask for.
AXIS = Input("axis", "which axis", "", default="azimuth", choices=("azimuth", "altitude"))


MARK = Input(
    "mark_arcmin", "how closely you return to the mark, two times in three", "arcmin",
    low=0.1, high=600, default=6.0,
)  # fmt: skip
