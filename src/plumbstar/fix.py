"""From sightings and priors to a fix: every term of the mount, with its covariance.

Maximum a posteriori by Gauss-Newton on the exact kinematics of :mod:`plumbstar.mount`, with
Gaussian priors and the analytic Jacobian. The covariance is that of all eleven terms jointly and
includes the prior. See docs/method.md for the derivation and the sources.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from plumbstar import mount
from plumbstar.chance import hit_chance
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount import INDEX, N_TERMS, SCALES, TERMS, Array, Indices
from plumbstar.sighting import Sighting

#: Prior 1 sigma (radians) that stands for "unknown": any azimuth zero at all (uniform on a turn).
UNKNOWN = math.inf

#: Chance that a sighting is careless or of the wrong star, before looking at it.
#: Common practice, no source: a wrong or fumbled star once in thirty.
BAD_SIGHTING_PRIOR = 0.03
#: How far off a bad sighting is, 1 sigma on each axis: a neighbouring star, a hand's breadth.
BAD_SIGHTING_SIGMA = math.radians(7.0)
#: The misfit, as a chi-square probability, below which a bad sighting is looked for at all.
SUSPICION = 0.10
#: The misfit left after setting one aside, below which no single sighting can be to blame.
NONSENSE = 1e-9
#: So many sightings are tried as the bad one, the likeliest first. A dozen holds it with room.
MOST_TRIED = 12
#: No hand centres so badly; the width of two Moons. Common practice, no source.
NO_HAND = math.radians(1.0)


@dataclass(frozen=True)
class Priors:
    """Independent Gaussian beliefs before any sighting, radians: ``mean`` and ``sigma``, (11,).

    ``sigma`` 0 holds a term at its mean; infinity means unknown.
    """

    mean: Array
    sigma: Array

    @staticmethod
    def from_kit(kit: Kit) -> Priors:
        """The kit's ``[priors]`` table."""
        p = kit.priors
        mean, sigma = np.zeros(N_TERMS), np.zeros(N_TERMS)
        sigma[INDEX["azimuth_zero"]] = UNKNOWN
        for name in ("altitude_zero", "squareness", "cone", "droop"):
            mean[INDEX[name]] = math.radians(getattr(p, f"{name}_deg"))
            sigma[INDEX[name]] = math.radians(getattr(p, f"{name}_sigma_deg"))
        for name in ("lean_north", "lean_west"):
            sigma[INDEX[name]] = math.radians(p.lean_sigma_deg)
        for name in SCALES:
            sigma[INDEX[name]] = getattr(p, f"{name}_sigma_percent") / 100.0
        for name in ("azimuth_runout_sin", "azimuth_runout_cos"):
            sigma[INDEX[name]] = math.radians(p.runout_sigma_deg)
        return Priors(mean, sigma)

    def only(self, terms: Sequence[str]) -> Priors:
        """Free just these terms; hold the others at their means. Raises UserError on a name."""
        for t in terms:
            if t not in TERMS:
                raise UserError(f"a term '{t}'", f"one of {', '.join(TERMS)}", "Check the spelling")
        keep = np.array([t in terms for t in TERMS])
        return Priors(self.mean, np.where(keep, self.sigma, 0.0))

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

    @property
    def information(self) -> Array:
        """Inverse variances (11,); infinite where a term is held, zero where it is unknown."""
        with np.errstate(divide="ignore"):
            return 1.0 / self.sigma**2


@dataclass(frozen=True, slots=True)
class Noise:
    """One-sigma errors, radians: the hand that centres, and the grain of each circle."""

    centring: float = math.radians(0.1)
    reading_az: float = 0.0
    reading_alt: float = 0.0

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


@dataclass(frozen=True)
class Misclosure:
    """Measured minus true angle between the stars of two sightings, degrees."""

    first: int
    second: int
    true_deg: float
    misclosure_deg: float


