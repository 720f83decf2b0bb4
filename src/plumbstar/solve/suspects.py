"""Whether one of the sightings is bad, and which: weighed by the evidence of each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.solve.posterior import Data, Solution, gauss_newton, gauss_newton_weighed
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.turns import half_turn

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


def judge(
    data: Data, prior: Priors, clean: Solution, dof: int
) -> tuple[Solution, tuple[int, ...], tuple[tuple[int, float], ...], float]:
    """Weigh "all good" against "this one is bad" for each sighting, by Laplace evidence."""
    n = len(data.readings)
    odds = math.log(BAD_SIGHTING_PRIOR / (1 - BAD_SIGHTING_PRIOR))
    tried = _likeliest_bad(data, clean)
    weights = np.array([data.discount(i, BAD_SIGHTING_SIGMA).weight for i in tried])
    runs = [clean, *gauss_newton_weighed(data, prior, weights)]
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
        gap[0] = half_turn(gap[0])  # azimuth zeros of 179 and -179 are 2 apart
        spread += weight * (run.covariance + np.outer(gap, gap))
    return replace(best, covariance=spread), (), suspects, misfit


def _likeliest_bad(data: Data, clean: Solution) -> list[int]:
    """Of many sightings, the few whose leaving out would mend most, so that a long evening's fix
    takes no longer than a short one's."""
    n = len(data.readings)
    return list(range(n)) if n <= MOST_TRIED else _worst_first(data, clean)[:MOST_TRIED]


def _worst_first(data: Data, found: Solution) -> list[int]:
    """The sightings, those first whose leaving out would mend most.

    To first order leaving one out lowers the cost by r' (V - J C J')^-1 r, with its residuals r,
    their variances V, and the covariance C of the terms (Cook 1977, Technometrics 19, 15).
    """
    _, J = kinematics.direction_jacobian(data.readings, found.mean)
    J = data.basis @ J
    left = np.eye(2) / data.weight[..., None] - J @ found.covariance @ np.swapaxes(J, -1, -2)
    r = found.residuals[..., None]
    drop = (np.swapaxes(r, -1, -2) @ np.linalg.pinv(left) @ r)[:, 0, 0]
    return [int(i) for i in np.argsort(-drop)]


def evidence_of_wrong_stars(
    sightings: Sequence[Sighting], prior: Priors, noise: Noise, most: int
) -> float:
    """The largest log evidence that up to ``most`` of the sightings being bad can give."""
    data = Data.of(sightings, noise)
    odds = math.log(BAD_SIGHTING_PRIOR / (1 - BAD_SIGHTING_PRIOR))
    run = gauss_newton(data, prior)
    best, doubted = run.log_evidence, set[int]()
    for k in range(1, min(most, len(sightings) - 1) + 1):
        worst = next(i for i in _worst_first(data, run) if i not in doubted)
        doubted.add(worst)
        data = data.discount(worst, BAD_SIGHTING_SIGMA)
        run = gauss_newton(data, prior)
        best = max(best, run.log_evidence + k * odds)
    return best


def in_words(
    sightings: Sequence[Sighting],
    set_aside: tuple[int, ...],
    suspects: tuple[tuple[int, float], ...],
) -> list[str]:
    """What there is to say of it; nothing where no sighting is doubted."""
    if set_aside:
        name = sightings[set_aside[0]].star
        return [
            f"{name} contradicts the others and is set aside: a wrong star, not centred, or a slip?"
        ]
    if sum(p for _, p in suspects) > 0.5:
        names = " or ".join(sightings[i].star for i, _ in suspects[:3])
        return [f"One sighting looks wrong, {names}, but not clearly which: sight one more star."]
    return []
