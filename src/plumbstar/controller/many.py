"""Many evenings of one number each: the stop they have in common."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.controller.pair import (
    SIGNS,
    STOP,
    ShownNumber,
    Sign,
    check,
    noise_variance,
    seen_prior,
    sensitivities,
    signed,
)
from plumbstar.controller.rules import Beheld, Rule, rules_of_thumb
from plumbstar.errors import UserError
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.suspects import BAD_SIGHTING_SIGMA
from plumbstar.units import Array

#: How often an evening among many is bad: its number is then as far off as a bad sighting is.
#: Common practice, no source.
BAD_EVENING_PRIOR = 0.05


class RunFinding(Enum):
    """What a run of evenings comes to."""

    UNDECIDED = auto()
    NOTHING = auto()
    STOP = auto()


@dataclass(frozen=True)
class EveningShare:
    """One evening inside the run: what was left unexplained, and whether it stands apart."""

    label: str
    shown_deg: float
    sensitivity: float
    drift_deg: float
    left_deg: float
    bad: float


@dataclass(frozen=True)
class Combined:
    """What a run of evenings says together, degrees. ``centring_deg`` is 1 sigma on each axis.

    ``clock``: whether the controller was said to have one, None where that was weighed;
    ``finding``: what it comes to (:mod:`.say` has the words).
    """

    stop_deg: float
    stop_sigma_deg: float
    stop_prior_sigma_deg: float
    clock: bool | None
    clockless: float
    centring_deg: float
    centring_sigma_deg: float
    evenings: tuple[EveningShare, ...]
    decides: bool
    finding: RunFinding
    rules: tuple[Rule, ...]


def combine(
    evenings: Sequence[ShownNumber],
    priors: Priors,
    noise: Noise,
    *,
    clock: bool | None = None,
    sign: Sign = "measured-minus-true",
    adding: str = "unknown",
    field_deg: float = 1.0,
) -> Combined:
    """The stop that a run of evenings has in common, apart from drift, hands and bad evenings.

    The terms are one set for all evenings, with the kit's priors; the centring is learnt from the
    scatter (log-normal prior, a factor of two about ``noise.centring``); whether the controller has
    a clock is weighed by the evidence; an evening may be bad (wrong star, slip) with
    :data:`BAD_EVENING_PRIOR`. For each centring and clock the mode of the mixture likelihood is
    found by expectation maximisation (Dempster, Laird and Rubin 1977, J. R. Stat. Soc. B 39, 1) and
    its volume by Laplace's method; the grid is then averaged over. ``field_deg``: of the eyepiece
    that objects are found with. Raises :class:`UserError`.
    """
    if not evenings:
        raise UserError(
            "There is no number to judge by", "", "Give one with --shown, or a file of several"
        )
    for e in evenings:
        check(e.pair)
    mean, var = seen_prior(priors)
    free = np.flatnonzero(var > 0)
    if STOP not in free:
        raise UserError(
            "The kit says that the stop is never off, so no number can tell of it",
            "",
            "Raise altitude_zero_sigma_deg under [priors]",
        )
    numbers = np.array([signed(e.shown_deg, sign) for e in evenings])
    G = np.array([sensitivities(e.pair.places) for e in evenings])
    drift = np.array([e.pair.drift for e in evenings])
    air = np.array([e.pair.air for e in evenings])
    # The variance is a straight line in the square of the centring, for each sort of controller.
    still = Noise(0.0, noise.reading_az, noise.reading_alt)
    bare = {c: np.array([noise_variance(e.pair, still, c) for e in evenings]) for c in (1.0, 0.0)}
    by_hand = np.array([noise_variance(e.pair, noise, 0.0) for e in evenings]) - bare[0.0]
    log_scales = np.linspace(-3.0, 3.0, 13) * math.log(2.0)
    runs: list[tuple[float, float, float, Array, Array, Array]] = []
    for clockless, p in ((1.0, 0.5), (0.0, 0.5)):
        p = {None: 0.5, True: 1.0 - clockless, False: clockless}[clock]
        if p == 0:
            continue
        y = numbers - clockless * drift - air - G @ mean
        for ls in log_scales:
            f = math.exp(float(ls))
            s2 = bare[clockless] + f * f * by_hand
            log_z, x, cov, good = _mixture(y, G[:, free], var[free], s2)
            log_z += math.log(p) - 0.5 * (float(ls) / math.log(2.0)) ** 2
            full, full_cov = mean.copy(), np.zeros((N_TERMS, N_TERMS))
            full[free] += x
            full_cov[np.ix_(free, free)] = cov
            runs.append((log_z, clockless, f, full, full_cov, good))
    w = np.exp(np.array([r[0] for r in runs]) - max(r[0] for r in runs))
    w /= w.sum()
    stops = np.array([r[3][STOP] for r in runs])
    stop = float(w @ stops)
    stop_sigma = math.sqrt(
        float(w @ (np.array([r[4][STOP, STOP] for r in runs]) + (stops - stop) ** 2))
    )
    clockless = float(sum(wi for wi, r in zip(w, runs, strict=True) if r[1] == 1.0))
    centring = np.array([r[2] for r in runs]) * noise.centring
    hand = float(w @ centring)
    hand_sigma = math.sqrt(max(float(w @ (centring - hand) ** 2), 0.0))
    terms = np.asarray(sum(wi * r[3] for wi, r in zip(w, runs, strict=True)))
    good = np.asarray(sum(wi * r[5] for wi, r in zip(w, runs, strict=True)))
    left = numbers - clockless * drift - air - G @ terms
    flip = 1.0 if sign == SIGNS[0] else -1.0
    shares = tuple(
        EveningShare(
            label=e.label or f"evening {i + 1}",
            shown_deg=e.shown_deg,
            sensitivity=float(G[i, STOP]),
            drift_deg=math.degrees(float(drift[i])),
            left_deg=math.degrees(float(left[i])) * flip,
            bad=float(1.0 - good[i]),
        )
        for i, e in enumerate(evenings)
    )
    prior_sigma = math.sqrt(float(var[STOP]))
    decides = stop_sigma <= max(0.35 * prior_sigma, math.radians(0.1))
    nothing = abs(stop) < 2 * stop_sigma
    return Combined(
        stop_deg=math.degrees(stop),
        stop_sigma_deg=math.degrees(stop_sigma),
        stop_prior_sigma_deg=math.degrees(prior_sigma),
        clock=clock,
        clockless=clockless,
        centring_deg=math.degrees(hand),
        centring_sigma_deg=math.degrees(hand_sigma),
        evenings=shares,
        decides=decides,
        finding=RunFinding.UNDECIDED
        if not decides
        else RunFinding.NOTHING
        if nothing
        else RunFinding.STOP,
        rules=rules_of_thumb(
            [math.degrees(x) for x in numbers],
            [e.pair for e in evenings],
            stop,
            stop_sigma,
            Beheld(priors, noise, field_deg),
            adding,
        ),
    )


def _mixture(y: Array, G: Array, prior_var: Array, s2: Array) -> tuple[float, Array, Array, Array]:
    """Log evidence, mode (k,), covariance (k, k) and P(good) (n,) of y = G x + noise or nonsense.

    Started from everything good and from up to five evenings believed alone, as a mixture has more
    than one peak; the highest counts.
    """
    n, k = int(G.shape[0]), int(G.shape[1])
    b2 = s2 + BAD_SIGHTING_SIGMA**2
    p = BAD_EVENING_PRIOR
    best: tuple[float, Array, Array] | None = None
    starts: list[Array] = [np.full(n, 1.0 - p)] + [
        np.where(np.arange(n) == i, 1.0, 0.1) for i in range(n)
    ]
    alone = sorted({round(1 + (n - 1) * i / 4) for i in range(5)}) if n > 2 else []
    for start in (starts[0], *(starts[i] for i in alone)):
        good = start
        x: Array = np.zeros(k)
        for _ in range(100):
            weight = good / s2 + (1.0 - good) / b2
            hessian = (G * weight[:, None]).T @ G + np.diag(1.0 / prior_var)
            new = np.asarray(np.linalg.solve(hessian, G.T @ (weight * y)), dtype=np.float64)
            r = y - G @ new
            log_good = np.log(1 - p) - 0.5 * (r * r / s2 + np.log(2 * np.pi * s2))
            log_bad = np.log(p) - 0.5 * (r * r / b2 + np.log(2 * np.pi * b2))
            top = np.maximum(log_good, log_bad)
            log_l = top + np.log(np.exp(log_good - top) + np.exp(log_bad - top))
            good = np.asarray(np.exp(log_good - log_l))
            step = float(np.max(np.abs(new - x) / np.sqrt(prior_var)))
            x = new
            if step < 1e-6:
                break
        value = float(np.sum(log_l)) - 0.5 * float(np.sum(x * x / prior_var))
        if best is None or value > best[0] + 1e-9:
            best = (value, x, good)
    assert best is not None
    value, mode, likely = best
    # The curvature of the mixture itself, less than the weighted one where an evening is in doubt.
    r = y - G @ mode
    slope = r * (likely / s2 + (1 - likely) / b2)
    curve = (likely / s2 + (1 - likely) / b2) - (
        likely * (r / s2) ** 2 + (1 - likely) * (r / b2) ** 2 - slope**2
    )
    hessian = (G * curve[:, None]).T @ G + np.diag(1.0 / prior_var)
    if np.min(np.linalg.eigvalsh(hessian)) <= 0:
        weight = likely / s2 + (1 - likely) / b2
        hessian = (G * weight[:, None]).T @ G + np.diag(1.0 / prior_var)
    _, logdet = np.linalg.slogdet(hessian)
    log_z = value - 0.5 * float(np.sum(np.log(prior_var))) - 0.5 * float(logdet)
    return log_z, mode, np.asarray(np.linalg.inv(hessian)), np.asarray(likely)
