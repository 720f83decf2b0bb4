"""The rules that observers pass on, with bounds of this kit; :mod:`.say` words them.

The rules are common practice, no source; how quick, how small is worked out for the pair and the
field that things are found with.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from plumbstar.controller.pair import BLIND, STOP, Pair, sensitivities
from plumbstar.controller.ranking import at_zero_given, over_the_sky
from plumbstar.mount.priors import Noise, Priors

#: Sizes of the number that are tried for the bound, degrees.
NUMBERS_DEG = np.round(np.arange(0.0, 4.01, 0.1), 1)


@dataclass(frozen=True)
class QuickRule:
    """Stop and both stars quickly. ``span_s``: what it took. How quickly, for this pair and field:
    ``bound_s`` between the stars moves the number of a controller without a clock by a quarter of
    the field; None where no wait does."""

    span_s: float
    between_s: float
    drift_deg: float
    bound_s: float | None

    @property
    def says(self) -> Literal["fine", "too slow"]:
        return "fine" if self.bound_s is None or self.between_s <= self.bound_s else "too slow"

    @property
    def agrees(self) -> bool | None:
        """The bound is the arithmetic's own; without a drift there was nothing to hold it to."""
        return None if self.bound_s is None else True


@dataclass(frozen=True)
class SmallNumberRule:
    """A small number is good enough. How small, for this kit and this pair: ``bound_deg`` is the
    largest with which half of the objects are in the field at the controller's own zero, None
    where no number says so. ``worst_deg``: the number; ``chance``: with it."""

    worst_deg: float
    stop_deg: float
    stop_sigma_deg: float
    field_deg: float
    bound_deg: float | None
    chance: float
    agrees: bool | None

    @property
    def says(self) -> Literal["good enough", "not good enough", "nothing"]:
        if self.bound_deg is None:
            return "nothing"
        return "good enough" if self.worst_deg <= self.bound_deg else "not good enough"


@dataclass(frozen=True)
class ThicknessRule:
    """Always positive and larger than will do: add thickness under the stop; always negative:
    remove some.

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


@dataclass(frozen=True)
class Beheld:
    """What the bounds go by: the priors of the mount, the hand, and the field that objects are
    found with, degrees."""

    priors: Priors
    noise: Noise
    field_deg: float


def number_that_does(pair: Pair, kit: Beheld, worst_deg: float) -> tuple[float | None, float]:
    """The largest number, degrees, with which half of the objects are in the field at the zero,
    and the chance with ``worst_deg``. None where not even the smallest does, or any does."""
    sizes = np.radians(np.append(NUMBERS_DEG, worst_deg))
    told = at_zero_given(
        np.concatenate([sizes, -sizes]), pair.places, over_the_sky(), kit.priors,
        kit.noise.centring, kit.field_deg,
    )  # fmt: skip
    chances = told.reshape(2, -1).min(axis=0)  # the rule knows no side
    enough = chances[:-1] >= 0.5
    bound = float(NUMBERS_DEG[enough][-1]) if enough.any() and not enough.all() else None
    return bound, float(chances[-1])


def rules_of_thumb(
    numbers_deg: Sequence[float],
    pairs: Sequence[Pair],
    stop: float,
    stop_sigma: float,
    kit: Beheld,
    adding: str = "unknown",
) -> tuple[Rule, ...]:
    """The rules that say something here. ``numbers_deg`` are measured minus true; ``stop`` and
    ``stop_sigma`` in radians."""
    worst = max(abs(x) for x in numbers_deg)
    bound, chance = number_that_does(pairs[int(np.argmax(np.abs(numbers_deg)))], kit, worst)
    g = abs(_weakest(pairs))
    # Whether the stop that all evidence together gives would alone show no more than the bound.
    near = g * abs(stop) <= math.radians(bound or 0.0)
    rules: list[Rule] = [
        _quick(pairs, kit.field_deg),
        SmallNumberRule(
            worst,
            math.degrees(stop),
            math.degrees(stop_sigma),
            kit.field_deg,
            bound,
            chance,
            None if g < BLIND or bound is None else (worst <= bound) == near,
        ),
    ]
    low, high = min(numbers_deg), max(numbers_deg)
    wanted: Literal["add", "remove"] | None = None
    if worst > (bound or 0.0) and (low > 0 or high < 0):
        wanted = "add" if low > 0 else "remove"
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


def _quick(pairs: Sequence[Pair], field_deg: float) -> QuickRule:
    """Of the pair whose drift was the largest."""
    p = max(pairs, key=lambda p: abs(p.drift))
    drift, between = abs(math.degrees(p.drift)), abs(p.seconds)
    bound = field_deg / 4.0 * between / drift if drift > 0.001 and between > 0 else None
    return QuickRule(max(x.span_s for x in pairs), between, drift, bound)
