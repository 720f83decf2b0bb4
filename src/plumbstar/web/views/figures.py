"""The numbers of a check as the pages show them."""

from __future__ import annotations

import math
import re

from plumbstar.diagnose.checks.verdict import Number
from plumbstar.text.words import chance


def figures(n: Number) -> str:
    """One number of a check with no more figures than its interval has earned.

    The last figure is of the size of the interval's half width; three figures without an interval.
    Chances are said as everywhere.
    """
    if n.is_chance:
        return f"{n.label}: {chance(n.value)}"
    half = (n.high - n.low) / 2.0 if n.low is not None and n.high is not None else 0.0
    size = half if half > 0.0 else abs(n.value) / 100.0
    places = min(4, max(0, -math.floor(math.log10(size)))) if size > 0.0 else 0
    unit = {"deg": "°", "arcmin": "′", "": ""}.get(n.unit, f" {n.unit}")

    def shown(x: float | None) -> str:
        text = f"{x:.{places}f}"
        return re.sub(r"^-", "", text) if float(text) == 0.0 else text.replace("-", "−")

    text = f"{n.label}: {shown(n.value)}{unit}"
    return text if half == 0.0 else f"{text} ({shown(n.low)} to {shown(n.high)})"
