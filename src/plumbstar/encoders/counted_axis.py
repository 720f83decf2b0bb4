"""One axis of a counter: how many ticks it went, wraps undone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from plumbstar.encoders.parse import Counts
from plumbstar.mount.slips import Axis

_BIT_MODULI: Final = (2**16, 2**24, 2**32)


@dataclass(slots=True)
class CountedAxis:
    """One axis: ``raw`` as last believed, ``total`` continuous; ``low``..``high`` is raw seen."""

    name: Axis
    ticks: int
    raw: int
    total: int
    low: int
    high: int
    # Where the other axis has been since this one last changed: [least, greatest].
    other_low: int = 0
    other_high: int = 0

    def ticks_in(self, deg: float) -> float:
        # Never under two ticks: a line that dithers between two counts is no jump.
        return max(2.0, deg * self.ticks / 360.0)

    def step(self, raw: int, allowed: float) -> int | None:
        """Ticks moved, wraps undone; None if nothing within ``allowed`` explains it."""
        straight = raw - self.raw
        if abs(straight) <= allowed:
            return straight
        low, high = min(self.low, raw), max(self.high, raw)
        ways = [
            straight - m * round(straight / m)
            for m in {self.ticks, *_BIT_MODULI}
            if m > 2.0 * allowed and _fits(low, high, m)
        ]
        step = min(ways, key=lambda d: (abs(d), d), default=None)
        return step if step is not None and abs(step) <= allowed else None

    def take(self, raw: int, step: int) -> None:
        self.total += step
        self.raw = raw
        self.low, self.high = min(self.low, raw), max(self.high, raw)


Axes = tuple[CountedAxis, CountedAxis]


def both_ticks_in(axes: Axes, deg: float) -> tuple[float, float]:
    return axes[0].ticks_in(deg), axes[1].ticks_in(deg)


def both_steps(axes: Axes, counts: Counts, allowed: tuple[float, float]) -> tuple[int, int] | None:
    """Ticks moved on each axis; None if either count does not follow from its last."""
    az = axes[0].step(counts.az, allowed[0])
    alt = axes[1].step(counts.alt, allowed[1])
    return None if az is None or alt is None else (az, alt)


def _fits(low: int, high: int, modulus: int) -> bool:
    """Could a counter of this modulus show both? Unsigned, signed, or a remainder below zero."""
    return (
        (low >= 0 and high <= modulus)
        or (low >= -modulus // 2 - 1 and high <= modulus // 2 + 1)
        or (low >= -modulus and high <= 0)
    )


def nearest_zero(raw: int, ticks: int) -> int:
    """A first count read as signed where that makes sense: 65530 of 16 bits is six below zero.

    Only beyond 400 degrees, where no altitude can be; azimuth's zero is free, so there it does no
    harm either way.
    """
    if abs(raw) * 360.0 <= 400.0 * ticks:
        return raw
    for m in _BIT_MODULI:
        if m // 2 <= raw < m and (m - raw) * 360.0 <= 400.0 * ticks:
            return raw - m
    return raw
