"""One star centred: the raw fact from which everything else is derived."""

from __future__ import annotations

import math
from dataclasses import dataclass

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
        for what, value, low, high in (
            ("true azimuth", self.true_az_deg, -360.0, 720.0),
            ("true altitude", self.true_alt_deg, -90.0, 90.0),
            ("azimuth reading", self.az_reading_deg, -1e5, 1e5),
            ("altitude reading", self.alt_reading_deg, -360.0, 360.0),
        ):
            if not (math.isfinite(value) and low <= value <= high):
                who = f"{self.star}: " if self.star else ""
                raise UserError(
                    f"{who}{what} {value:g}",
                    f"degrees from {low:g} to {high:g}",
                    "Correct that value",
                )
