"""Two stars as they stood, and what a number shown for them depends on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, N_TERMS, SET_DOWN
from plumbstar.sky.angles import between_rad
from plumbstar.turns import half_turn
from plumbstar.units import Array

Sign = Literal["measured-minus-true", "true-minus-measured"]
SIGNS: tuple[Sign, Sign] = ("measured-minus-true", "true-minus-measured")

#: How well a written time is known, 1 sigma, seconds, for each star. Common practice, no source.
TIME_SIGMA_S = 5.0
#: Below this sensitivity a number says too little of the stop to act on.
BLIND = 0.3

#: Where the stop is among the terms.
STOP = INDEX["altitude_zero"]


@dataclass(frozen=True)
class Pair:
    """Two stars as they stood. Places are (azimuth, altitude), degrees, refraction included.

    ``a`` and ``b`` at their own times, ``b_early`` star B at the time of star A. ``catalogue_deg``
    is the angle a controller takes as true, without the air; None: as observed at one moment.
    ``upright_seconds``: from setting the stop to star A, if known.
    """

    star_a: str
    star_b: str
    a_deg: tuple[float, float]
    b_deg: tuple[float, float]
    b_early_deg: tuple[float, float]
    seconds: float = 0.0
    catalogue_deg: float | None = None
    upright_seconds: float | None = None

    @property
    def places(self) -> Array:
        """(2, 2) radians: azimuth and altitude of A and B as sighted."""
        return np.radians([self.a_deg, self.b_deg])

    @property
    def together(self) -> float:
        """Angle between the stars as observed at one moment, radians."""
        return angle(np.radians([self.a_deg, self.b_early_deg]))

    @property
    def drift(self) -> float:
        """What the sky's turn between the two moments adds to the angle on the ground, radians."""
        return angle(self.places) - self.together

    @property
    def air(self) -> float:
        """What refraction adds to the angle (it lessens it, nearly always), radians."""
        if self.catalogue_deg is None:
            return 0.0
        return self.together - math.radians(self.catalogue_deg)

    @property
    def span_s(self) -> float:
        """First to last of stop, star A and star B, seconds."""
        times = [0.0, self.seconds, -(self.upright_seconds or 0.0)]
        return max(times) - min(times)


@dataclass(frozen=True)
class ShownNumber:
    """One number shown for one pair; degrees, the sign as the controller shows it."""

    shown_deg: float
    pair: Pair
    label: str = ""


def angle(places: Array) -> float:
    """Angle between two places (2, 2), azimuth and altitude, radians."""
    d = kinematics.unit(places[:, 0], places[:, 1])
    return float(between_rad(d[0], d[1]))


def sensitivities(places: Array) -> Array:
    """Derivative (12,) of the measured angle by each term at zero terms; ``places`` (2, 2) radians.

    With zero terms a reading is a direction, and a term that moves the tube by e moves the reading
    by -e; so the angle changes by minus the pull of both ends along the line that joins them.
    """
    # A hand turns the shorter way, so that is the turn on which a scale error acts.
    turned = places.copy()
    turned[1, 0] = places[0, 0] + half_turn(float(places[1, 0] - places[0, 0]))
    d, J = kinematics.direction_jacobian(turned, np.zeros(N_TERMS))
    along_a = d[1] - d[0] * (d[0] @ d[1])
    along_b = d[0] - d[1] * (d[0] @ d[1])
    along_a, along_b = along_a / np.linalg.norm(along_a), along_b / np.linalg.norm(along_b)
    out: Array = along_a @ J[0] + along_b @ J[1]
    return out


def stop_for(number: float, places: Array, limit: float = math.radians(20.0)) -> float | None:
    """The altitude zero, radians, that alone would give that misclosure; None within ``limit``.

    Exact (no small angles): the misclosure is followed from zero toward the sign that helps, and
    the crossing is halved down. None for a pair that sees too little of the stop.
    """
    stars = kinematics.unit(places[:, 0], places[:, 1])
    wanted = number + float(between_rad(stars[0], stars[1]))

    def at(e0: Array) -> Array:
        """Measured angle less the wanted one, (m,), for altitude zeros (m,)."""
        terms = np.zeros((len(e0), 1, N_TERMS))
        terms[:, 0, STOP] = e0
        read = kinematics.reading_of(stars, terms)
        d = kinematics.unit(read[..., 0], read[..., 1])
        return np.asarray(between_rad(d[:, 0], d[:, 1])) - wanted

    f_low = float(at(np.zeros(1))[0])
    if f_low == 0.0:
        return 0.0
    side = math.copysign(1.0, -f_low)  # the angle grows with the altitude zero
    low, high = 0.0, side * limit
    # Eighty steps, then each bracket in forty: after nine rounds it is narrower than 1e-13 rad.
    for steps in (80, *(9 * [40])):
        grid = np.linspace(low, high, steps + 1)
        over = np.flatnonzero(at(grid[1:]) * f_low <= 0)
        if not len(over):
            if steps == 80:
                return None
            break
        low, high = float(grid[over[0]]), float(grid[over[0] + 1])
    return (low + high) / 2


def noise_variance(pair: Pair, noise: Noise, clockless: float = 1.0) -> float:
    """Variance of the number, radians^2: two centrings, two readings, and the written times.

    ``clockless`` 1 where drift counts in full, 0 where the controller has a clock.
    """
    places = pair.places
    d = kinematics.unit(places[:, 0], places[:, 1])
    basis = kinematics.tangent_basis(places[:, 0], places[:, 1])
    var = noise.variances(places[:, 1])
    total = 0.0
    for i in (0, 1):
        along = d[1 - i] - d[i] * (d[0] @ d[1])
        along = basis[i] @ (along / np.linalg.norm(along))
        total += float(np.sum(along**2 * var[i]))
    if pair.seconds:
        rate = pair.drift / pair.seconds
        total += clockless * 2.0 * (rate * TIME_SIGMA_S) ** 2
    return total


def seen_prior(priors: Priors) -> tuple[Array, Array]:
    """Mean and variance (12,) with what the number is blind to set to zero."""
    mean = priors.mean.copy()
    var = np.where(np.isinf(priors.sigma), 0.0, priors.sigma) ** 2
    for name in SET_DOWN:
        mean[INDEX[name]] = var[INDEX[name]] = 0.0
    return mean, var


def signed(shown_deg: float, sign: Sign) -> float:
    """The number as measured minus true, radians. Raises UserError."""
    if sign not in SIGNS:
        raise UserError(f"the sign '{sign}'", " or ".join(SIGNS), "Use one of them")
    if not (math.isfinite(shown_deg) and abs(shown_deg) <= 180.0):
        raise UserError(
            f"the number {shown_deg:g}", "degrees from -180 to 180", "Read the display again"
        )
    return math.radians(shown_deg) * (1.0 if sign == SIGNS[0] else -1.0)


def check(pair: Pair) -> None:
    """Refuse a pair that cannot have been sighted. Raises UserError."""
    for star, (_, alt) in ((pair.star_a, pair.a_deg), (pair.star_b, pair.b_deg)):
        if alt < 0:
            raise UserError(
                f"{star} was {-alt:.0f} degrees below the horizon at that time",
                "",
                "Check the date, the zone (times are UTC), the site and the name",
            )
    apart = math.degrees(angle(pair.places))
    if not 0.5 <= apart <= 179.5:
        raise UserError(
            f"{pair.star_a} and {pair.star_b}, {apart:.1f} deg apart",
            "two stars in different places",
            "Check the two names",
        )
