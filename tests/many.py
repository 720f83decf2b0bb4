"""Many mounts solved at once, all sighted at the same places: what a simulation waits for least."""

from __future__ import annotations

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.simulate.mounts import centred
from plumbstar.solve.descent import DescentRule, Problems, descend
from plumbstar.units import Array


def sighted(places: Array, terms: Array, noise: Noise, rng: np.random.Generator) -> Array:
    """Readings (mounts, n, 2) of mounts (mounts, 12) pushed from place to place (n, 2)."""
    near = np.full(len(terms), np.pi)
    out = []
    for place in places:
        off = noise.centring * rng.standard_normal((len(terms), 2))
        aimed = centred(np.broadcast_to(place, (len(terms), 2)), off)
        out.append(kinematics.reading_of(aimed, terms, near))
        near = out[-1][:, 0]
    return np.stack(out, axis=1)


def means(readings: Array, places: Array, prior: Priors, noise: Noise) -> Array:
    """The terms (mounts, 12) as :func:`plumbstar.solve.fix.solve` finds them where nothing is bad,
    from readings (mounts, n, 2) and true places (n, 2); the same descent, row by row."""
    k, n = readings.shape[:2]
    free = np.flatnonzero(prior.sigma > 0)
    az, alt = places.T

    def each(value: Array) -> Array:
        return np.broadcast_to(value, (k, *value.shape))

    problems = Problems(
        readings=readings,
        basis=each(kinematics.tangent_basis(az, alt)),
        toward=each(kinematics.unit(az, alt)),
        weight=each((1.0 / noise.variances(alt)).reshape(-1)),
        anchor=each(prior.mean[free]),
        info=each(prior.information[free]),
        free=free,
    )
    begin = np.tile(prior.mean, (k, 1))
    begin[:, 0] = np.angle(np.exp(1j * (az - readings[:, :, 0])).sum(axis=1))
    rule = DescentRule(steps=60, small=1e-9, last_step=True)
    assert begin.shape == (k, N_TERMS)
    assert n == len(places)
    return descend(problems, begin, rule).x
