"""The terms of the mount: their order, which of them last, and how each is shown."""

from __future__ import annotations

import math

from plumbstar.text.words import TERM_WORDS

#: The order of every vector of terms and every covariance in Plumbstar.
TERMS = (
    "azimuth_zero",
    "altitude_zero",
    "lean_north",
    "lean_west",
    "squareness",
    "cone",
    "droop",
    "azimuth_scale",
    "altitude_scale",
    "azimuth_runout_sin",
    "azimuth_runout_cos",
    "refraction",
)
N_TERMS = len(TERMS)
INDEX = {name: i for i, name in enumerate(TERMS)}

#: Terms that are new each time the base is set down; the others belong to the telescope.
SET_DOWN = ("azimuth_zero", "lean_north", "lean_west")
PERSISTENT = tuple(t for t in TERMS if t not in SET_DOWN)

#: The term of the upright stop, or of the altitude encoder's zero.
STOP = "altitude_zero"

#: The pure numbers among the terms: radians of error for each radian turned.
SCALES = ("azimuth_scale", "altitude_scale")


def shown_in(term: str) -> tuple[float, str]:
    """By how much a term is multiplied to be shown, and its unit then: degrees; scales percent."""
    unit = TERM_WORDS[term].unit
    return (100.0 if unit == "percent" else 180.0 / math.pi), unit