@dataclass(frozen=True)
class Fix:
    """The solved mount.

    ``mean`` (11,) and ``covariance`` (11, 11): the terms in the order of ``mount.TERMS``, radians;
    the covariance is of the terms given the sightings *and* the prior. ``residuals`` (n, 2): true
    minus predicted, radians, along azimuth (on the sky) and altitude, for every sighting, those
    set aside too. ``set_aside``: indices of sightings left out, ``suspects``: (index, probability)
    of each that may be bad. ``notes``: sentences on what is weak or doubtful.
    """

    mean: Array
    covariance: Array
    prior: Priors
    noise: Noise
    sightings: tuple[Sighting, ...]
    residuals: Array
    set_aside: tuple[int, ...] = ()
    suspects: tuple[tuple[int, float], ...] = ()
    notes: tuple[str, ...] = ()
    misfit_probability: float = 1.0
    log_evidence: float = 0.0
    noise_from_data: bool = False

    @cached_property
    def misclosures(self) -> tuple[Misclosure, ...]:
        """Of every pair of sightings, those set aside too."""
        return misclosures(self.sightings)

    @property
    def sigma(self) -> Array:
        """One sigma of each term, (11,), radians."""
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))

    @property
    def from_data(self) -> Array:
        """Share (11,) of each term's knowledge that the sightings brought: 1 - (post/prior)^2.

        0 where the prior alone speaks, 1 where it was unknown before; 0 for held terms.
        """
        prior = self.prior.sigma
        with np.errstate(divide="ignore", invalid="ignore"):
            gain = 1.0 - (self.sigma / prior) ** 2
        return np.where(prior == 0, 0.0, np.where(np.isinf(prior), 1.0, np.clip(gain, 0.0, 1.0)))

    @property
    def used(self) -> tuple[int, ...]:
        """Indices of the sightings that went into the solution."""
        return tuple(i for i in range(len(self.sightings)) if i not in self.set_aside)

    @property
    def rms_arcsec(self) -> float:
        """Root mean square distance on the sky of the used sightings from the solution."""
        r = self.residuals[list(self.used)]
        return math.degrees(math.sqrt(float(np.mean(np.sum(r * r, axis=1))))) * 3600.0

    @property
    def contradictory(self) -> bool:
        """Whether the sightings contradict one another so much that the terms mean nothing."""
        off = math.radians(self.rms_arcsec / 3600.0)
        return self.misfit_probability < NONSENSE and off > NO_HAND

    @cached_property
    def centre_az(self) -> float:
        """The azimuth reading in the middle of the sightings, radians, turns counted."""
        az = _Data.of(self.sightings, self.noise).readings[:, 0]
        return float((az.min() + az.max()) / 2)

    @cached_property
    def _folded(self) -> bool:
        """Whether the azimuth display folds into one turn (then turns mean nothing in it)."""
        return all(0.0 <= s.reading_az_deg <= 360.0 for s in self.sightings)

    def reading_for(self, az_deg: float, alt_deg: float, near_az_deg: float | None = None) -> Array:
        """Reading (2,), degrees, that should point the tube at a true place.

        The azimuth is within half a turn of ``near_az_deg``, the present reading; by default of
        the sightings.
        """
        d = mount.unit(np.radians(az_deg), np.radians(alt_deg))
        reading = np.degrees(mount.reading_of(d, self.mean, self._counted(near_az_deg)))
        if near_az_deg is not None:
            reading[0] += near_az_deg - math.degrees(self._counted(near_az_deg))  # whole turns
        return reading

    def _counted(self, az_deg: float | None) -> float:
        """An azimuth reading with its turns counted as the solution counts them, radians.

        A folding display does not tell its turn: the tube is taken to be within half a turn of
        the last sighting. None gives the middle of the sightings.
        """
        if az_deg is None:
            return self.centre_az
        if self._folded and 0.0 <= az_deg <= 360.0:
            last = math.degrees(_Data.of(self.sightings, self.noise).readings[-1, 0])
            az_deg += 360.0 * round((last - az_deg) / 360.0)
        return math.radians(az_deg)

    def pointing_of(self, reading_az_deg: float, reading_alt_deg: float) -> Array:
        """True azimuth and altitude (2,), degrees, where a reading points."""
        reading = np.array([self._counted(reading_az_deg), math.radians(reading_alt_deg)])
        return np.degrees(mount.az_alt(mount.direction(reading, self.mean)))

    def jacobian_at(self, az: Array, alt: Array, near_az_deg: float | None = None) -> Array:
        """How a target's landing moves with each term, (..., 2, 11), in its own tangent plane.

        ``near_az_deg``: the reading the push starts from, which decides the turn (and so what the
        azimuth scale does); by default the middle of the sightings.
        """
        reading = mount.reading_of(mount.unit(az, alt), self.mean, self._counted(near_az_deg))
        _, J = mount.direction_jacobian(reading, self.mean)
        out: Array = mount.tangent_basis(az, alt) @ J
        return out

    def pointing_covariance(self, az: Array, alt: Array, near_az_deg: float | None = None) -> Array:
        """Covariance (..., 2, 2) of where the tube lands when pushed to a true place, radians^2.

        Axes along azimuth (on the sky) and altitude. Holds the fix's own uncertainty, the grain of
        the circles, and a hand that stops as closely as it centres.
        """
        az, alt = np.asarray(az, dtype=float), np.asarray(alt, dtype=float)
        J = self.jacobian_at(az, alt, near_az_deg)
        sky = J @ self.covariance @ np.swapaxes(J, -1, -2)
        var = self.noise.variances(alt)
        sky[..., 0, 0] += var[..., 0]
        sky[..., 1, 1] += var[..., 1]
        return sky

    def hit_chance(
        self,
        az_deg: Array | float,
        alt_deg: Array | float,
        field_deg: float,
        near_az_deg: float | None = None,
    ) -> Array:
        """Probability (...) that a target at a true place lands in a true field of that width.

        ``near_az_deg``: the reading the push starts from; by default the middle of the sightings.
        """
        az, alt = np.broadcast_arrays(np.radians(az_deg), np.radians(alt_deg))
        cov = self.pointing_covariance(az, alt, near_az_deg)
        return hit_chance(np.zeros(2), cov, math.radians(field_deg) / 2)

    def mean_hit_chance(self, field_deg: float, min_alt_deg: float = 20.0) -> float:
        """Mean over the sky above ``min_alt_deg``, by area."""
        az, alt = sky_grid(min_alt_deg)
        cov = self.pointing_covariance(az, alt)
        return float(np.mean(hit_chance(np.zeros(2), cov, math.radians(field_deg) / 2)))

    def to_dict(self) -> dict[str, Any]:
        """Everything by name, degrees outside; scales are degrees of error in a full turn."""
        terms: dict[str, Any] = {}
        for i, name in enumerate(TERMS):
            if self.prior.sigma[i] == 0 and self.mean[i] == 0:
                continue
            unit = 360.0 if name in SCALES else math.degrees(1.0)
            terms[name] = {
                "value_deg": float(self.mean[i]) * unit,
                "sigma_deg": float(self.sigma[i]) * unit,
                "from_data": float(self.from_data[i]),
            }
            if name in SCALES:
                terms[name]["value_percent"] = float(self.mean[i]) * 100
                terms[name]["sigma_percent"] = float(self.sigma[i]) * 100
                terms[name]["value_deg_is"] = "degrees of error in a full turn"
        rows = []
        for i, s in enumerate(self.sightings):
            across, up = np.degrees(self.residuals[i]) * 3600.0
            rows.append(
                {
                    "star": s.star,
                    "utc": s.utc.iso(1) if s.utc else None,
                    "true_az_deg": s.true_az_deg,
                    "true_alt_deg": s.true_alt_deg,
                    "reading_az_deg": s.reading_az_deg,
                    "reading_alt_deg": s.reading_alt_deg,
                    "residual_across_arcsec": float(across),
                    "residual_up_arcsec": float(up),
                    "residual_arcsec": float(np.hypot(across, up)),
                    "set_aside": i in self.set_aside,
                }
            )
        return {
            "terms": terms,
            "rms_arcsec": self.rms_arcsec,
            "centring_arcmin": math.degrees(self.noise.centring) * 60.0,
            "centring_from_data": self.noise_from_data,
            "misfit_probability": self.misfit_probability,
            "sightings": rows,
            "misclosures": [
                {
                    "stars": [self.sightings[m.first].star, self.sightings[m.second].star],
                    "true_deg": m.true_deg,
                    "misclosure_deg": m.misclosure_deg,
                }
                for m in self.misclosures
            ],
            "set_aside": [self.sightings[i].star for i in self.set_aside],
            "suspects": [
                {"star": self.sightings[i].star, "probability": p} for i, p in self.suspects
            ],
            "notes": list(self.notes),
        }


