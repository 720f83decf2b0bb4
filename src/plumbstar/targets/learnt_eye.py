"""The observer's own eye, learnt from what was seen and what was not.

Each look had a margin: so many magnitudes over the threshold of a nominal eye under the stated sky
(verdict.py). The observer's eye needs ``eye_mag`` more than that, the site's sky is ``sky_mag``
darker than stated, and one look scatters about this by a normal law, one evening by
:data:`EVENING_MAG` for all of its looks together. Barely, faintly and clearly are further steps of
the same scale, of unknown width; now and then an answer means nothing (:data:`LAPSE`); and of what
was not seen only a share is told, unknown as well, so that a log of finds alone does not make an
eagle's eye. All of it is found together: the most probable values and, by the curvature there, how
well they are known (Laplace's method). Widths of the prior beliefs are judgement;
design/own_eye.py simulates observers of another law and finds their hidden eyes again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.contract.seen import HowSeen
from plumbstar.units import Array

#: What one evening's air and eye differ from the usual, magnitudes. Judgement.
EVENING_MAG = 0.25
#: So many answers are chance. Judgement.
LAPSE = 0.04
#: Under so many looks the prior belief stands: nothing is said to be learnt.
LEAST_LOOKS = 8
#: By how much the margin of a usual object grows under a sky a magnitude darker.
USUAL_PER_SKY = 0.7
_STEPS: tuple[HowSeen, ...] = ("not", "barely", "faintly", "clearly")
#: Most probable beforehand and how sure: eye and sky in magnitudes; log of the spread; logs of the
#: two steps' widths, magnitudes; log odds of telling of what was not seen.
_BEFORE = np.array([0.0, 0.0, math.log(0.55), math.log(0.7), math.log(1.0), 0.5])
_SURE = np.array([0.5, 0.35, 0.35, 0.5, 0.5, 1.2])
#: A normal law in seven places and their weights (Gauss and Hermite; exact to the 13th power).
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)


@dataclass(frozen=True, slots=True)
class LookFact:
    """One look: its margin for a nominal eye, magnitudes; by how much that grows when the sky is a
    magnitude darker; how it was seen; and which evening it was."""

    margin_mag: float
    per_sky: float
    seen: HowSeen
    evening: int


@dataclass(frozen=True, slots=True)
class LearntEye:
    """What looks teach, with one sigma each. ``eye_mag``: magnitudes that this eye needs more than
    the nominal one (less where negative); ``sky_mag``: by how much the sky is darker than stated.
    ``spread_mag``: of one look on an evening yet unknown, with what is not known of the rest."""

    looks: int
    not_seen: int
    evenings: int
    eye_mag: float
    eye_sigma_mag: float
    sky_mag: float
    sky_sigma_mag: float
    shift_sigma_mag: float
    spread_mag: float

    @property
    def learnt(self) -> bool:
        """Whether there were enough looks to speak of."""
        return self.looks >= LEAST_LOOKS

    @property
    def shift_mag(self) -> float:
        """By how much more a usual object needs than was thought, eye and sky together;
        ``shift_sigma_mag`` is of this."""
        return self.eye_mag - USUAL_PER_SKY * self.sky_mag


def _below(z: Array) -> Array:
    """The normal law's share below (Abramowitz and Stegun 26.2.17, to 1e-7)."""
    a = np.minimum(np.abs(z), 8.0)
    t = 1.0 / (1.0 + 0.2316419 * a)
    poly = t * (0.319381530 + t * (-0.356563782 + t * (1.781477937
           + t * (-1.821255978 + t * 1.330274429))))  # fmt: skip
    tail = np.exp(-0.5 * a * a) / math.sqrt(2.0 * math.pi) * poly
    return np.asarray(np.where(z >= 0.0, 1.0 - tail, tail))


