"""What makes a push, or the look that follows, harder than it reads."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum, auto

#: From here up a small push turns the azimuth far; below the other the air dims and shakes.
OVERHEAD_DEG, LOW_DEG = 80.0, 10.0


class Snag(Enum):
    """One kind of it."""

    OVERHEAD = auto()
    BEHIND_SKYLINE = auto()
    LOW = auto()
    BEYOND_THE_TUBE = auto()


def snags(
    alt_deg: float, skyline_deg: float | None, limits_deg: tuple[float, float]
) -> Iterator[Snag]:
    """Those of a target so high. ``skyline_deg``: the skyline's height below it, where one is
    known; ``limits_deg``: from where to where the tube moves up and down.
    """
    if alt_deg > OVERHEAD_DEG:
        yield Snag.OVERHEAD
    if skyline_deg is not None and alt_deg < skyline_deg:
        yield Snag.BEHIND_SKYLINE
    elif alt_deg < LOW_DEG:
        yield Snag.LOW
    if not limits_deg[0] <= alt_deg <= limits_deg[1]:
        yield Snag.BEYOND_THE_TUBE
