"""Where the telescope stands."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from plumbstar.errors import UserError
from plumbstar.sky import coordinates

#: What a zenith sky can have, V magnitudes a square arcsecond, and where it has how much.
ZENITH_MAG = (14.0, 23.0)
ZENITH_USUAL = "A city has about 18, a dark mountain 21.8"


@dataclass(frozen=True, slots=True)
class Site:
    """A place on Earth. Longitude is east-positive; elevation is above sea level.

    Pressure follows from the elevation unless it was measured (``pressure_hpa``). ``time_zone`` is
    an IANA name, for showing times to a person only (:mod:`plumbstar.sky.local_time`), "" for UTC.
    ``zenith_mag`` is the darkest zenith sky without Moon, V magnitudes a square arcsecond, None
    while nobody said.
    """

    lat_deg: float
    lon_deg: float
    elevation_m: float = 0.0
    temperature_c: float = 10.0
    pressure_hpa: float | None = None
    name: str = ""
    time_zone: str = ""
    zenith_mag: float | None = None

    def __post_init__(self) -> None:
        for what, value, low, high in (
            ("latitude", self.lat_deg, -90.0, 90.0),
            ("longitude", self.lon_deg, -180.0, 360.0),
            ("elevation", self.elevation_m, -500.0, 9000.0),
            ("temperature", self.temperature_c, -90.0, 60.0),
        ):
            if not (math.isfinite(value) and low <= value <= high):
                raise UserError(
                    f"a site's {what} of {value:g}",
                    f"{low:g} to {high:g}",
                    "Give latitude, longitude (east positive), elevation in metres",
                )
        # Whether the database knows the name is asked where it is typed: a record from another
        # computer must load here all the same.
        if not re.fullmatch(r"[A-Za-z0-9_+/-]{0,64}", self.time_zone):
            raise UserError(
                f"the time zone '{self.time_zone[:60]}'", "an area and a town", "As Europe/Rome"
            )
        if self.zenith_mag is not None and not ZENITH_MAG[0] <= self.zenith_mag <= ZENITH_MAG[1]:
            raise UserError(
                f"a zenith sky of {self.zenith_mag:g} magnitudes a square arcsecond",
                f"{ZENITH_MAG[0]:g} to {ZENITH_MAG[1]:g}",
                ZENITH_USUAL,
            )

    @staticmethod
    def parse(text: str) -> Site:
        """Read ``47.2,11.6,940`` or any usual form (:mod:`plumbstar.sky.coordinates`)."""
        c = coordinates.parse(text)
        return Site(c.lat_deg, c.lon_deg, c.elevation_m, name=c.name)

    @property
    def pressure(self) -> float:
        """Air pressure, hPa: as measured, or from the elevation.

        ICAO standard atmosphere, Doc 7488: p = 1013.25 (1 - 2.25577e-5 h)^5.25588 (memory).
        Weather moves it by 3 %, which moves refraction by 3 %: 2 arcsec at 45 deg up.
        """
        if self.pressure_hpa is not None:
            return self.pressure_hpa
        return float(1013.25 * (1.0 - 2.25577e-5 * self.elevation_m) ** 5.25588)
