"""A telescope with hidden faults, for demonstrations, tests and experiments.

It is turned by a hand: between places the azimuth goes the shorter way round and its counter runs
on, every star is centred imperfectly, and the circles round to their step.
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
    """A vector of terms (11,), radians, from degrees by name (scales are plain ratios)."""
    out = np.zeros(N_TERMS)
    for name, value in values.items():
        out[INDEX[name]] = value if name in SCALES else math.radians(value)
    return out


def draw_terms(prior: Priors, rng: np.random.Generator) -> Array:
    """A mount drawn from a prior; an unknown azimuth zero is anywhere on the turn."""
    sigma = np.where(np.isinf(prior.sigma), 0.0, prior.sigma)
    out: Array = prior.mean + sigma * rng.standard_normal(N_TERMS)
    if np.isinf(prior.sigma[0]):
        out[0] = rng.uniform(-np.pi, np.pi)
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

    def _rounded(self, reading: Array) -> Array:
        step = np.where(self.step > 0, self.step, 1.0)
        out: Array = np.where(self.step > 0, np.round(reading / step) * step, reading)
        return out

    def _shaken(self, az: float, alt: float) -> Array:
        """A direction off from a place by the centring error, both ways."""
        basis = kinematics.tangent_basis(np.asarray(az), np.asarray(alt))
        error = self.noise.centring * self.rng.standard_normal(2)
        d = kinematics.unit(np.asarray(az), np.asarray(alt)) + error @ basis
        out: Array = d / np.linalg.norm(d)
        return out

    def sight(
        self, star: str, true_az_deg: float, true_alt_deg: float, utc: Instant | None = None
    ) -> Sighting:
        """Turn to a true place, centre it as well as a hand can, and read the circles."""
        d = self._shaken(math.radians(true_az_deg), math.radians(true_alt_deg))
        self.reading = kinematics.reading_of(d, self.terms, self.reading[0])
        az, alt = np.degrees(self._rounded(self.reading))
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
        az, alt = kinematics.az_alt(d)
        d = self._shaken(float(az), float(alt))
        self.reading = kinematics.reading_of(d, self.terms, float(wanted[0]))
        az, alt = np.degrees(kinematics.az_alt(d))
        return float(az), float(alt)
