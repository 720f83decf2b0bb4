"""Numbers as the pages get them: no more figures than a screen can use, so that little is sent."""

from __future__ import annotations

import math

from plumbstar.mount.terms import SCALES


def number(x: float | None, digits: int = 4) -> float | None:
    """Rounded, or None when there is no such number."""
    return None if x is None or not math.isfinite(x) else round(float(x), digits)


def rounded(x: float, digits: int = 4) -> float:
    """Rounded, for what is always a number: the contract promises the pages one."""
    return round(float(x), digits)


def in_its_unit(
    term: str, value: float, sigma: float
) -> tuple[float | None, float | None, float | None, float | None]:
    """A term of the mount and its sigma, radians or a ratio: both in degrees, both in percent.

    A scale has no degrees, and all the others no percent: None.
    """
    if term in SCALES:
        return None, None, rounded(100.0 * value, 3), rounded(100.0 * sigma, 3)
    return rounded(math.degrees(value), 3), rounded(math.degrees(sigma), 3), None, None
