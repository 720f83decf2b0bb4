"""What people say of a star's colour."""

from __future__ import annotations

import numpy as np

from plumbstar.mount.sighting import Colour
from plumbstar.units import Array

#: B-V of a star that half of the people call orange, and how fast that changes. Common practice,
#: no source: Pollux (1.0) is seldom called orange, Arcturus (1.2) often, Aldebaran (1.5) mostly.
ORANGE_BV, _BY_BV = 1.15, 0.12
#: So often the answer is a slip of the tongue, or of the eye.
_WRONG = 0.07


def said_of(colour: Colour | None, bv: Array) -> Array:
    """Probability (k,) with which people say so of a star of B-V ``bv`` (k,); 1 for nothing."""
    if colour is None:
        return np.ones(len(bv))
    orange = 1.0 / (1.0 + np.exp(-(np.nan_to_num(bv, nan=0.6) - ORANGE_BV) / _BY_BV))
    orange = _WRONG + (1.0 - 2.0 * _WRONG) * orange
    out: Array = orange if colour is Colour.ORANGE else 1.0 - orange
    return out
