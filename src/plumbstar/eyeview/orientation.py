"""How the eyepiece turns the sky: a turn by the telescope, and one by where the eye is put to it.

Seen by eye, right is toward larger azimuth and up toward the zenith (docs/conventions.md). Two
mirrors, or lenses alone, turn that by half a turn. A star diagonal adds one mirror: left and right
change places. A prism that sets the image upright leaves it as it is.

Where the eyepiece sticks out at the side of the tube, the observer looks square to the tube with
the head upright, while the tube is tipped up by its altitude: the picture is turned by that angle
more. Derived by following the rays: mirror, flat, eyepiece (tests/eyeview/test_orientation.py does
it again with vectors). With the eyepiece at an end of the tube the head tips with the tube.
"""

from __future__ import annotations

import math

import numpy as np

from plumbstar.kit import EyepieceAt
from plumbstar.kit import View as ViewKind
from plumbstar.units import Array

#: What each view is called on a screen, and which telescopes give it.
KINDS: dict[ViewKind, tuple[str, str]] = {
    "upright": ("Upright", "as by eye: an image-erecting prism, or no telescope at all"),
    "turned": ("Turned", "by half a turn: two mirrors, or lenses without a diagonal"),
    "mirrored": ("Mirrored", "left and right changed: a star diagonal"),
    "mirrored_turned": ("Mirrored and turned", "upside down only: three mirrors"),
}

_FLIP = {
    "upright": (1.0, 1.0), "turned": (-1.0, -1.0), "mirrored": (-1.0, 1.0),
    "mirrored_turned": (1.0, -1.0),
}  # fmt: skip
_SIDE = {"end": 0.0, "right": 1.0, "left": -1.0}


def turn(view: ViewKind, eyepiece_at: EyepieceAt, alt_rad: float) -> Array:
    """Matrix (2, 2) from (right, up) on the sky to (right, up) as seen in the eyepiece.

    ``eyepiece_at`` is the side of the tube as one looks out along it. At the right-hand side the
    picture is turned anticlockwise by the altitude, at the left-hand side clockwise.
    """
    a = _SIDE[eyepiece_at] * alt_rad
    c, s = math.cos(a), math.sin(a)
    return np.array([[c, -s], [s, c]]) @ np.diag(_FLIP[view])


__all__ = ["KINDS", "ViewKind", "turn"]