class _Likelihood:
    """Minus the log of the posterior, of arrays (n,) made once."""

    def __init__(self, facts: Sequence[LookFact]) -> None:
        self._margin = np.array([f.margin_mag for f in facts])
        self._per_sky = np.array([f.per_sky for f in facts])
        self._kind = np.array([_STEPS.index(f.seen) if f.seen in _STEPS else 4 for f in facts])
        evenings = {e: k for k, e in enumerate(dict.fromkeys(f.evening for f in facts))}
        self._evening = np.array([evenings[f.evening] for f in facts], dtype=int)
        self.evenings = len(evenings)

    def __call__(self, p: Array) -> float:
        eye, sky, log_spread, log_barely, log_faint, odds = p
        spread = math.exp(log_spread)
        cuts = np.array([0.0, math.exp(log_barely), math.exp(log_barely) + math.exp(log_faint)])
        told = 1.0 / (1.0 + math.exp(-odds))
        over = self._margin - eye + self._per_sky * sky
        at = over[:, None] + EVENING_MAG * _NODES  # (n, 7)
        below = _below((cuts[:, None, None] - at) / spread)  # (3, n, 7)
        steps = np.stack([below[0], below[1] - below[0], below[2] - below[1], 1.0 - below[2]])
        steps = (1.0 - LAPSE) * steps + LAPSE / 4.0
        kept = 1.0 - steps[0] * (1.0 - told)  # what is told of at all
        seen = np.concatenate([steps, (1.0 - steps[0])[None]])
        seen[0] *= told
        chosen = seen[self._kind, np.arange(len(over))] / kept
        by_evening = np.zeros((self.evenings, len(_NODES)))
        np.add.at(by_evening, self._evening, np.log(np.maximum(chosen, 1e-12)))
        top = by_evening.max(axis=1, keepdims=True)
        weights = _WEIGHTS / _WEIGHTS.sum()
        log_like = top[:, 0] + np.log((np.exp(by_evening - top) * weights).sum(axis=1))
        off = (p - _BEFORE) / _SURE
        return float(0.5 * off @ off - log_like.sum())


_STEP = 0.02


def _slopes(f: _Likelihood, p: Array) -> tuple[Array, Array]:
    """Gradient (6,) and curvature (6, 6) by differences."""
    n = len(p)
    h = _STEP * np.eye(n)
    here = f(p)
    up = np.array([f(p + h[i]) for i in range(n)])
    down = np.array([f(p - h[i]) for i in range(n)])
    grad = (up - down) / (2.0 * _STEP)
    curve = np.diag((up - 2.0 * here + down) / _STEP**2)
    for i in range(n):
        for j in range(i):
            both = f(p + h[i] + h[j]) - up[i] - up[j] + here
            curve[i, j] = curve[j, i] = both / _STEP**2
    return grad, curve


def learn_eye(facts: Sequence[LookFact]) -> LearntEye:
    """The eye that the looks speak of; with none, the nominal one as it is believed beforehand."""
    f = _Likelihood(facts)
    p, damping = _BEFORE.copy(), 1e-3
    value = f(p) if facts else 0.0
    curve = np.diag(1.0 / _SURE**2)
    for _ in range(40 if facts else 0):
        grad, curve = _slopes(f, p)
        moved = False
        for _ in range(8):
            step = np.linalg.solve(_positive(curve) + damping * np.diag(1.0 / _SURE**2), -grad)
            step *= min(1.0, 1.0 / float(np.abs(step / _SURE).max() + 1e-12))
            new = f(p + step)
            if new < value:
                p, value, damping, moved = p + step, new, damping / 4.0, True
                break
            damping = 8.0 * damping + 1e-3
        if not moved or float(np.abs(step / _SURE).max()) < 1e-3:
            break
    cov = np.linalg.inv(_positive(curve))
    shift = np.zeros(len(p))
    shift[:2] = 1.0, -USUAL_PER_SKY
    together = float(shift @ cov @ shift)
    spread = math.sqrt(math.exp(2.0 * p[2]) + EVENING_MAG**2 + together)
    return LearntEye(
        looks=len(facts),
        not_seen=sum(x.seen == "not" for x in facts),
        evenings=f.evenings,
        eye_mag=float(p[0]),
        eye_sigma_mag=math.sqrt(cov[0, 0]),
        sky_mag=float(p[1]),
        sky_sigma_mag=math.sqrt(cov[1, 1]),
        shift_sigma_mag=math.sqrt(together),
        spread_mag=spread,
    )


def _positive(curve: Array) -> Array:
    """The curvature with no direction flatter than a hundredth of the prior's."""
    scale = np.outer(_SURE, _SURE)
    values, vectors = np.linalg.eigh(curve * scale)
    return np.asarray((vectors * np.maximum(values, 0.01)) @ vectors.T / scale)