def sky_grid(min_alt_deg: float = 20.0, count: int = 300) -> tuple[Array, Array]:
    """Azimuth and altitude (count,), radians: equal areas of the sky above an altitude.

    A Fibonacci spiral (Gonzalez 2010, Math. Geosci. 42, 49): even in area, no seams.
    """
    k = np.arange(count) + 0.5
    low = math.sin(math.radians(min_alt_deg))
    alt = np.arcsin(low + (1.0 - low) * k / count)
    az = (k * math.pi * (3.0 - math.sqrt(5.0))) % (2 * math.pi)
    return np.asarray(az), np.asarray(alt)


def continuous_reading(sighting: Sighting) -> tuple[float, float]:
    """Azimuth as given, altitude with 180 to 360 degrees meaning below level. Degrees."""
    alt = sighting.reading_alt_deg
    return sighting.reading_az_deg, alt - 360.0 if alt > 180.0 else alt


@dataclass(frozen=True)
class _Data:
    """The sightings as arrays: readings, tangent bases of the true places, inverse variances."""

    readings: Array
    true_az_alt: Array
    basis: Array
    weight: Array

    @staticmethod
    def of(sightings: Sequence[Sighting], noise: Noise) -> _Data:
        read = np.radians([continuous_reading(s) for s in sightings])
        if np.all((read[:, 0] >= 0) & (read[:, 0] <= 2 * np.pi)):
            # A display that folds into one turn: between sightings the tube went the shorter way.
            # It matters to the azimuth scale only. A counter that runs on is taken at its word.
            read[:, 0] = np.unwrap(read[:, 0])
        true = np.radians([[s.true_az_deg, s.true_alt_deg] for s in sightings])
        basis = mount.tangent_basis(true[:, 0], true[:, 1])
        return _Data(read, true, basis, 1.0 / noise.variances(true[:, 1]))

    def discount(self, index: int) -> _Data:
        """The same with one sighting believed only to :data:`BAD_SIGHTING_SIGMA`."""
        weight = self.weight.copy()
        weight[index] = 1.0 / (1.0 / weight[index] + BAD_SIGHTING_SIGMA**2)
        return replace(self, weight=weight)


