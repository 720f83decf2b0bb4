"""One star centred: the raw fact from which everything else is derived."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto

from plumbstar.errors import UserError
from plumbstar.sky.times import Instant


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


def _readings(star: str, az_deg: float, alt_deg: float) -> None:
    _within(star, "azimuth reading", az_deg, -1e5, 1e5)
    _within(star, "altitude reading", alt_deg, -360.0, 360.0)


def _within(star: str, what: str, value: float, low: float, high: float) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        who = f"{star}: " if star else ""
        raise UserError(
            f"{who}{what} {value:g}", f"degrees from {low:g} to {high:g}", "Correct that value"
        )
