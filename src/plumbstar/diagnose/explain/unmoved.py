"""Two stars with one reading: between them the tube was not moved, whatever else may be so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.mount.sighting import Sighting
from plumbstar.sky.angles import separation_rad

#: Readings nearer to one another than this are the same; stars further apart than that are not in
#: one field. Common practice, no source.
SAME_DEG, APART_DEG = 0.5, 5.0


@dataclass(frozen=True)
class Unmoved:
    """Sightings ``first`` and ``second`` (indices) have the same reading, and their stars stand
    ``apart_deg`` from one another."""

    first: int
    second: int
    apart_deg: float

    def sentence(self, stars: Sequence[str], at_star: bool = True) -> str:
        """For the first line of an answer. ``at_star``: whether a star may be sighted."""
        a, b = stars[self.first], stars[self.second]
        return (
            f"The tube did not move between {a} and {b}: the circles read the same for both, and "
            f"the two stand {self.apart_deg:.0f}° apart. One of the two was not centred: set it "
            f"aside{', and sight it again' if at_star else ''}."
        )


def unmoved(sightings: Sequence[Sighting]) -> Unmoved | None:
    """The first such two, one after the other; None where the tube moved each time."""
    for k in range(1, len(sightings)):
        a, b = sightings[k - 1], sightings[k]
        apart = _apart(a.true_az_deg, a.true_alt_deg, b.true_az_deg, b.true_alt_deg)
        read = _apart(a.az_reading_deg, a.alt_reading_deg, b.az_reading_deg, b.alt_reading_deg)
        if read < SAME_DEG and apart > APART_DEG:
            return Unmoved(k - 1, k, apart)
    return None


def _apart(*angles_deg: float) -> float:
    """Between two directions given as azimuth and altitude twice, degrees."""
    return float(np.degrees(separation_rad(*np.radians(angles_deg))))