@dataclass(frozen=True)
class Solution:
    """What one run of the solver gives: see :func:`gauss_newton`."""

    mean: Array
    covariance: Array
    residuals: Array
    cost: float
    log_evidence: float


def gauss_newton(data: _Data, prior: Priors) -> Solution:
    """Posterior mode and covariance of the terms, and the Laplace evidence of the whole model.

    ``cost`` is the sum of squared normalised residuals of data and prior at the mode: for a linear
    model chi-square with 2 n - (unknown terms) degrees of freedom. The evidence is
    log p(data) ~ log p(data, mode) + 1/2 log det(2 pi C) (MacKay 2003, ch. 27), with an unknown
    azimuth zero uniform on the turn. Starts from more than one azimuth zero when the sightings
    disagree about it. Raises :class:`numpy.linalg.LinAlgError` where nothing settles a free term.
    """
    free = np.flatnonzero(prior.sigma > 0)
    info = prior.information[free]
    best: tuple[float, Array, Array, Array] | None = None
    for start in _starts(data, prior):
        run = _descend(data, prior, free, info, start)
        if best is None or run[0] < best[0] - 1e-9:
            best = run
    assert best is not None  # _starts yields at least one
    cost, mean, residuals, hessian = best
    cov_free = np.linalg.inv(hessian)
    cov = np.zeros((N_TERMS, N_TERMS))
    cov[np.ix_(free, free)] = (cov_free + cov_free.T) / 2
    known = info > 0
    log_density = 0.5 * float(np.sum(np.log(info[known] / (2 * np.pi))))
    log_density -= np.count_nonzero(~known) * math.log(2 * np.pi)  # uniform on a turn
    log_noise = 0.5 * float(np.sum(np.log(data.weight / (2 * np.pi))))
    _, logdet = np.linalg.slogdet(hessian)
    volume = 0.5 * (len(free) * math.log(2 * np.pi) - logdet)
    return Solution(mean, cov, residuals, cost, -0.5 * cost + log_density + log_noise + volume)


