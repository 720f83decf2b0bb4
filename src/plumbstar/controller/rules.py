"""The rules that observers pass on, each beside what the arithmetic says; :mod:`.say` words them.

All: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from plumbstar.controller.pair import BLIND, STOP, Pair, sensitivities


@dataclass(frozen=True)
class QuickRule:
    """Stop and both stars within a minute, better half of one. ``span_s``: what it took."""

    span_s: float
    drift_deg: float

    @property
    def says(self) -> Literal["fine", "acceptable", "too slow"]:
        if self.span_s <= 30:
            return "fine"
        return "acceptable" if self.span_s <= 60 else "too slow"

    @property
    def agrees(self) -> bool:
        """Whether the drift that the delay made bears the rule out."""
        return (self.says != "too slow") == (self.drift_deg < 0.25)


@dataclass(frozen=True)
class SmallNumberRule:
    """Within half a degree objects are in a field of about a degree; ``worst_deg``: the number."""

    worst_deg: float
    stop_deg: float
    stop_sigma_deg: float
    agrees: bool | None

    @property
    def says(self) -> Literal["in the field", "usable", "not good enough"]:
        if self.worst_deg <= 0.5:
            return "in the field"
        return "usable" if self.worst_deg <= 1.0 else "not good enough"


@dataclass(frozen=True)
class ThicknessRule:
    """Always positive: add thickness under the stop; always negative: remove some.

    ``adding``: what adding does to the tube on this kit, None where that is not known; ``ours``:
    what the arithmetic would do, None while the offset is too uncertain.
    """

    says: Literal["add", "remove"]
    numbers: int
    adding: Literal["raises", "lowers"] | None
    ours: Literal["add", "remove"] | None

    @property
    def agrees(self) -> bool | None:
        return None if self.ours is None else self.ours == self.says


Rule = QuickRule | SmallNumberRule | ThicknessRule


def rules_of_thumb(
    numbers_deg: Sequence[float],
    pairs: Sequence[Pair],
    stop: float,
    stop_sigma: float,
    adding: str = "unknown",
) -> tuple[Rule, ...]:
    """The rules that say something here. ``numbers_deg`` are measured minus true; ``stop`` and
    ``stop_sigma`` in radians."""
    worst = max(abs(x) for x in numbers_deg)
    near = abs(stop) + stop_sigma < math.radians(1)
    rules: list[Rule] = [
        QuickRule(
            max(p.span_s for p in pairs),
            math.degrees(max((abs(p.drift) for p in pairs), default=0.0)),
        ),
        SmallNumberRule(
            worst,
            math.degrees(stop),
            math.degrees(stop_sigma),
            None if abs(_weakest(pairs)) < BLIND else (worst <= 1.0) == near,
        ),
    ]
    low, high = min(numbers_deg), max(numbers_deg)
    wanted: Literal["add", "remove"] | None = None
    if low > 0 and 0.5 <= (low + high) / 2 <= 2.0:
        wanted = "add"
    elif high < 0:
        wanted = "remove"
    if wanted is not None:
        known: Literal["raises", "lowers"] | None = None
        if adding != "unknown":
            known = "raises" if adding == "raises" else "lowers"
        ours: Literal["add", "remove"] | None = None
        if known is not None and abs(stop) >= 2 * stop_sigma:
            ours = "add" if (stop > 0) == (known == "lowers") else "remove"
        rules.append(ThicknessRule(wanted, len(numbers_deg), known, ours))
    return tuple(rules)


def _weakest(pairs: Sequence[Pair]) -> float:
    return min(abs(float(sensitivities(p.places)[STOP])) for p in pairs)
