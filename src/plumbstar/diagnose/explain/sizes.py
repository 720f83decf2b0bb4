"""Sizes and places in words, as several causes say them."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.mount import kinematics
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.text import words
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array

#: An axis as a newcomer calls it.
PLAIN_AXIS = {"azimuth": "left-right", "altitude": "up-down", "both": "left-right and up-down"}
#: Columns of a reading.
AXES = ("azimuth", "altitude")


def arc(degrees: float) -> str:
    """A size a person can picture: minutes of arc when small, else degrees."""
    a = abs(degrees)
    if a * 60 < 0.5:
        return "under 1′"
    return f"{a * 60:.0f}′" if a < 0.7 else f"{a:.1f}°"


def low(value_deg: float) -> str:
    """How far a reading is off; positive is low."""
    return f"{arc(value_deg)} {'low' if value_deg > 0 else 'high'}"


def lean(j: Judged) -> str:
    """How far the base leans, and toward where."""
    north, west = j.term_deg("lean_north")[0], j.term_deg("lean_west")[0]
    where = words.compass(one_turn_deg(math.degrees(math.atan2(-west, north))), 8)
    return f"{arc(math.hypot(north, west))} toward {where}"


def gap(o: Observations, after: int) -> str:
    """Between which two sightings."""
    return words.both(o.star(after), o.star(after + 1))


#: The mend of what the observer has told.
ALLOWED_FOR = "The fix allows for it, since you said so."


def moved_as_told(o: Observations, after: int) -> str:
    """What moved there is not for the sightings to name, where the observer has."""
    return f"something moved between {gap(o, after)}, as you said"


def then(j: Judged, nothing: Judged) -> str:
    """How well the sightings agree under a cause, against how well they do as written."""
    agree, plain = j.agree_deg(), nothing.agree_deg()
    if agree > 0.8 * plain:
        return f"the sightings agree about as well either way, to {arc(agree)}"
    return f"the sightings then agree to {arc(agree)}, where as written they miss by {arc(plain)}"


def beyond_usual(o: Observations, j: Judged, term: str, what: str, nothing: Judged) -> str:
    """A term's value with what was expected of it."""
    sigma = j.term_deg(term)[1]
    usual = math.degrees(o.prior.sigma[INDEX[term]])
    return f"{what} (± {sigma:.1f}°; within ± {usual:.1f}° was expected); {then(j, nothing)}."


def expected_reading(o: Observations, j: Judged, index: int) -> tuple[float, float]:
    """The reading, degrees, that one of the sightings should have had under a cause."""
    terms = j.mean[:N_TERMS] + j.best.shift[index] @ j.mean[N_TERMS:]
    d = kinematics.unit(o.true[index, 0], o.true[index, 1])
    return in_degrees(kinematics.reading_of(d, terms, float(o.readings[index, 0])))


def in_degrees(reading: Array) -> tuple[float, float]:
    """A reading (2,), radians, in degrees, azimuth within a turn."""
    az, alt = np.degrees(reading)
    return one_turn_deg(float(az)), float(alt)
