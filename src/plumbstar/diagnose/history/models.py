"""Nothing changed, one step or one slope: every hypothesis about a run of outings, weighed.

All is linear and Gaussian, in units of the kit's sigmas
(:class:`plumbstar.diagnose.learn.FreeTerms`), and the evidence of each is exact; docs/mount.md has
the model.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from plumbstar.diagnose.learn import Evidence
from plumbstar.sky.times import Instant
from plumbstar.units import Array

#: Chance that something on the mount is knocked or re-seated between two outings, and that
#: something drifts over the whole span. Common practice, no source.
JUMP_PRIOR = 0.03
DRIFT_PRIOR = 0.05
#: Of those, how often it is the stop, or an altitude encoder re-seated. Common practice, no source.
STOP_SHARE = 0.6
#: Scatter from outing to outing, in units of the kit's sigma, and how likely each is beforehand:
#: the half-t of learn.py in four steps; never below learn.FLOOR.
SCATTERS: tuple[tuple[float, float], ...] = ((0.0, 0.35), (0.1, 0.25), (0.25, 0.25), (0.6, 0.15))


@dataclass(frozen=True)
class Model:
    """The run of outings in units of the kit's sigma, for one size of scatter.

    ``C`` (K, K), ``x`` (K,): covariance and mean of the lasting values (one set for each segment
    between mends) under the prior N(0, 1) and all outings; ``design`` (n, k) says which column of K
    each outing's term is; ``info`` (n, k, k) and ``vec`` (n, k) with the scatter integrated out;
    ``scatter`` (k,); ``log_z`` the log evidence, with the log of the scatter's own weight.
    """

    scatter: Array
    info: Array
    vec: Array
    design: np.ndarray[Any, np.dtype[np.int64]]
    C: Array
    x: Array
    log_z: float

    def extra(self, j: int, c: Array) -> tuple[float, Array, float, float]:
        """Add one variable ~ N(0, 1) that moves term ``j`` by ``c[i]`` in outing i.

        Returns the gain in log evidence, its coupling C B (K,), its mean and its variance.
        """
        B = np.zeros(len(self.x))
        np.add.at(B, self.design, c[:, None] * self.info[:, j, :])
        own = float(np.sum(c * c * self.info[:, j, j]))
        pull = float(np.sum(c * self.vec[:, j])) - float(B @ self.x)
        CB = self.C @ B
        s = own + 1.0 - float(B @ CB)
        return 0.5 * pull * pull / s - 0.5 * math.log(s), CB, pull / s, 1.0 / s


def model_of(
    info: Array, vec: Array, design: Any, size: int, scatter: Array, weight: float
) -> Model:
    n, k = vec.shape
    eye = np.eye(k)
    Q = np.diag(scatter**2)
    new_info, new_vec = np.empty_like(info), np.empty_like(vec)
    log_z = math.log(weight)
    for i in range(n):
        # Integrate w ~ N(0, Q) out of exp(-(p+w)'L(p+w)/2 + v'(p+w)); L may be singular.
        A = np.linalg.inv(eye + info[i] @ Q)
        new_info[i] = A @ info[i]
        new_info[i] = (new_info[i] + new_info[i].T) / 2
        new_vec[i] = A @ vec[i]
        log_z += 0.5 * float(vec[i] @ Q @ new_vec[i]) + 0.5 * float(np.linalg.slogdet(A)[1])
    M, h = np.eye(size), np.zeros(size)
    for i in range(n):
        M[np.ix_(design[i], design[i])] += new_info[i]
        h[design[i]] += new_vec[i]
    C = np.linalg.inv(M)
    C = (C + C.T) / 2
    x = C @ h
    log_z += 0.5 * float(h @ x) + 0.5 * float(np.linalg.slogdet(C)[1])
    return Model(scatter, new_info, new_vec, design, C, x, log_z)


@dataclass(frozen=True)
class Guess:
    """One hypothesis under one scatter: log weight, and the change it makes."""

    model: int
    kind: Literal["steady", "jump", "drift"]
    term: int
    outing: int
    log_p: float
    CB: Array
    size: float
    var: float
    effect_now: float


def segments(
    rows: Sequence[Evidence], names: Sequence[str], mends: Sequence[tuple[Instant, Sequence[str]]]
) -> tuple[Any, int, Any]:
    """Which lasting value each outing's term is: (n, k) columns, their number, and the count of
    mends that came before, (n, k)."""
    segment = np.zeros((len(rows), len(names)), dtype=np.int64)
    for utc, terms in mends:
        for j, name in enumerate(names):
            if name in terms:
                for i, e in enumerate(rows):
                    if e.utc is not None and e.utc >= utc:
                        segment[i, j] += 1
    design = np.zeros_like(segment)
    size = 0
    for j in range(len(names)):
        seen = {s: size + m for m, s in enumerate(dict.fromkeys(segment[:, j].tolist()))}
        design[:, j] = [seen[s] for s in segment[:, j].tolist()]
        size += len(seen)
    return design, size, segment


def weigh(
    models: Sequence[Model], rows: Sequence[Evidence], names: Sequence[str], segment: Any
) -> list[Guess]:
    """Every hypothesis under every scatter, with its log weight."""
    n, k = len(rows), len(names)
    p_jump = 1.0 - (1.0 - JUMP_PRIOR) ** (n - 1)
    p_drift = DRIFT_PRIOR if n >= 3 else 0.0
    stop = "altitude_zero" in names
    others = k - 1 if stop else k
    share = np.full(k, (1.0 - STOP_SHARE * stop) / max(others, 1))
    if stop:
        share[names.index("altitude_zero")] = STOP_SHARE if others else 1.0
    when = _when(rows)
    guesses: list[Guess] = []
    for m, model in enumerate(models):
        none = np.zeros(len(model.x))
        rest = math.log(max(1.0 - p_jump - p_drift, 1e-3))
        guesses.append(Guess(m, "steady", -1, -1, model.log_z + rest, none, 0.0, 0.0, 0.0))
        for j in range(k):
            last = segment[-1, j]
            for i in range(1, n):
                # A step inside a stretch without a mend; at a mend the value starts anew anyway.
                if segment[i, j] != segment[i - 1, j]:
                    continue
                c = ((np.arange(n) >= i) & (segment[:, j] == segment[i, j])).astype(float)
                gain, CB, size, var = model.extra(j, c)
                log_p = model.log_z + gain + math.log(p_jump * share[j] / (n - 1))
                now = 1.0 if segment[i, j] == last else 0.0
                guesses.append(Guess(m, "jump", j, i, log_p, CB, size, var, now))
            if p_drift:
                c = np.where(segment[:, j] == last, when, 0.0)
                gain, CB, size, var = model.extra(j, c)
                log_p = model.log_z + gain + math.log(p_drift * share[j])
                guesses.append(Guess(m, "drift", j, -1, log_p, CB, size, var, float(c[-1])))
    return guesses


def _when(rows: Sequence[Evidence]) -> Array:
    """The outings' times, from -1/2 at the first to 1/2 at the last; by count if times lack."""
    n = len(rows)
    times = [e.utc.to_unix() for e in rows if e.utc is not None]
    if len(times) == n and n > 1 and times[-1] > times[0]:
        t = np.array(times)
        return np.asarray((t - t[0]) / (t[-1] - t[0]) - 0.5)
    return np.arange(n) / max(n - 1, 1) - 0.5


def terms_now(
    models: Sequence[Model], guesses: Sequence[Guess], p: Array, columns: Any, k: int
) -> tuple[Array, Array, Array]:
    """Mean (k,), covariance (k, k) of the lasting values now, and variance (k,) of the next."""
    mean, second, scatter = np.zeros(k), np.zeros((k, k)), np.zeros(k)
    for w, g in zip(p, guesses, strict=True):
        if w < 1e-6:
            continue
        m = models[g.model]
        # With the extra variable z: x -> x - CB z, and C grows by CB CB' var.
        x = (m.x - g.CB * g.size)[columns]
        CB = g.CB[columns]
        C = m.C[np.ix_(columns, columns)] + np.outer(CB, CB) * g.var
        if g.kind != "steady":
            e = np.zeros(k)
            e[g.term] = g.effect_now
            x = x + e * g.size
            cross = -np.outer(CB, e) * g.var
            C = C + cross + cross.T + np.outer(e, e) * g.var
        mean += w * x
        second += w * (C + np.outer(x, x))
        scatter += w * m.scatter**2
    cov = second - np.outer(mean, mean)
    return mean, cov, np.diag(cov) + scatter
