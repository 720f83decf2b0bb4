"""The skyline: how high the trees and roofs stand, against azimuth."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from plumbstar.errors import UserError
from plumbstar.units import Array


@dataclass(frozen=True, slots=True)
class Skyline:
    """Points (azimuth, altitude), degrees, joined by straight lines right round the horizon."""

    points: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        for az, alt in self.points:
            if not (0 <= az <= 360 and -10 <= alt <= 90):
                raise UserError(
                    f"a skyline point {az:g}:{alt:g}",
                    "azimuth 0 to 360 and altitude -10 to 90 degrees",
                    "Write pairs as azimuth:altitude",
                )
        object.__setattr__(self, "points", tuple(sorted(self.points)))

    @staticmethod
    def parse(text: str) -> Skyline:
        """Read pairs ``azimuth:altitude`` separated by commas, spaces or lines; # starts a comment.

        Raises :class:`UserError` naming the pair that cannot be read.
        """
        bare = re.sub(r"#.*", "", text)
        points = []
        for pair in re.split(r"[,;\s]+", bare.strip()):
            if not pair:
                continue
            m = re.fullmatch(r"(\d+(?:\.\d*)?):(-?\d+(?:\.\d*)?)", pair)
            if m is None:
                raise UserError(
                    f"'{pair}' in the skyline",
                    "azimuth:altitude in degrees, as 315:25",
                    "Separate the pairs by spaces or commas",
                )
            points.append((float(m[1]), float(m[2])))
        return Skyline(tuple(points))

    def text(self) -> str:
        """The pairs, as :meth:`parse` reads them."""
        return " ".join(f"{az:g}:{alt:g}" for az, alt in self.points)

    def altitude_deg(self, az_deg: Array | float) -> Array:
        """Height (...) of the obstructions at azimuths (...), degrees; 0 where none is given."""
        az = np.asarray(az_deg, dtype=float)
        if not self.points:
            return np.zeros_like(az)
        x, y = np.array(self.points).T
        out: Array = np.interp(az, x, y, period=360.0)
        return out
