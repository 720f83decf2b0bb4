"""The linear forecast of what a fix leaves, against fixes really solved on hidden mounts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar.choose import forecast, worth
from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.simulate.mounts import centred, draw_terms
from plumbstar.solve.fix import sky_grid, solve

KIT = Kit()
PRIORS = Priors.from_kit(KIT)
NOISE = Noise(math.radians(0.05))
#: What separation alone would allow: 45 deg apart, nearly one above the other.
POOR_PAIR = np.radians([[100.0, 25.0], [110.0, 70.0]])
RADIUS = math.radians(0.5)


def _sight(places, terms, rng):
    off = rng.normal(size=places.shape) * np.sqrt(NOISE.variances(places[:, 1]))
    read = np.degrees(kinematics.reading_of(centred(places, off), terms))
    return [Sighting("star", *p, *r) for p, r in zip(np.degrees(places), read, strict=True)]


def _simulated(belief_sigma, belief_mean, assumed, places, seed, n=60):
    rng = np.random.default_rng(seed)
    az, alt = sky_grid(20.0, 120)
    targets = kinematics.unit(az, alt)
    hits = []
    for _ in range(n):
        terms = draw_terms(Priors(belief_mean, belief_sigma), rng)
        fix = solve(_sight(places, terms, rng), assumed, NOISE)
        landed = kinematics.direction(kinematics.reading_of(targets, fix.mean), terms)
        e = np.einsum("nij,nj->ni", kinematics.tangent_basis(az, alt), landed)
        e += rng.normal(size=e.shape) * np.sqrt(NOISE.variances(alt))
        hits.append(np.mean(np.hypot(*e.T) < RADIUS))
    return float(np.mean(hits)), float(np.std(hits) / math.sqrt(n))


@pytest.mark.parametrize(
    ("places", "seed"), [(worth.GOOD_PAIR, 1), (POOR_PAIR, 2), (worth.GOOD_PAIR[:1], 3)]
)
def test_forecast_agrees_with_solved_fixes(places, seed):
    belief = forecast.Belief.from_priors(PRIORS)
    said = worth.chance_over_sky(belief, PRIORS, places, NOISE, RADIUS)
    sigma = np.where(np.isinf(PRIORS.sigma), 0.0, PRIORS.sigma)
    seen, error = _simulated(sigma, np.zeros(N_TERMS), PRIORS, places, seed)
    assert abs(said - seen) < 3 * error + 0.03  # 0.03: the second order


def test_forecast_of_a_trusted_stop_that_is_off():
    """The classical recipe on a stop 0.9 deg off: the fix does not know what it does not know."""
    assumed = forecast.trusting_stop(PRIORS)
    sigma = np.where(np.isinf(PRIORS.sigma), 0.0, PRIORS.sigma)
    sigma[INDEX["altitude_zero"]] = 0.0
    mean = np.zeros(N_TERMS)
    mean[INDEX["altitude_zero"]] = math.radians(0.9)
    belief = forecast.Belief(mean, np.diag(sigma**2))
    said = worth.chance_over_sky(belief, assumed, worth.GOOD_PAIR, NOISE, RADIUS)
    seen, error = _simulated(sigma, mean, assumed, worth.GOOD_PAIR, 4)
    assert abs(said - seen) < 3 * error + 0.03
    mended = worth.chance_over_sky(
        belief.with_term("altitude_zero", 0, 0), assumed, worth.GOOD_PAIR, NOISE, RADIUS
    )
    assert mended > said + 0.2


def test_right_assumptions_give_the_covariance_of_the_fix():
    """Belief and assumption one: what is left is the posterior (any least squares text)."""
    belief = forecast.Belief.from_priors(PRIORS)
    gap, cov = forecast.leftover(belief, PRIORS, forecast.Places.at(*worth.GOOD_PAIR.T, NOISE))
    rng = np.random.default_rng(5)
    sightings = _sight(worth.GOOD_PAIR, np.zeros(N_TERMS), rng)
    fix = solve(sightings, PRIORS, NOISE)
    assert np.allclose(gap, 0)
    np.testing.assert_allclose(np.sqrt(np.diag(cov)), fix.sigma, rtol=0.02)


def test_geometry_of_the_design_table():
    """A quarter turn apart beats the same separation at one azimuth, by far (design table)."""
    belief = forecast.Belief.from_priors(PRIORS)
    good = worth.chance_over_sky(belief, PRIORS, worth.GOOD_PAIR, NOISE, RADIUS)
    poor = worth.chance_over_sky(belief, PRIORS, POOR_PAIR, NOISE, RADIUS)
    assert good > 0.85
    assert poor < 0.6
