"""How uncertain an offset in the plane of the picture is, each way."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.units import Array


@dataclass(frozen=True)
class Spread:
    """Covariance of an offset, disc radii squared: right, down, and the two together."""

    right: float = 0.0
    down: float = 0.0
    both: float = 0.0

    @staticmethod
    def of(cov: Array) -> Spread:
        """From a covariance (2, 2), right then down."""
        return Spread(float(cov[0, 0]), float(cov[1, 1]), float(0.5 * (cov[0, 1] + cov[1, 0])))

    @staticmethod
    def even(sigma: float) -> Spread:
        """The same every way."""
        return Spread(sigma**2, sigma**2)

    def __add__(self, other: Spread) -> Spread:
        """Of two errors that know nothing of one another."""
        return Spread(self.right + other.right, self.down + other.down, self.both + other.both)

    def scaled(self, by: float) -> Spread:
        """Of ``by`` times the offset."""
        k = by * by
        return Spread(k * self.right, k * self.down, k * self.both)

    def along(self, right: float, down: float) -> float:
        """1 sigma along the direction (right, down); of a direction of no length, the largest."""
        s = math.hypot(right, down)
        if s == 0.0:
            half, apart = 0.5 * (self.right + self.down), 0.5 * (self.right - self.down)
            return math.sqrt(half + math.hypot(apart, self.both))
        x, y = right / s, down / s
        return math.sqrt(max(x * x * self.right + y * y * self.down + 2 * x * y * self.both, 0.0))

    def stretched(self, right: float, down: float) -> Spread:
        """With an error (right, down) of one known direction and that 1 sigma added."""
        return self + Spread(right * right, down * down, right * down)

    def pull2(self, right: float, down: float) -> float:
        """(right, down) in these sigmas, squared (Mahalanobis): chi-squared with two degrees."""
        det = self.right * self.down - self.both**2
        if det <= 0.0:
            return math.inf
        x = right * right * self.down + down * down * self.right - 2 * right * down * self.both
        return x / det


#: No error at all.
NONE = Spread()
