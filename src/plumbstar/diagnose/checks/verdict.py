"""What a check says: a verdict, its numbers with their intervals, and helpers for every check.

Intervals are 95 % and honest about few readings (:mod:`plumbstar.solve.smallsample`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from plumbstar.errors import UserError
from plumbstar.kit import Circle, Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.words import TERM_WORDS, many
from plumbstar.turns import half_turn_deg

#: As :meth:`plumbstar.diagnose.checks.check.Check.read` gives them: degrees, lists of them, words.
Values = Mapping[str, Any]
#: The key under which they have the step of the readings as written, degrees; 0 if not known.
TYPED_STEP = "typed_step_deg"
State = Literal["good", "mend", "unsure"]


@dataclass(frozen=True)
class Number:
    """One result, with its 95 % interval where there is one."""

    key: str
    label: str
    value: float
    unit: str = "deg"
    low: float | None = None
    high: float | None = None
    is_chance: bool = False

    def __str__(self) -> str:
        if self.low is None or self.high is None:
            return f"{self.label}: {_figures(self.value)} {self.unit}".rstrip()
        return (
            f"{self.label}: {_figures(self.value)} {self.unit} "
            f"({_figures(self.low)} to {_figures(self.high)})"
        )


def _figures(x: float) -> str:
    """Three figures of a small number, five of a large one: counts and degrees of a turn."""
    if abs(x) < 1e-6:  # what arithmetic leaves of nothing
        return "0"
    return f"{x:.3g}" if abs(x) < 10 else f"{x:.5g}"


@dataclass(frozen=True)
class Verdict:
    """What the numbers mean: one sentence, the figures, and what to do.

    ``keys``: what the mend writes into the kit (heading, key, value). ``on_pages``: the mend's
    words where one press does that, or it is done elsewhere than at a terminal; empty for the same.
    """

    state: State
    sentence: str
    numbers: tuple[Number, ...]
    mend: str
    keys: tuple[tuple[str, str, object], ...] = ()
    on_pages: str = ""


def number_of(key: str, label: str, e: few.Estimate, unit: str = "deg") -> Number:
    """An estimate as a number with its interval, where it has one."""
    known = math.isfinite(e.low)
    return Number(key, label, e.value, unit, e.low if known else None, e.high if known else None)


def chance_of(key: str, label: str, value: float) -> Number:
    """A hit chance."""
    return Number(key, label, value, "", is_chance=True)


def named(key: str) -> str:
    """A term with what a positive value means."""
    said = TERM_WORDS[key]
    return f"{said.name} ({said.positive})"


def circle_of(kit: Kit, axis: str) -> Circle:
    """The kit's circle of that axis."""
    return kit.azimuth if axis == "azimuth" else kit.altitude


def step_of(values: Values, circle: Circle) -> float:
    """The step of the readings, degrees: the circle's own, or as coarse as they were written."""
    return max(circle.resolution_deg, float(values.get(TYPED_STEP, 0.0)))


def same_length(values: Values, **named: str) -> None:
    """Raises :class:`UserError` unless there are as many of each; ``named``: key and words."""
    counts = {said: len(values[k]) for k, said in named.items()}
    if len(set(counts.values())) > 1:
        raise UserError(
            ", ".join(f"{many(n, 'reading')} {said}" for said, n in counts.items()),
            "as many of each",
            "Is one missing? Give one of each for every time you did it",
        )


def wrap(x: float) -> float:
    """An angle as -180 to 180 degrees."""
    return half_turn_deg(x)


def unfolded(values: Sequence[float], anchor: float) -> list[float]:
    """Readings of one place by a display that may start again at 360, all near ``anchor``."""
    return [anchor + wrap(x - anchor) for x in values]


def smallest_step(count: int, sigma: float, shares: Sequence[float]) -> float:
    """The smallest step that a chi-square of so many degrees of freedom would have found, of
    readings good to ``sigma``, at 1 % and in nine of ten cases.

    ``shares``: how much of the square of a step stays in the chi-square, for each place that it may
    be at; the least counts. By the normal distance above the root of the bound (1.28), which is a
    little more than the exact power asks.
    """
    root = math.sqrt(few.chi_square_quantile(0.99, count)) + 1.28
    return sigma * root / math.sqrt(min(shares))


def arcmin(deg: float) -> str:
    """A size in minutes of arc, or in degrees from one on."""
    return f"{abs(deg) * 60:.0f}'" if abs(deg) < 1 else f"{abs(deg):.2f}°"
