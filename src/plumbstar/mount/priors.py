"""What is believed before any sighting: of the mount's terms, and of how well one measures."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.terms import INDEX, N_TERMS, SCALES, TERMS
from plumbstar.units import Array, Indices

#: Prior 1 sigma (radians) that stands for "unknown": any azimuth zero at all (uniform on a turn).
UNKNOWN = math.inf


class MayHaveChanged(NamedTuple):
    """Since it was learnt, the term at that place may have changed: with this chance, by ``sigma``
    (1 sigma, radians)."""

    term: int
    chance: float
    sigma: float


class OneOf(NamedTuple):
    """With this chance the term at that place is as ``mean`` and ``sigma`` say, radians."""

    term: int
    chance: float
    mean: float
    sigma: float


class EarlierPart(NamedTuple):
    """With this chance an earlier part of the evening went so that ``belief`` is what it tells of
    the mount, its hand having centred so many times less well than stated: 1 for about as stated.
    ``unexpected``: of a mount that the kit does not expect.
    """

    chance: float
    belief: Priors
    coarser: float = 1.0
    unexpected: bool = False


@dataclass(frozen=True)
class Priors:
    """Gaussian beliefs before any sighting, radians: ``mean`` and ``sigma``, (12,).

    ``sigma`` 0 holds a term at its mean; infinity means unknown. ``changed``: what may have
    happened to learnt terms since. ``one_of``: of one term, that it is as one of these says, their
    chances adding up to 1; its ``mean`` and ``sigma`` cover them all.

    Where an earlier part of the evening has told: ``correlation`` (12, 12), with ones on its
    diagonal, is how the terms hang together (held and unknown ones with none); None for independent
    beliefs. ``either``: it is one of these accounts, by what may have happened in that part; the
    mean, sigma and correlation cover them all.
    """

    mean: Array
    sigma: Array
    changed: tuple[MayHaveChanged, ...] = ()
    one_of: tuple[OneOf, ...] = ()
    correlation: Array | None = None
    either: tuple[EarlierPart, ...] = ()

    @staticmethod
    def jointly(mean: Array, covariance: Array) -> Priors:
        """The Gaussian belief with that covariance (12, 12); a variance of 0 holds a term."""
        sigma = np.sqrt(np.maximum(np.diag(covariance), 0.0))
        scale = np.where(sigma > 0, sigma, 1.0)
        correlation = covariance / np.outer(scale, scale)
        np.fill_diagonal(correlation, 1.0)
        return Priors(mean.copy(), sigma, correlation=correlation)

    def loosened(self, term: int, by: float) -> Priors:
        """The same with one term spread by as much again, 1 sigma ``by``, radians; infinity forgets
        it. What it had in common with the others, it keeps; what was learnt of its values, not."""
        sigma = self.sigma.copy()
        sigma[term] = math.hypot(sigma[term], by)
        correlation = self.correlation
        if correlation is not None:
            correlation = correlation.copy()
            kept = 0.0 if math.isinf(sigma[term]) else self.sigma[term] / (sigma[term] or 1.0)
            correlation[term, :] *= kept
            correlation[:, term] *= kept
            correlation[term, term] = 1.0
        either = tuple(a._replace(belief=a.belief.loosened(term, by)) for a in self.either)
        return replace(
            self,
            sigma=sigma,
            changed=tuple(c for c in self.changed if c.term != term),
            one_of=tuple(o for o in self.one_of if o.term != term),
            correlation=correlation,
            either=either,
        )

    def anew(self, term: int, mean: float, sigma: float) -> Priors:
        """The same with something else believed of one term, and nothing that it had in common with
        the others."""
        out = self.loosened(term, UNKNOWN)
        m, s = out.mean.copy(), out.sigma.copy()
        m[term], s[term] = mean, sigma
        either = tuple(a._replace(belief=a.belief.anew(term, mean, sigma)) for a in self.either)
        return replace(out, mean=m, sigma=s, either=either)

    @cached_property
    def told(self) -> tuple[int, ...]:
        """The places of the terms of which an earlier part of the evening has told: those that hang
        together with others."""
        if self.correlation is None:
            return ()
        apart = self.correlation - np.diag(np.diag(self.correlation))
        return tuple(int(i) for i in np.flatnonzero(np.any(apart != 0, axis=1)))

    @property
    def key(self) -> tuple[bytes, bytes]:
        """The same for the same independent beliefs."""
        return self.mean.tobytes(), self.sigma.tobytes()

    @staticmethod
    def from_kit(kit: Kit) -> Priors:
        """The kit's ``[priors]`` table."""
        p = kit.priors
        mean, sigma = np.zeros(N_TERMS), np.zeros(N_TERMS)
        sigma[INDEX["azimuth_zero"]] = UNKNOWN
        for name in ("altitude_zero", "squareness", "cone", "droop", "refraction"):
            mean[INDEX[name]] = math.radians(getattr(p, f"{name}_deg"))
            sigma[INDEX[name]] = math.radians(getattr(p, f"{name}_sigma_deg"))
        for name in ("lean_north", "lean_west"):
            mean[INDEX[name]] = math.radians(getattr(p, f"{name}_deg"))
            sigma[INDEX[name]] = math.radians(p.lean_sigma_deg)
        for name in SCALES:
            mean[INDEX[name]] = getattr(p, f"{name}_percent") / 100.0
            sigma[INDEX[name]] = getattr(p, f"{name}_sigma_percent") / 100.0
        for name in ("azimuth_runout_sin", "azimuth_runout_cos"):
            mean[INDEX[name]] = math.radians(getattr(p, f"{name.removeprefix('azimuth_')}_deg"))
            sigma[INDEX[name]] = math.radians(p.runout_sigma_deg)
        return Priors(mean, sigma)

    def only(self, terms: Sequence[str]) -> Priors:
        """Free just these terms; hold the others at their means. Raises UserError on a name."""
        for t in terms:
            if t not in TERMS:
                raise UserError(f"a term '{t}'", f"one of {', '.join(TERMS)}", "Check the spelling")
        keep = np.array([t in terms for t in TERMS])
        return Priors(self.mean, np.where(keep, self.sigma, 0.0))

    def named(self, terms: Sequence[str]) -> Priors:
        """:meth:`only` for terms that a person named: a held one is an error, not left out."""
        freed = self.only(terms)
        for t in terms:
            if freed.sigma[INDEX[t]] == 0:
                raise UserError(
                    f"the term {t}, which the kit holds at its value",
                    "a term that the kit leaves free",
                    "Give it a sigma in the kit's [priors]",
                )
        return freed

    def flat(self) -> Priors:
        """The same free terms with nothing believed about them."""
        free = self.sigma > 0
        return Priors(np.where(free, 0.0, self.mean), np.where(free, UNKNOWN, 0.0))

    def holding(self, **terms: float) -> Priors:
        """Some terms held at given values, radians."""
        mean, sigma = self.mean.copy(), self.sigma.copy()
        for name, value in terms.items():
            mean[INDEX[name]], sigma[INDEX[name]] = value, 0.0
        return Priors(mean, sigma)

    def replacing(self, learnt: Mapping[str, tuple[float, float]]) -> Priors:
        """Some terms' priors replaced by learnt ones, (mean, sigma) by name, radians."""
        mean, sigma = self.mean.copy(), self.sigma.copy()
        for name, (m, s) in learnt.items():
            mean[INDEX[name]], sigma[INDEX[name]] = m, s
        return Priors(mean, sigma)

    @cached_property
    def information(self) -> Array:
        """Diagonal (12,) of the inverse covariance; infinite where a term is held, zero where it is
        unknown."""
        with np.errstate(divide="ignore"):
            out = 1.0 / self.sigma**2
        if self.correlation is not None:
            known, inverse = self._inverse
            out[known] = np.diag(inverse)
        return out

    @cached_property
    def linked(self) -> Array | None:
        """The rest (12, 12) of the inverse covariance, zero on its diagonal; None where it is
        zero everywhere."""
        if self.correlation is None:
            return None
        known, inverse = self._inverse
        out = np.zeros((N_TERMS, N_TERMS))
        out[np.ix_(known, known)] = inverse
        np.fill_diagonal(out, 0.0)
        return out

    @cached_property
    def _inverse(self) -> tuple[Indices, Array]:
        """Which terms are neither held nor unknown, and the inverse covariance of these."""
        assert self.correlation is not None
        known = np.flatnonzero((self.sigma > 0) & np.isfinite(self.sigma))
        sigma = self.sigma[known]
        inverse = np.linalg.inv(self.correlation[np.ix_(known, known)]) / np.outer(sigma, sigma)
        return known, (inverse + inverse.T) / 2


@dataclass(frozen=True, slots=True)
class Noise:
    """One-sigma errors, radians: the hand that centres, and the grain of each circle.

    ``spread``: one sigma of the logarithm of ``centring``, where it was learnt; 0 as stated.
    """

    centring: float = math.radians(0.1)
    reading_az: float = 0.0
    reading_alt: float = 0.0
    spread: float = 0.0

    @staticmethod
    def from_kit(kit: Kit) -> Noise:
        """A reading is rounded to a tick: the rounding is uniform, with sigma tick / sqrt 12."""
        grain = math.radians(1.0) / math.sqrt(12.0)
        return Noise(
            math.radians(kit.centring_arcmin / 60.0),
            kit.azimuth.resolution_deg * grain,
            kit.altitude.resolution_deg * grain,
        )

    def variances(self, alt: Array) -> Array:
        """Variance (..., 2) along azimuth (on the sky) and altitude, at altitudes (...)."""
        c2 = self.centring**2
        across = c2 + (self.reading_az * np.cos(alt)) ** 2
        return np.stack([across, np.full_like(across, c2 + self.reading_alt**2)], axis=-1)