def _starts(data: _Data, prior: Priors) -> list[Array]:
    """Starting points: the azimuth zeros that the sightings suggest, most agreed first."""
    if prior.sigma[0] == 0:
        return [prior.mean.copy()]
    # To first order the tube's azimuth is reading + zero, so zero is what is left over.
    zeros = data.true_az_alt[:, 0] - data.readings[:, 0]
    votes = np.cos(data.true_az_alt[:, 1]) ** 2 + 1e-3  # overhead an azimuth means little
    resultant = complex(np.sum(votes * np.exp(1j * zeros)))
    candidates = [float(np.angle(resultant))]
    if abs(resultant) < 0.97 * float(np.sum(votes)):
        # Each sighting's own zero, those most others agree with first; no two nearly the same,
        # and no more than four, so that a table of nonsense does not take seconds.
        near = np.cos(zeros[:, None] - zeros[None]) > math.cos(math.radians(5.0))
        for i in np.argsort(-(near @ votes), kind="stable"):
            z = float(np.angle(np.exp(1j * zeros[i])))
            if len(candidates) < 5 and all(math.cos(z - c) < 0.996 for c in candidates[1:]):
                candidates.append(z)
    out = []
    for z in candidates:
        start = prior.mean.copy()
        start[0] = z
        out.append(start)
    return out


def _descend(
    data: _Data, prior: Priors, free: Indices, info: Array, x: Array
) -> tuple[float, Array, Array, Array]:
    """Gauss-Newton with halved steps. Returns (cost, mode, residuals, Hessian of cost / 2)."""
    anchor = prior.mean[free]
    true = mount.unit(data.true_az_alt[:, 0], data.true_az_alt[:, 1])
    risky = int(np.count_nonzero(info == 0)) > 1  # one unknown alone, sightings always settle

    weight = data.weight.reshape(-1)

    def evaluate(terms: Array) -> tuple[float, Array, Array, Array]:
        """Cost, residuals and Jacobian one row for each number read, and the gap to the prior."""
        d, J = mount.direction_jacobian(data.readings, terms)
        r = -(data.basis @ d[..., None])[..., 0]
        # Behind the observer the tangent plane folds back: push such residuals out to a turn.
        behind = np.einsum("ni,ni->n", d, true) < 0
        if behind.any():
            r[behind] *= (np.pi / np.maximum(np.linalg.norm(r[behind], axis=1), 1e-9))[:, None]
        r = r.reshape(-1)
        jac = (data.basis @ J).reshape(-1, N_TERMS)[:, free]
        gap = np.where(info > 0, terms[free] - anchor, 0.0)
        return float((weight * r) @ r + info @ (gap * gap)), r, jac, gap

    x = x.copy()
    cost, r, jac, gap = evaluate(x)
    for _ in range(60):
        weighted = jac.T * weight
        hessian = weighted @ jac
        hessian.flat[:: len(free) + 1] += info
        downhill = weighted @ r - info * gap
        step = _careful_solve(hessian, downhill) if risky else np.linalg.solve(hessian, downhill)
        if float(step @ downhill) < 1e-9 * (1 + cost):
            x[free] += step  # so small that the linear model is exact: no need to look again
            r = r - jac @ step
            break
        for halving in range(12):
            trial = x.copy()
            trial[free] += step * 0.5**halving
            new = evaluate(trial)
            if new[0] <= cost * (1 + 1e-12):
                break
        else:
            break
        x, (cost, r, jac, gap) = trial, new
    x[0] = np.angle(np.exp(1j * x[0]))
    return cost, x, r.reshape(-1, 2), hessian


