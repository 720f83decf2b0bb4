"""One star centred: the raw fact from which everything else is derived."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.errors import UserError
from plumbstar.sky.times import Instant
from plumbstar.units import Array


@dataclass(frozen=True, slots=True)
class Sighting:
    """A star, where it truly was, and what the circles said.

    ``true_*`` is the observed place (refraction included) at ``utc``: where the tube pointed.
    ``reading_*`` is raw; the azimuth reading may run past 360 or below 0 when the counter does.
    """

    star: str
    true_az_deg: float
    true_alt_deg: float
    az_reading_deg: float
    alt_reading_deg: float
    utc: Instant | None = None
    eyepiece: str = ""

    def __post_init__(self) -> None:
        _within(self.star, "true azimuth", self.true_az_deg, -360.0, 720.0)
        _within(self.star, "true altitude", self.true_alt_deg, -90.0, 90.0)
        _readings(self.star, self.az_reading_deg, self.alt_reading_deg)


class Colour(Enum):
    """How a star looks to one who was asked."""

    ORANGE = auto()
    WHITE = auto()


#: B-V of a star that half of the people call orange, and how fast that changes. Common practice,
#: no source: Pollux (1.0) is seldom called orange, Arcturus (1.2) often, Aldebaran (1.5) mostly.
_ORANGE_BV, _BY_BV = 1.15, 0.12
#: So often the answer is a slip of the tongue, or of the eye.
_COLOUR_WRONG = 0.07


@dataclass(frozen=True, slots=True)
class Unnamed:
    """A bright star centred, nobody knows which: when, and what the circles said, as in
    :class:`Sighting`. ``colour``: what the observer said of it, if asked."""

    utc: Instant
    az_reading_deg: float
    alt_reading_deg: float
    eyepiece: str = ""
    colour: Colour | None = None

    def __post_init__(self) -> None:
        _readings("", self.az_reading_deg, self.alt_reading_deg)

    def looks_like(self, bv: Array) -> Array:
        """Probability (k,) of what was said of its colour if it were a star of B-V ``bv`` (k,)."""
        if self.colour is None:
            return np.ones(len(bv))
        return said_of(self.colour, bv)


def said_of(colour: Colour, bv: Array) -> Array:
    """Probability (k,) with which people say so of a star of B-V ``bv`` (k,)."""
    orange = 1.0 / (1.0 + np.exp(-(np.nan_to_num(bv, nan=0.6) - _ORANGE_BV) / _BY_BV))
    orange = _COLOUR_WRONG + (1.0 - 2.0 * _COLOUR_WRONG) * orange
    out: Array = orange if colour is Colour.ORANGE else 1.0 - orange
    return out


def _readings(star: str, az_deg: float, alt_deg: float) -> None:
    _within(star, "azimuth reading", az_deg, -1e5, 1e5)
    _within(star, "altitude reading", alt_deg, -360.0, 360.0)


def _within(star: str, what: str, value: float, low: float, high: float) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        who = f"{star}: " if star else ""
        raise UserError(
            f"{who}{what} {value:g}", f"degrees from {low:g} to {high:g}", "Correct that value"
        )
