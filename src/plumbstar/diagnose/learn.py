"""What past outings teach about the mount: priors for the next one.

Stop, squareness, cone, droop, scales and runout belong to the mount and last from outing to outing;
azimuth zero and leans are made anew by each set-up and are not learnt. Even what lasts is not quite
the same every time (the stop bears elsewhere, the mirror was collimated), so the model has two
levels, term by term, in units of the kit's prior sigma:

    lasting value     mu    ~ N(kit's value, 0.85^2)
    outing's value    theta ~ mu + tau t_4          (Student's t with 4 degrees of freedom)
    outing's data     theta known as far as its sightings tell, *without* the prior of its fix
    scatter           tau   ~ half-t_3 with scale 0.3, never below a floor

Without any outing the next value is then spread as the kit says (0.85 and 0.3 were chosen for
that; ``tests/diagnose/test_learn.py`` holds it), with one it is not narrowed below the usual
scatter, and with many the data decide. The t makes one odd outing harmless, and half-t for a
scatter with few groups follows Gelman 2006, Bayesian Analysis 1, 515, section 3.2. Solved by Gibbs
sampling with a fixed seed (the t as a scale mixture: Gelman et al., Bayesian Data Analysis, 3rd
ed., section 12.1, memory): the same outings always teach the same.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, PERSISTENT, TERMS
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix, solve
from plumbstar.units import Array, Bools, Indices

_AT = np.array([INDEX[t] for t in PERSISTENT])

#: No learnt sigma and no scatter is narrower than this, radians (scales: a ratio). A plywood stop
#: or a collimated mirror comes back to a few arcminutes at best: common practice, no source.
FLOOR: Mapping[str, float] = {
    "altitude_zero": math.radians(0.05),
    "squareness": math.radians(0.02),
    "cone": math.radians(0.03),
    "droop": math.radians(0.02),
    "azimuth_scale": 1e-4,
    "altitude_scale": 1e-4,
    "azimuth_runout_sin": math.radians(0.01),
    "azimuth_runout_cos": math.radians(0.01),
    "refraction": math.radians(0.005),
}

LASTING = 0.85  # share of the kit's sigma that is the mount's own lasting value
SCATTER = 0.3  # scale of the half-t_3 for the scatter, in the kit's sigmas
T_DOF = 4.0
#: Chi-square probability of an outing's fix below which it teaches nothing.
MISFIT = 1e-4
ODD = 0.4  # an outing whose mean weight falls below this is called odd


@dataclass(frozen=True)
class Evidence:
    """What the sightings of one outing alone say of the lasting terms, free of any prior on them.

    A Gaussian likelihood exp(-x' information x / 2 + vector' x) over the values x (9,), radians,
    in the order of :data:`plumbstar.mount.PERSISTENT`; ``information`` (9, 9) may be singular,
    ``vector`` (9,). Azimuth zero and leans are integrated out under the priors of their own set-up.
    """

    outing_id: int
    utc: Instant | None
    information: Array
    vector: Array


@dataclass(frozen=True)
class FreeTerms:
    """The k lasting terms that a kit leaves free: places in a vector of terms, values, sigmas.

    A run of outings is weighed in units of these sigmas, so that a prior is always one.
    """

    names: tuple[str, ...]
    at: Indices
    mean: Array
    unit: Array

    @staticmethod
    def of(base: Priors) -> FreeTerms:
        """All but those ``base`` holds (sigma 0) or does not know (infinite)."""
        at = _AT[(base.sigma[_AT] > 0) & np.isfinite(base.sigma[_AT])]
        return FreeTerms(tuple(TERMS[i] for i in at), at, base.mean[at], base.sigma[at])

    def told_by(self, e: Evidence) -> tuple[Array, Array]:
        """An outing's information (k, k) and vector (k,), about the kit's values, in its sigmas."""
        free = np.searchsorted(_AT, self.at)
        N = e.information[np.ix_(free, free)]
        return N * np.outer(self.unit, self.unit), (e.vector[free] - N @ self.mean) * self.unit


@dataclass(frozen=True)
class TermLearnt:
    """One term as learnt; ``mean`` and ``sigma`` are for the next outing, radians (or a ratio).

    ``scatter`` is the typical change from outing to outing; ``outings`` those that tell of the
    term, ``odd`` those among them that stand apart; ``since`` the last mend or reset.
    """

    name: str
    mean: float
    sigma: float
    kit_mean: float
    kit_sigma: float
    scatter: float
    outings: tuple[int, ...]
    odd: tuple[int, ...]
    since: Instant | None


@dataclass(frozen=True)
class Learnt:
    """Priors for the next outing. ``terms``: all that the kit leaves free, even if untaught.

    ``left_out``: outings whose sightings contradict one another too much to teach anything.
    """

    priors: Priors
    terms: tuple[TermLearnt, ...]
    left_out: tuple[int, ...] = ()

    def term(self, name: str) -> TermLearnt:
        """That term. Raises :class:`UserError` if it is held by the kit or not a lasting one."""
        for t in self.terms:
            if t.name == name:
                return t
        have = ", ".join(t.name for t in self.terms)
        raise UserError(f"the term '{name}'", f"one that is learnt ({have})", "Check the name")


def evidence(fix: Fix, outing_id: int = 0, utc: Instant | None = None) -> Evidence:
    """Take the prior back out of a fix, leaving only what its sightings say.

    In units of the prior sigma the posterior covariance A of the lasting terms has information
    A^-1; the prior's share of it is 1. Exact for a linear model: marginal posterior = prior times
    marginal likelihood, as the priors of the terms are independent. The fix's own linearisation is
    kept (second order in the terms: under 1 arcmin for terms of 1 deg). Negative remains of the
    subtraction are rounding, or a covariance widened for a suspect sighting, and count as nothing.
    """
    prior_sigma, prior_mean = fix.prior.sigma[_AT], fix.prior.mean[_AT]
    free = prior_sigma > 0
    information, vector = np.zeros((len(_AT), len(_AT))), np.zeros(len(_AT))
    if np.any(free):
        at = _AT[free]
        flat = np.isinf(prior_sigma[free])
        unit = np.where(flat, fix.sigma[at], prior_sigma[free])
        A = fix.covariance[np.ix_(at, at)] / np.outer(unit, unit)
        posterior = np.linalg.inv(A)
        values, axes = np.linalg.eigh((posterior + posterior.T) / 2 - np.diag(~flat * 1.0))
        told = values > 1e-9
        values, axes = values[told], axes[:, told]
        N = (axes * values) @ axes.T
        # Relative to the prior mean, the prior adds nothing to the vector.
        v = axes @ (axes.T @ (posterior @ ((fix.mean[at] - prior_mean[free]) / unit)))
        N, v = N / np.outer(unit, unit), v / unit
        information[np.ix_(free, free)] = N
        vector[free] = v + N @ prior_mean[free]
    return Evidence(outing_id, utc, information, vector)


def evidence_from(
    sightings: Sequence[Sighting],
    kit: Kit,
    outing_id: int = 0,
    utc: Instant | None = None,
    cuts: Sequence[tuple[int, Sequence[str]]] = (),
) -> Evidence | None:
    """Solve an outing with its kit's own priors and take them out again. Raises UserError.

    ``cuts``: where something moved, as (how many sightings came before, what moved), oldest first.
    The parts between are solved each by itself, and what they say is added. After the altitude
    circle slipped its zero is no longer that of the stop, and nothing is learnt of it.
    None when the sightings of no part fit a mount that the kit allows (:data:`MISFIT`) and that
    stood still: a wrong star or a base that was moved would be learnt as a mount.
    """
    prior, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    found: list[Evidence] = []
    stop_holds = True
    edges = [0, *(n for n, _ in cuts), len(sightings)]
    for k, (low, high) in enumerate(itertools.pairwise(edges)):
        stop_holds = stop_holds and not (k and "altitude" in cuts[k - 1][1])
        if low == high:
            continue
        fix = solve(sightings[low:high], prior, noise)
        if fix.misfit_probability >= MISFIT and fix.as_the_kit_expects:
            said = evidence(_by_the_leading_story(fix), outing_id, utc)
            found.append(said if stop_holds else _without(said, "altitude_zero"))
    if not found:
        return None
    information = np.sum([e.information for e in found], axis=0)
    return Evidence(outing_id, utc, information, np.sum([e.vector for e in found], axis=0))


def _by_the_leading_story(fix: Fix) -> Fix:
    """The fix of its leading story alone: all good, or all but the one bad sighting.

    A mean over stories is no likelihood: the prior, taken out of it, left evidence that claimed too
    much (chi-square per number 1.11 to 1.56 for 1.01 to 1.19 of the story alone, over five times
    60 outings of four stars).
    """
    bad = {i for i, _ in fix.stories[0].story.bad} if fix.stories else set()
    good = [s for i, s in enumerate(fix.sightings) if i not in bad]
    # A lone sighting, thought bad, tells next to nothing either way.
    return solve(good, fix.prior, fix.noise, find_bad=False) if good else fix


def _without(e: Evidence, term: str) -> Evidence:
    """The same with nothing known or said of one term: integrated out (Schur complement)."""
    at = PERSISTENT.index(term)
    if e.information[at, at] <= 0.0:
        return e
    share = e.information[at] / e.information[at, at]
    information = e.information - np.outer(e.information[at], share)
    return replace(e, information=information, vector=e.vector - share * e.vector[at])


def since_of(mends: Iterable[tuple[Instant, Sequence[str]]]) -> dict[str, Instant]:
    """The last mend of each term, from (time, terms)."""
    last: dict[str, Instant] = {}
    for utc, terms in mends:
        for t in terms:
            last[t] = max(utc, last.get(t, utc))
    return last


def _forget(information: Array, vector: Array, gone: Bools) -> tuple[Array, Array]:
    """Integrate terms out under their unit prior, leaving nothing said about them (Schur)."""
    out_i, out_v = np.zeros_like(information), np.zeros_like(vector)
    keep = ~gone
    inner = information[np.ix_(gone, gone)] + np.eye(int(gone.sum()))
    cross = information[np.ix_(keep, gone)] @ np.linalg.inv(inner)
    out_i[np.ix_(keep, keep)] = (
        information[np.ix_(keep, keep)] - cross @ information[np.ix_(gone, keep)]
    )
    out_v[keep] = vector[keep] - cross @ vector[gone]
    return out_i, out_v


def learn(
    outings: Sequence[Evidence],
    base: Priors,
    since: Mapping[str, Instant] | None = None,
    *,
    rounds: int = 160,
    chains: int = 24,
) -> Learnt:
    """Priors for the next outing from ``base`` (the kit's) and the evidence of past outings.

    ``since``: for each term the moment before which outings say nothing of it (an outing without
    a time counts as before). Terms held by ``base`` (sigma 0) or unknown there (infinite) stay as
    they are. ``rounds`` times ``chains`` samples are drawn, a quarter of them thrown away.
    """
    since = since or {}
    free = FreeTerms.of(base)
    names, unit, mean0, k = free.names, free.unit, free.mean, len(free.names)
    floor = np.array([FLOOR[n] for n in names]) / unit
    info, vec = np.zeros((len(outings), k, k)), np.zeros((len(outings), k))
    told = np.zeros((len(outings), k), dtype=bool)
    for i, e in enumerate(outings):
        N, v = free.told_by(e)
        gone = np.array(
            [n in since and (e.utc is None or e.utc < since[n]) for n in names], dtype=bool
        )
        if gone.any():
            N, v = _forget(N, v, gone)
        info[i], vec[i] = N, v
        # It tells of a term if it alone would narrow the kit's sigma by 1 in 40.
        told[i] = np.diag(np.linalg.inv(N + np.eye(k))) < 0.95
    used = told.any(axis=1)
    middle, width = np.zeros(k), np.ones(k)
    scatter, weight = np.full(k, np.nan), np.ones((len(outings), k))
    if used.any():
        nexts, taus, weight[used] = _sample(info[used], vec[used], floor, rounds, chains)
        low, middle, high = np.asarray(np.quantile(nexts, [0.158655, 0.5, 0.841345], axis=0))
        width, scatter = (high - low) / 2, np.median(taus, axis=0)
    terms = []
    for j, name in enumerate(names):
        mine = [i for i in range(len(outings)) if told[i, j]]
        # A term no outing tells of keeps the kit's prior to the letter.
        m, s = (middle[j], max(width[j], floor[j])) if mine else (0.0, 1.0)
        terms.append(
            TermLearnt(
                name,
                float(mean0[j] + m * unit[j]),
                float(s * unit[j]),
                float(mean0[j]),
                float(unit[j]),
                float(scatter[j] * unit[j]) if mine else math.nan,
                tuple(outings[i].outing_id for i in mine),
                tuple(outings[i].outing_id for i in mine if weight[i, j] < ODD),
                since.get(name),
            )
        )
    priors = base.replacing({t.name: (t.mean, t.sigma) for t in terms if t.outings})
    return Learnt(priors, tuple(terms))


def _sample(
    info: Array, vec: Array, floor: Array, rounds: int, chains: int
) -> tuple[Array, Array, Array]:
    """Draws of the next outing's value (m, k) and the scatter (m, k); mean weights (n, k).

    ``info`` (n, k, k) and ``vec`` (n, k) in units of the kit's sigma. Lasting values and outings'
    values are drawn as one block, so that a small scatter does not make the chains stick.
    """
    rng = np.random.default_rng(20270128)
    n, k = vec.shape
    # The scatter's conditional has no ready form with a half-t prior: drawn on a grid of its log.
    steps = np.exp(np.linspace(0.0, 1.0, 48)[:, None] * np.log(20.0 / floor)) * floor  # (g, k)
    log_prior = -2.0 * np.log1p((steps / SCATTER) ** 2 / 3.0) + np.log(steps)
    tau0 = np.full((chains, k), SCATTER) * np.exp(rng.normal(0.0, 0.5, (chains, k)))
    tau: Array = np.maximum(tau0, floor)
    u: Array = np.ones((chains, n, k))
    eye = np.eye(k)
    kept: list[tuple[Array, Array]] = []
    weights = np.zeros((n, k))
    burn = rounds // 4
    for step in range(rounds):
        d = u / tau[:, None, :] ** 2  # precision of each outing's value about the lasting one
        # P = info + diag(d); what an outing says of mu: d - d P^-1 d, and d P^-1 vec.
        P_inv = _inverse(info[None] + d[..., None] * eye)
        says = d[..., None] * eye - d[..., None] * P_inv * d[..., None, :]
        told = np.sum(d * _times(P_inv, vec[None]), axis=1)
        cov_mu = _inverse(says.sum(axis=1) + eye / LASTING**2)
        mu = _times(cov_mu, told) + _times(_root(cov_mu), rng.normal(size=(chains, k)))
        theta = _times(P_inv, vec[None] + d * mu[:, None, :])
        theta = theta + _times(_root(P_inv), rng.normal(size=(chains, n, k)))
        off2 = (theta - mu[:, None, :]) ** 2
        rate = (T_DOF + off2 / tau[:, None, :] ** 2) / 2
        u = rng.gamma((T_DOF + 1) / 2, 1.0, (chains, n, k)) / rate
        total = np.sum(u * off2, axis=1)  # (chains, k)
        log_p = log_prior - n * np.log(steps) - total[:, None, :] / (2 * steps**2)
        pick = np.argmax(log_p + rng.gumbel(size=log_p.shape), axis=1)
        tau = steps[pick, np.arange(k)]
        if step >= burn:
            for _ in range(4):  # several guesses at the next outing for each draw: smoother edges
                kept.append((mu + tau * rng.standard_t(T_DOF, (chains, k)), tau))
            weights += u.mean(axis=0) / (rounds - burn)
    return np.concatenate([x for x, _ in kept]), np.concatenate([t for _, t in kept]), weights


def _inverse(matrices: Array) -> Array:
    return np.asarray(np.linalg.inv(matrices), dtype=np.float64)


def _root(cov: Array) -> Array:
    """Lower triangular root, of the symmetric part, (..., k, k)."""
    return np.asarray(np.linalg.cholesky((cov + np.swapaxes(cov, -1, -2)) / 2), dtype=np.float64)


def _times(matrices: Array, vectors: Array) -> Array:
    """Matrices (..., k, k) on vectors (..., k)."""
    return np.asarray((matrices @ vectors[..., None])[..., 0], dtype=np.float64)
