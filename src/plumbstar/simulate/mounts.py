"""A telescope with hidden faults, for demonstrations, tests and experiments: the one such.

To hide a mount: take its terms from names in degrees (:func:`terms_from_deg`), from a file
(``hidden.py``) or drawn from a prior (:func:`draw_terms`). Then either let a :class:`HiddenMount`
be turned by a hand, star by star, or do many at once by the three steps that it is made of:

1. :func:`centred`: a hand centres a star, but for a little;
2. :func:`readings_in_turn`: between places the azimuth goes the shorter way, its counter runs on;
3. :func:`rounded`: the circles round to their step.

``faults.py`` puts what goes wrong in an outing between these steps, ``telescope.py`` a hand that
takes time and a board that speaks.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS, SCALES
from plumbstar.sky.times import Instant
from plumbstar.units import Array


def terms_from_deg(**values: float) -> Array:
    """A vector of terms (12,), radians, from degrees by name (scales are plain ratios)."""
    out = np.zeros(N_TERMS)
    for name, value in values.items():
        out[INDEX[name]] = value if name in SCALES else math.radians(value)
    return out


def draw_terms(prior: Priors, rng: np.random.Generator) -> Array:
    """A mount drawn from a prior; an unknown azimuth zero is anywhere on the turn.

    A term that only some kits have is drawn last, and for those alone: for all others a seed gives
    the mount that it gave before there was such a term.
    """
    sigma = np.where(np.isinf(prior.sigma), 0.0, prior.sigma)
    always = np.arange(N_TERMS) != INDEX["refraction"]
    out: Array = prior.mean.copy()
    out[always] += sigma[always] * rng.standard_normal(int(always.sum()))
    if np.isinf(prior.sigma[0]):
        out[0] = rng.uniform(-np.pi, np.pi)
    if sigma[~always].any():
        out[~always] += sigma[~always] * rng.standard_normal(1)
    return out


def centred(places: Array, off: Array) -> Array:
    """Directions (..., 3) of a tube that should be at places (..., 2) and is ``off`` (..., 2).

    Azimuth and altitude, radians; off across (to larger azimuth, on the sky) and up, radians.
    """
    d = kinematics.unit(places[..., 0], places[..., 1])
    basis = kinematics.tangent_basis(places[..., 0], places[..., 1])
    d = d + np.einsum("...i,...ij->...j", off, basis)
    out: Array = d / np.linalg.norm(d, axis=-1, keepdims=True)
    return out


def readings_in_turn(directions: Array, terms: Array, start_az: float = math.pi) -> Array:
    """Readings (n, 2), radians, at directions (n, 3) that the tube is pushed to one by one.

    ``terms`` (12,), or (n, 12) for a mount that changes. Each push goes the shorter way round from
    the reading before, the first from ``start_az``; the counter runs on.
    """
    out = np.empty((len(directions), 2))
    each = np.broadcast_to(terms, (len(directions), N_TERMS))
    for i, (d, t) in enumerate(zip(directions, each, strict=True)):
        out[i] = kinematics.reading_of(d, t, start_az if i == 0 else out[i - 1, 0])
    return out


def rounded(readings: Array, step: Array) -> Array:
    """Readings (..., 2) as circles of that step (2,) show them; a step of 0 shows all."""
    whole = np.where(step > 0, step, 1.0)
    out: Array = np.where(step > 0, np.round(readings / whole) * whole, readings)
    return out


class HiddenMount:
    """The truth that a fix has to find. ``step_deg`` is the circles' step (0: none)."""

    def __init__(
        self,
        terms: Array,
        noise: Noise,
        rng: np.random.Generator,
        step_deg: tuple[float, float] = (0.0, 0.0),
    ) -> None:
        self.terms = terms
        self.noise = noise
        self.rng = rng
        self.step = np.radians(step_deg)
        self.reading = np.array([np.pi, 0.5])

    def _by_hand(self, place: Array) -> Array:
        """A direction off from a place (2,) by the centring error, both ways."""
        return centred(place, self.noise.centring * self.rng.standard_normal(2))

    def sight(
        self, star: str, true_az_deg: float, true_alt_deg: float, utc: Instant | None = None
    ) -> Sighting:
        """Turn to a true place, centre it as well as a hand can, and read the circles."""
        d = self._by_hand(np.radians([true_az_deg, true_alt_deg]))
        self.reading = kinematics.reading_of(d, self.terms, self.reading[0])
        az, alt = np.degrees(rounded(self.reading, self.step))
        return Sighting(star, true_az_deg, true_alt_deg, float(az), float(alt), utc)

    def sight_all(self, places_deg: Iterable[tuple[float, float]]) -> list[Sighting]:
        """Sight unnamed stars one after another."""
        return [self.sight(f"star {i + 1}", az, alt) for i, (az, alt) in enumerate(places_deg)]

    def push_to(self, az_reading_deg: float, alt_reading_deg: float) -> tuple[float, float]:
        """Push until the circles show a reading; where the tube then points, degrees.

        The hand stops as closely as it centres, and the circles hide less than a step.
        """
        wanted = np.radians([az_reading_deg, alt_reading_deg])
        inside = self.step * self.rng.uniform(-0.5, 0.5, 2)
        d = kinematics.direction(wanted + inside, self.terms)
        d = self._by_hand(kinematics.az_alt(d))
        self.reading = kinematics.reading_of(d, self.terms, float(wanted[0]))
        az, alt = np.degrees(kinematics.az_alt(d))
        return float(az), float(alt)