def _careful_solve(hessian: Array, right: Array) -> Array:
    """Solve after scaling to unit diagonal; refuses a matrix that nothing made definite."""
    d = np.sqrt(np.diag(hessian))
    if not np.all(d > 0):
        raise np.linalg.LinAlgError("a term is in no sighting and no prior")
    scaled = hessian / np.outer(d, d)
    if np.linalg.cond(scaled) > 1e11:
        raise np.linalg.LinAlgError("the sightings do not separate the terms")
    out: Array = np.linalg.solve(scaled, right / d) / d
    return out


def solve(
    sightings: Sequence[Sighting],
    prior: Priors,
    noise: Noise,
    *,
    noise_from_data: bool = False,
    find_bad: bool = True,
) -> Fix:
    """Solve the mount from one or more sightings. Never fails on geometry when priors are given.

    With three or more sightings, one that contradicts the rest is found and set aside. Where it
    cannot be told which (with two it never can), the suspects are named and the covariance is
    widened to cover each possibility.
    ``noise_from_data`` scales the noise to the residuals instead of trusting ``noise.centring``.
    Raises :class:`UserError` for no sightings, or for flat priors that the sightings cannot settle.
    """
    if not sightings:
        raise UserError("no sightings", "one or more", "Centre a bright star and record it")
    data = _Data.of(sightings, noise)
    n_unknown = int(np.sum(np.isinf(prior.sigma)))
    dof = 2 * len(sightings) - n_unknown
    try:
        best = gauss_newton(data, prior)
    except np.linalg.LinAlgError:
        free = [t for t, s in zip(TERMS, prior.sigma, strict=True) if s > 0]
        raise UserError(
            f"{count(len(sightings))}, which cannot settle {', '.join(free)} without priors",
            f"at least {math.ceil(len(free) / 2)} sightings spread in azimuth and altitude",
            "Add sightings, drop terms, or leave out --flat-priors",
        ) from None
    misfit = chi_square_survival(best.cost, dof) if dof > 0 else 1.0
    set_aside: tuple[int, ...] = ()
    suspects: tuple[tuple[int, float], ...] = ()
    notes: list[str] = []
    if noise_from_data:
        if dof < 2:
            raise UserError(
                f"{count(len(sightings))} for {n_unknown} terms",
                "more numbers than terms, to judge the centring from",
                "Add sightings or give --centring-arcmin",
            )
        scale = math.sqrt(best.cost / dof)
        noise = Noise(noise.centring * scale, noise.reading_az * scale, noise.reading_alt * scale)
        best = gauss_newton(_Data.of(sightings, noise), prior)
        misfit = 1.0
    elif find_bad and len(sightings) >= 2 and misfit < SUSPICION:
        best, set_aside, suspects, misfit = _judge_sightings(data, prior, best, dof)
        notes += _words_on_bad(sightings, set_aside, suspects)
    covariance = best.covariance
    if misfit < 0.01 and dof > 0:
        # The residuals are larger than the stated centring allows, and no single sighting is to
        # blame. Birge's ratio: widen to what the data show (Birge 1932, Phys. Rev. 40, 207).
        covariance = covariance * max(1.0, best.cost / dof)
        notes.append(_words_on_misfit(data, best, misfit))
    fix = Fix(
        mean=best.mean,
        covariance=covariance,
        prior=prior,
        noise=noise,
        sightings=tuple(sightings),
        residuals=best.residuals,
        set_aside=set_aside,
        suspects=suspects,
        misfit_probability=misfit,
        log_evidence=best.log_evidence,
        noise_from_data=noise_from_data,
    )
    return replace(fix, notes=(*notes, *_words_on_geometry(fix)))


