"""Stars easily taken for one another: which, and how they differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plumbstar.sky.angles import offset_rad
from plumbstar.sky.frame import frame
from plumbstar.sky.lists.catalogue import Catalogue, Star
from plumbstar.sky.places import Directions, in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array, Indices

#: A hand's breadth at arm's length, degrees: as far as a wrong star is likely to be.
HAND_DEG = 10.0
#: Stars within this many magnitudes can be taken for one another.
ALIKE_MAG = 1.0


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A star easily taken for another: where it lies from the wanted one, and how it differs."""

    star: Star
    distance_deg: float
    right_deg: float
    up_deg: float


def lookalikes_among(
    catalogue: Catalogue,
    index: Indices,
    mag: Array,
    az: Array,
    alt: Array,
    rows: Indices,
) -> list[tuple[LookAlike, ...]]:
    """For each of ``rows`` its neighbours within a hand's breadth and a magnitude, the most alike
    first; at most three."""
    fainter = mag - mag[rows, None]
    # Most stars are another magnitude or height: those few alone are measured.
    few = (np.abs(fainter) < ALIKE_MAG) & (np.abs(alt - alt[rows, None]) < np.radians(HAND_DEG))
    one, other = np.nonzero(few)
    offset = np.degrees(offset_rad(az[rows[one]], alt[rows[one]], az[other], alt[other]))
    apart = np.hypot(*offset.T)
    # The nearer in brightness and the closer, the easier the mistake.
    unlike = np.abs(fainter[one, other]) + apart / HAND_DEG
    near = np.flatnonzero((apart < HAND_DEG) & (apart > 0.25))
    near = near[np.lexsort((unlike[near], one[near]))]
    alike: list[list[LookAlike]] = [[] for _ in rows]
    for i in near:
        if len(found := alike[one[i]]) < 3:
            star = catalogue[int(index[other[i]])]
            found.append(LookAlike(star, float(apart[i]), *map(float, offset[i])))
    return [tuple(found) for found in alike]


def lookalikes_of(
    star: Star, catalogue: Catalogue, instant: Instant, site: Site
) -> tuple[LookAlike, ...]:
    """The look-alikes of any one star as it stands at a moment."""
    bright = catalogue.brighter_than(star.v_mag + ALIKE_MAG)
    az, alt = in_frame(frame(instant, site), Directions.take(catalogue, bright))
    rows = [k for k, i in enumerate(bright) if catalogue[int(i)].key == star.key]
    if not rows:
        return ()
    mag = catalogue.v_mag[bright]
    return lookalikes_among(catalogue, bright, mag, az, alt, np.array(rows[:1]))[0]
