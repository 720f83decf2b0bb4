"""Intervals from few readings, without pretending that few are many.

Student's t for integer degrees of freedom from the finite sums of Abramowitz and Stegun 1964,
eqs. 26.7.3 and 26.7.4; chi-square from 26.4.4 and 26.4.5. Quantiles by
halving. Readings are rounded to a step, so a spread of nought only says "below the step": it is
never taken as smaller than step / sqrt 12, the sigma of a rounding.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from plumbstar.errors import UserError

#: The level of every interval here.
LEVEL = 0.95


@dataclass(frozen=True)
class Estimate:
    """A value with its 95 % interval, the spread of single readings, and how many there were.

    ``low`` and ``high`` are infinite where one reading allows no interval.
    """

    value: float
    low: float
    high: float
    spread: float
    count: int

    @property
    def sure_sign(self) -> bool:
        """Whether the interval leaves out nought."""
        return self.low > 0 or self.high < 0


def t_within(t: float, dof: int) -> float:
    """P(|T| < t) for Student's t with ``dof`` degrees of freedom, a whole number from 1."""
    theta = math.atan(t / math.sqrt(dof))
    s, c2 = math.sin(theta), math.cos(theta) ** 2
    if dof % 2:
        term, total = math.cos(theta), 0.0
        for i in range(1, dof - 1, 2):
            total += term
            term *= c2 * (i + 1) / (i + 2)
        return 2.0 / math.pi * (theta + s * total)
    term, total = 1.0, 0.0
    for i in range(0, dof - 1, 2):
        total += term
        term *= c2 * (i + 1) / (i + 2)
    return s * total


def chi_square_survival(x: float, dof: int) -> float:
    """P(chi-square > x), by the finite sums for even and odd degrees of freedom.

    Abramowitz and Stegun 1964, eqs. 26.4.4 and 26.4.5.
    """
    if x <= 0:
        return 1.0
    if dof % 2:
        root = math.sqrt(x)
        term, total = root, 0.0
        for r in range(1, (dof - 1) // 2 + 1):
            total += term
            term *= x / (2 * r + 1)
        return math.erfc(root / math.sqrt(2)) + math.sqrt(2 / math.pi) * math.exp(-x / 2) * total
    term, total = 1.0, 1.0
    for r in range(1, dof // 2):
        term *= x / (2 * r)
        total += term
    return math.exp(-x / 2) * total


def _find(f: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Where a rising function passes ``wanted``."""
    while f(high) < wanted:
        high *= 2.0
    for _ in range(200):
        middle = (low + high) / 2
        if f(middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def t_quantile(dof: int, level: float = LEVEL) -> float:
    """t such that P(|T| < t) = ``level``."""
    return _find(lambda t: t_within(t, dof), level, 0.0, 10.0)


def chi_square_quantile(p: float, dof: int) -> float:
    """x such that P(chi-square < x) = ``p``."""
    return _find(lambda x: 1.0 - chi_square_survival(x, dof), p, 0.0, 10.0)


def spread_of(values: Sequence[float], step: float = 0.0) -> float:
    """Standard deviation of single readings (n - 1), never below the rounding's own."""
    n = len(values)
    floor = step / math.sqrt(12.0)
    if n < 2:
        return floor
    mean = math.fsum(values) / n
    return max(math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1)), floor)


def mean_of(values: Sequence[float], step: float = 0.0) -> Estimate:
    """Mean with its t-interval. Raises :class:`UserError` without values."""
    n = len(values)
    if n == 0:
        raise UserError("no readings", "at least one", "Write them down and give them all")
    mean, s = math.fsum(values) / n, spread_of(values, step)
    if n == 1:
        return Estimate(mean, -math.inf, math.inf, s, 1)
    half = t_quantile(n - 1) * s / math.sqrt(n)
    return Estimate(mean, mean - half, mean + half, s, n)


def difference_of(a: Sequence[float], b: Sequence[float], step: float = 0.0) -> Estimate:
    """Mean of ``b`` minus mean of ``a``, unequal spreads: Welch 1947, Biometrika 34, 28.

    The degrees of freedom are rounded down. With one reading on a side its spread is taken from
    the other side; with one on each there is no interval.
    """
    if len(a) == 0 or len(b) == 0:
        raise UserError("readings on one side only", "some on both", "Give both")
    value = math.fsum(b) / len(b) - math.fsum(a) / len(a)
    if len(a) + len(b) == 2:
        return Estimate(value, -math.inf, math.inf, step / math.sqrt(12.0), 2)
    sa, sb = spread_of(a, step), spread_of(b, step)
    if len(a) == 1 or len(b) == 1:
        s = sb if len(a) == 1 else sa
        dof = max(len(a), len(b)) - 1
        error = s * math.sqrt(1 / len(a) + 1 / len(b))
    else:
        va, vb = sa * sa / len(a), sb * sb / len(b)
        error = math.sqrt(va + vb)
        bottom = va * va / (len(a) - 1) + vb * vb / (len(b) - 1)
        dof = max(1, math.floor((va + vb) ** 2 / bottom)) if bottom > 0 else len(a) + len(b) - 2
    half = t_quantile(dof) * error
    return Estimate(value, value - half, value + half, max(sa, sb), len(a) + len(b))


def spread_interval(values: Sequence[float], step: float = 0.0) -> Estimate:
    """The spread itself with its chi-square interval. Needs two readings (UserError)."""
    n = len(values)
    if n < 2:
        raise UserError(f"{n} reading", "at least two", "Repeat it: five or ten times are better")
    s = spread_of(values, step)
    low = s * math.sqrt((n - 1) / chi_square_quantile((1 + LEVEL) / 2, n - 1))
    high = s * math.sqrt((n - 1) / chi_square_quantile((1 - LEVEL) / 2, n - 1))
    return Estimate(s, low, high, s, n)


def slope_of(values: Sequence[float], step: float = 0.0) -> Estimate:
    """Change from one reading to the next, by least squares, with its t-interval; from three."""
    n = len(values)
    if n < 3:
        return Estimate(0.0, -math.inf, math.inf, spread_of(values, step), n)
    xbar, ybar = (n - 1) / 2, math.fsum(values) / n
    sxx = math.fsum((i - xbar) ** 2 for i in range(n))
    slope = math.fsum((i - xbar) * (v - ybar) for i, v in enumerate(values)) / sxx
    left = [v - ybar - slope * (i - xbar) for i, v in enumerate(values)]
    s = max(math.sqrt(math.fsum(r * r for r in left) / (n - 2)), step / math.sqrt(12.0))
    half = t_quantile(n - 2) * s / math.sqrt(sxx)
    return Estimate(slope, slope - half, slope + half, s, n)