def _judge_sightings(
    data: _Data, prior: Priors, clean: Solution, dof: int
) -> tuple[Solution, tuple[int, ...], tuple[tuple[int, float], ...], float]:
    """Weigh "all good" against "this one is bad" for each sighting, by Laplace evidence."""
    n = len(data.readings)
    odds = math.log(BAD_SIGHTING_PRIOR / (1 - BAD_SIGHTING_PRIOR))
    tried = _likeliest_bad(data, clean)
    runs = [clean] + [gauss_newton(data.discount(i), prior) for i in tried]
    log_p = np.array([runs[0].log_evidence] + [r.log_evidence + odds for r in runs[1:]])
    p = np.exp(log_p - log_p.max())
    p /= p.sum()
    chosen = int(np.argmax(p))
    suspects = tuple((tried[k], float(p[k + 1])) for k in np.argsort(-p[1:]) if p[k + 1] > 0.05)
    if chosen == 0:
        return clean, (), suspects, chi_square_survival(clean.cost, dof)
    best = runs[chosen]
    misfit = chi_square_survival(best.cost, dof)
    if misfit < NONSENSE:
        return clean, (), (), chi_square_survival(clean.cost, dof)
    if p[chosen] > 0.9 and n >= 3:  # of two, neither can be outvoted
        return best, (tried[chosen - 1],), suspects, misfit
    # Nobody can say which: the mean of the likeliest (of two sightings, that of both together),
    # and a covariance about it that covers all.
    if n < 3:
        best, misfit = clean, 1.0  # the spread below says what Birge's ratio would
    spread = np.zeros_like(best.covariance)
    for weight, run in zip(p, runs, strict=True):
        gap = run.mean - best.mean
        gap[0] = np.angle(np.exp(1j * gap[0]))  # azimuth zeros of 179 and -179 are 2 apart
        spread += weight * (run.covariance + np.outer(gap, gap))
    return replace(best, covariance=spread), (), suspects, misfit


def _likeliest_bad(data: _Data, clean: Solution) -> list[int]:
    """Of many sightings, the few whose leaving out would mend most, so that a long evening's fix
    takes no longer than a short one's."""
    n = len(data.readings)
    return list(range(n)) if n <= MOST_TRIED else _worst_first(data, clean)[:MOST_TRIED]


def _worst_first(data: _Data, found: Solution) -> list[int]:
    """The sightings, those first whose leaving out would mend most.

    To first order leaving one out lowers the cost by r' (V - J C J')^-1 r, with its residuals r,
    their variances V, and the covariance C of the terms (Cook 1977, Technometrics 19, 15).
    """
    _, J = mount.direction_jacobian(data.readings, found.mean)
    J = data.basis @ J
    left = np.eye(2) / data.weight[..., None] - J @ found.covariance @ np.swapaxes(J, -1, -2)
    r = found.residuals[..., None]
    drop = (np.swapaxes(r, -1, -2) @ np.linalg.pinv(left) @ r)[:, 0, 0]
    return [int(i) for i in np.argsort(-drop)]


def evidence_of_wrong_stars(
    sightings: Sequence[Sighting], prior: Priors, noise: Noise, most: int
) -> float:
    """The largest log evidence that up to ``most`` of the sightings being bad can give."""
    data = _Data.of(sightings, noise)
    odds = math.log(BAD_SIGHTING_PRIOR / (1 - BAD_SIGHTING_PRIOR))
    run = gauss_newton(data, prior)
    best, doubted = run.log_evidence, set[int]()
    for k in range(1, min(most, len(sightings) - 1) + 1):
        worst = next(i for i in _worst_first(data, run) if i not in doubted)
        doubted.add(worst)
        data = data.discount(worst)
        run = gauss_newton(data, prior)
        best = max(best, run.log_evidence + k * odds)
    return best


def _words_on_misfit(data: _Data, best: Solution, misfit: float) -> str:
    """Whether the sightings contradict one another, or only what was believed beforehand."""
    if float(np.mean(data.weight * best.residuals**2)) < 1.0:
        what = "The sightings agree, but only with a mount further off than the kit expects"
    else:
        how = "" if misfit > NONSENSE else " by far, and no single one is to blame"
        what = f"The sightings disagree more than the stated centring allows{how}"
    return f"{what}; the uncertainties are widened to match. `plumbstar why` looks for the cause."


def _words_on_bad(
    sightings: Sequence[Sighting],
    set_aside: tuple[int, ...],
    suspects: tuple[tuple[int, float], ...],
) -> list[str]:
    if set_aside:
        name = sightings[set_aside[0]].star
        return [
            f"{name} contradicts the others and is set aside: a wrong star, not centred, or a "
            "slip? `plumbstar why` weighs the causes."
        ]
    if sum(p for _, p in suspects) > 0.5:
        names = " or ".join(sightings[i].star for i, _ in suspects[:3])
        return [f"One sighting looks wrong, {names}, but not clearly which: sight one more star."]
    return []


