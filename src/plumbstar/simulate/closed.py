"""A simulated closed controller: what it believes, and what its two lines show.

It shares nothing with the solver: its geometry is written out here in plain vectors. It takes the
stop as upright and the mount as perfect. From the directions of its two stars in the catalogue and
on its circles it makes one turn of the sky onto the circles, so that one star, the other, or the
middle of both comes out exactly; and by that turn it says what is left to push to any object.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from plumbstar.errors import UserError
from plumbstar.turns import half_turn_deg

#: Which of the two stars its turn brings out exactly; between: a point along the line.
Favoured = Literal["first", "halved", "second", "between"]
#: Where that point is, from the first star (0) to the second (1).
BETWEEN = 0.3

#: The sky's turn, degrees a second: 360 in a sidereal day of 86164.0905 s.
SKY_DEG_S = 360.0 / 86164.0905
UPRIGHT_DEG = 90.0

Vec = tuple[float, float, float]


def _toward(lon_deg: float, lat_deg: float) -> Vec:
    lon, lat = math.radians(lon_deg), math.radians(lat_deg)
    return math.cos(lat) * math.cos(lon), math.cos(lat) * math.sin(lon), math.sin(lat)


def _dot(a: Vec, b: Vec) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Vec, b: Vec) -> Vec:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _unit(a: Vec) -> Vec:
    size = math.sqrt(_dot(a, a))
    return a[0] / size, a[1] / size, a[2] / size


def _between_deg(a: Vec, b: Vec) -> float:
    c = _cross(a, b)
    return math.degrees(math.atan2(math.sqrt(_dot(c, c)), _dot(a, b)))


def _three(first: Vec, second: Vec, favoured: Favoured) -> tuple[Vec, Vec, Vec]:
    """Three axes from two directions: what comes out exactly, the pole, and what is left."""
    pole = _unit(_cross(first, second))
    part = {"first": 0.0, "halved": 0.5, "second": 1.0, "between": BETWEEN}[favoured]
    angle, across = math.radians(part * _between_deg(first, second)), _cross(pole, first)
    a, b = math.cos(angle), math.sin(angle)
    along = (
        a * first[0] + b * across[0],
        a * first[1] + b * across[1],
        a * first[2] + b * across[2],
    )
    return along, _cross(pole, along), pole


@dataclass(frozen=True)
class TaughtStar:
    """A star told to the controller: its name, the circles in degrees, and when, seconds."""

    name: str
    az_deg: float
    alt_deg: float
    at_s: float


@dataclass
class ClosedController:
    """``objects``: all it has in its lists, right ascension and declination in degrees; ``stars``:
    those it can be taught from. Moments are seconds of any clock that runs on.

    Without a ``clock`` it takes both stars as of one moment, and only counts from the second on.
    The circles turn as azimuth does: to the right is more.
    """

    stars: tuple[str, ...]
    objects: Mapping[str, tuple[float, float]]
    favoured: Favoured = "halved"
    clock: bool = True
    decimals: int = 1
    true_minus_measured: bool = False
    upright: bool = False
    taught: list[TaughtStar] = field(default_factory=list)

    def _sky(self, name: str, at_s: float) -> Vec:
        """Where an object stands among the stars as they have turned by then."""
        if name not in self.objects:
            raise UserError(
                f"The controller has no object '{name}'", "", "Choose one that it knows"
            )
        ra, dec = self.objects[name]
        began = self.taught[0].at_s if self.clock else self.taught[-1].at_s
        return _toward(ra - SKY_DEG_S * max(0.0, at_s - began), dec)

    # Right ascension grows to the left as azimuth grows to the right: so the longitude is -az.
    @staticmethod
    def _circles(az_deg: float, alt_deg: float) -> Vec:
        return _toward(-az_deg, alt_deg)

    def switch_on(self) -> None:
        """The tube stands on the stop: all before is forgotten."""
        self.upright, self.taught = True, []

    def tell(self, name: str, az_deg: float, alt_deg: float, at_s: float) -> None:
        """A star of its list is centred. Raises :class:`UserError` without the stop, or for
        another star."""
        if not self.upright:
            raise UserError("The controller waits for the stop", "", "Put the tube on the stop")
        if name not in self.stars:
            raise UserError(f"'{name}' is not in the controller's list", "", "Choose one that is")
        if len(self.taught) == 2:
            raise UserError("The controller has its two stars", "", "Switch it on again")
        if self.taught and self.taught[0].name == name:
            raise UserError(f"The first star was {name}, too", "", "Choose another one")
        self.taught.append(TaughtStar(name, az_deg, alt_deg, at_s))

    @property
    def ready(self) -> bool:
        """Whether it has its two stars."""
        return len(self.taught) == 2

    def _pairs(self) -> tuple[Vec, Vec, Vec, Vec]:
        """Both stars in the sky and on the circles."""
        a, b = self.taught
        at_a, at_b = (a.at_s, b.at_s) if self.clock else (b.at_s, b.at_s)
        sky = self._sky(a.name, at_a), self._sky(b.name, at_b)
        return (*sky, self._circles(a.az_deg, a.alt_deg), self._circles(b.az_deg, b.alt_deg))

    def number_deg(self) -> float:
        """The angle between the two as measured, less the true one, as it is shown."""
        # Both as they stand on the ground at their own moments: the sky's turn between them is in
        # the true angle only where a clock knows of it.
        sky_a, sky_b, on_a, on_b = self._pairs()
        true, measured = _between_deg(sky_a, sky_b), _between_deg(on_a, on_b)
        number = true - measured if self.true_minus_measured else measured - true
        return round(number, self.decimals) + 0.0

    def left_deg(
        self, name: str, az_deg: float, alt_deg: float, at_s: float
    ) -> tuple[float, float]:
        """What is left to push, right and up positive, from where the circles stand; not rounded.

        Raises :class:`UserError` before two stars, and for an object it has not.
        """
        if not self.ready:
            raise UserError("The controller has not been taught two stars", "", "Centre two stars")
        sky_a, sky_b, on_a, on_b = self._pairs()
        from_axes = _three(sky_a, sky_b, self.favoured)
        to_axes = _three(on_a, on_b, self.favoured)
        sky = self._sky(name, at_s)
        parts = [_dot(sky, axis) for axis in from_axes]
        x, y, z = (
            sum(p * axis[k] for p, axis in zip(parts, to_axes, strict=True)) for k in (0, 1, 2)
        )
        az = -math.degrees(math.atan2(y, x))
        alt = math.degrees(math.asin(max(-1.0, min(1.0, z))))
        return half_turn_deg(az - az_deg), alt - alt_deg