def _words_on_geometry(fix: Fix) -> list[str]:
    """Say what the geometry of the sightings leaves to the priors."""
    used = [fix.sightings[i] for i in fix.used]
    places = mount.unit(
        np.radians([s.true_az_deg for s in used]), np.radians([s.true_alt_deg for s in used])
    )
    apart = float(np.degrees(np.arccos(np.clip(np.min(places @ places.T), -1, 1))))
    if len(used) == 1 and np.all(np.isinf(fix.prior.sigma) | (fix.prior.sigma == 0)):
        return []  # nothing is believed beforehand: what was free is settled
    if len(used) == 1:
        return ["One sighting settles the azimuth zero only; the rest is prior. Sight one more."]
    if apart < 5.0:
        return ["Weak: the sightings are all at one place in the sky. Sight a star well away."]
    az = np.radians([s.true_az_deg for s in used])
    # Opposite azimuths (0 and 180 deg) do tell stop from lean, so they do not count as one.
    spread = 1.0 - abs(np.mean(np.exp(1j * az)))
    if spread < 0.03:
        return [
            "Weak: the stars stand at about one azimuth, so the stop and the lean cannot be told "
            "apart. A star toward another quarter would settle them."
        ]
    return []


def misclosures(sightings: Sequence[Sighting]) -> tuple[Misclosure, ...]:
    """Measured minus true angle for every pair, taking the readings at their word."""
    true = mount.unit(
        np.radians([s.true_az_deg for s in sightings]),
        np.radians([s.true_alt_deg for s in sightings]),
    )
    read = mount.unit(
        np.radians([s.reading_az_deg for s in sightings]),
        np.radians([s.reading_alt_deg for s in sightings]),
    )
    pairs = list(itertools.combinations(range(len(sightings)), 2))
    if not pairs:
        return ()
    i, j = np.array(pairs).T
    angle_true = np.degrees(separation(true[i], true[j]))
    angle_read = np.degrees(separation(read[i], read[j]))
    return tuple(
        Misclosure(int(a), int(b), float(t), float(m - t))
        for a, b, t, m in zip(i, j, angle_true, angle_read, strict=True)
    )


def separation(a: Array, b: Array) -> Array:
    """Angle (...) between unit vectors (..., 3), radians; exact at both ends (Kahan 2006, 13)."""
    out: Array = 2 * np.arctan2(np.linalg.norm(a - b, axis=-1), np.linalg.norm(a + b, axis=-1))
    return out


def chi_square_survival(x: float, dof: int) -> float:
    """P(chi-square > x), by the finite sums for even and odd degrees of freedom.

    Abramowitz and Stegun 1964, eqs. 26.4.4 and 26.4.5.
    """
    if x <= 0:
        return 1.0
    if dof % 2:
        root = math.sqrt(x)
        term, total = root, 0.0
        for r in range(1, (dof - 1) // 2 + 1):
            total += term
            term *= x / (2 * r + 1)
        return math.erfc(root / math.sqrt(2)) + math.sqrt(2 / math.pi) * math.exp(-x / 2) * total
    term, total = 1.0, 1.0
    for r in range(1, dof // 2):
        term *= x / (2 * r)
        total += term
    return math.exp(-x / 2) * total


def count(n: int) -> str:
    """ "1 sighting", "2 sightings"."""
    return f"{n} sighting" + ("" if n == 1 else "s")


def parse_terms(text: str) -> tuple[str, ...]:
    """Names from ``a,b,c``."""
    names = (t.strip().lower() for t in text.split(","))
    return tuple(n.replace("-", "_").replace(" ", "_") for n in names if n)


def priors_from_mapping(base: Priors, learnt: Mapping[str, tuple[float, float]]) -> Priors:
    """Replace some terms' priors by learnt (mean, sigma), radians."""
    mean, sigma = base.mean.copy(), base.sigma.copy()
    for name, (m, s) in learnt.items():
        mean[INDEX[name]], sigma[INDEX[name]] = m, s
    return Priors(mean, sigma)
