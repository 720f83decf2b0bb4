"""Gauss-Newton on the exact kinematics, over a batch of problems, and the evidence at the mode.

The one descent of the program: :mod:`plumbstar.solve.posterior` gives it the starts of one fix (and
of each "this sighting is bad"), :mod:`plumbstar.diagnose.explain.model` some three hundred models.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.terms import N_TERMS
from plumbstar.turns import half_turn
from plumbstar.units import Array, Bools, Indices


@dataclass(frozen=True, slots=True)
class DescentRule:
    """When a descent has arrived, and how it goes.

    A full step that promises less than ``small + 1e-9 cost`` is the last: it is taken on trust if
    ``last_step`` (the linear model is exact there), else left out. A step that lowers the cost by
    less than ``least_gain + 1e-9 cost`` ends the row too. ``shorter`` divides a step that raised
    the cost, ``tries`` times at most. After three steps a row whose cost is ``hopeless`` above the
    best is left rough. ``careful`` refuses a matrix that nothing made definite.
    """

    steps: int
    small: float
    last_step: bool
    least_gain: float = -math.inf
    shorter: float = 2.0
    tries: int = 12
    ridge: float = 0.0
    hopeless: float = math.inf
    careful: bool = False


@dataclass(frozen=True, slots=True)
class Problems:
    """B problems of one shape: n sightings, P parameters of which p are free.

    ``readings`` (B, n, 2) radians; ``basis`` (B, n, 2, 3) and ``toward`` (B, n, 3): tangent planes
    and directions of the true places; ``weight`` (B, 2n) inverse variances, across and up by
    turns. ``anchor`` and ``info`` (B, p): the prior of the free parameters, info 0 where nothing is
    known. ``free``: which of the P they are. ``shift`` (B, n, 12, P - 12): the terms of sighting i
    are terms + shift[i] @ the other parameters; None where there are no others. ``linked``
    (B, p, p), zero on its diagonal: the rest of the prior's information, of which ``info`` is the
    diagonal; None where the parameters are believed in independently. ``alike``: every row has the
    same sightings.
    """

    readings: Array
    basis: Array
    toward: Array
    weight: Array
    anchor: Array
    info: Array
    free: Indices | slice
    shift: Array | None = None
    linked: Array | None = None
    alike: bool = False

    def rows(self, index: Indices | Bools) -> Problems:
        """Some of them."""
        return replace(
            self,
            readings=self.readings[index],
            basis=self.basis[index],
            toward=self.toward[index],
            weight=self.weight[index],
            anchor=self.anchor[index],
            info=self.info[index],
            shift=None if self.shift is None else self.shift[index],
            linked=None if self.linked is None else self.linked[index],
        )

    def gap(self, x: Array) -> Array:
        """How far (B, p) the free parameters are from what was believed; told only by info."""
        out: Array = x[:, self.free] - self.anchor
        return out

    def evaluate(self, x: Array) -> tuple[Array, Array, Array]:
        """Cost (B,), residuals (B, 2n) and Jacobian (B, 2n, p) at parameters x (B, P)."""
        b, gap = len(x), self.gap(x)
        rows = slice(0, 1) if self._one_mount(x) else slice(None)
        terms = self._terms(x[rows])
        if terms.size == N_TERMS:  # a third faster without the axes of one row
            d, by_term = kinematics.direction_jacobian(self.readings[0], terms[0, 0])
            d, by_term = d[None], by_term[None]
        else:
            d, by_term = kinematics.direction_jacobian(self.readings[rows], terms)
        r = -(self.basis[rows] @ d[..., None])[..., 0]
        # Behind the observer the tangent plane folds back: push such residuals out to a turn.
        behind = np.einsum("bni,bni->bn", d, self.toward[rows]) < 0
        if behind.any():
            r[behind] *= (np.pi / np.maximum(np.linalg.norm(r[behind], axis=-1), 1e-9))[:, None]
        jac = self.basis[rows] @ by_term
        others = None if self.shift is None else jac @ self.shift
        if len(r) < b:
            r, jac = np.repeat(r, b, axis=0), np.repeat(jac, b, axis=0)
        if others is not None:
            jac = np.concatenate([jac, others], axis=-1)
        r = r.reshape(b, -1)
        cost = (self.weight * r * r).sum(axis=1) + (self.pull(gap) * gap).sum(axis=1)
        return cost, r, jac.reshape(b, -1, jac.shape[-1])[..., self.free]

    def _one_mount(self, x: Array) -> bool:
        """Whether all rows are of one mount in which nothing moved, and of the same sightings."""
        terms, others = x[:, :N_TERMS], x[:, N_TERMS:]
        return self.alike and not others.any() and bool((terms == terms[0]).all())

    def _terms(self, x: Array) -> Array:
        """The terms (B, 1, 12) of each row, or (B, n, 12) of each sighting where they differ."""
        terms = x[:, None, :N_TERMS]
        if self.shift is None or not x[:, N_TERMS:].any():
            return terms
        return np.asarray(terms + np.einsum("bnij,bj->bni", self.shift, x[:, N_TERMS:]))

    def pull(self, gap: Array) -> Array:
        """The prior's information times a gap, (B, p)."""
        out: Array = self.info * gap
        if self.linked is not None:
            out = out + (self.linked @ gap[..., None])[..., 0]
        return out

    def normal(self, x: Array, r: Array, jac: Array) -> tuple[Array, Array]:
        """Hessian (B, p, p) of half the cost, and the downhill gradient (B, p)."""
        b, _, p = jac.shape
        weighted = (jac * self.weight[..., None]).swapaxes(1, 2)
        hessian = weighted @ jac
        hessian.reshape(b, -1)[:, :: p + 1] += self.info
        if self.linked is not None:
            hessian += self.linked
        return hessian, (weighted @ r[..., None])[..., 0] - self.pull(self.gap(x))

    def moved(self, x: Array, step: Array) -> Array:
        """Parameters (B, P) after a step (B, p) of the free ones."""
        out = x.copy()
        out[:, self.free] += step
        return out


@dataclass(frozen=True, slots=True)
class Descended:
    """Where each row ended: ``x`` (B, P), ``cost`` (B,), ``residuals`` (B, n, 2), and the Hessian
    (B, p, p) of half the cost at the last place that was looked at."""

    x: Array
    cost: Array
    residuals: Array
    hessian: Array


@dataclass(slots=True)
class _State:
    """Where the rows stand: parameters, cost, residuals, Jacobian."""

    x: Array
    cost: Array
    r: Array
    jac: Array

    def put(self, rows: Indices, x: Array, new: tuple[Array, Array, Array]) -> None:
        """New places for some rows; for all of them without copying."""
        if len(rows) == len(self.x):
            self.x, (self.cost, self.r, self.jac) = x, new
        else:
            self.x[rows] = x
            self.cost[rows], self.r[rows], self.jac[rows] = new


def descend(problems: Problems, x: Array, rule: DescentRule) -> Descended:
    """Gauss-Newton with shortened steps on every row; rows drop out as they settle.

    Raises :class:`numpy.linalg.LinAlgError` for a singular matrix.
    """
    s = _State(x.copy(), *problems.evaluate(x))
    hessian = np.empty((len(x), s.jac.shape[-1], s.jac.shape[-1]))
    alive = np.arange(len(x))
    for turn in range(rule.steps):
        if turn >= 3 and rule.hopeless < math.inf:
            # Far behind every rival: its share is under e^-100 and may stay rough.
            alive = alive[s.cost[alive] < s.cost.min() + rule.hopeless]
        if not len(alive):
            break
        if len(alive) == len(x):
            part, before = problems, s.cost.copy()  # which is written to, row by row
            hessian, right = part.normal(s.x, s.r, s.jac)
            step = _solve(hessian, right, rule)
        else:
            part, before = problems.rows(alive), s.cost[alive]
            curved, right = part.normal(s.x[alive], s.r[alive], s.jac[alive])
            hessian[alive] = curved
            step = _solve(curved, right, rule)
        # What a full step promises; rows that promise nothing have arrived.
        worth = (step * right).sum(axis=1) >= rule.small + 1e-9 * before
        if not worth.all():
            if rule.last_step:
                done, last = alive[~worth], step[~worth]
                s.x[done] = problems.moved(s.x[done], last)
                s.r[done] -= (s.jac[done] @ last[..., None])[..., 0]
            alive, step, before = alive[worth], step[worth], before[worth]
            if not len(alive):
                break
            part = part.rows(worth)
        took = _shortened(part, alive, s, step, rule)
        if rule.least_gain > -math.inf:
            took &= before - s.cost[alive] > rule.least_gain + 1e-9 * before
        if not took.all():
            alive = alive[took]
    s.x[:, :2] = half_turn(s.x[:, :2])  # the same mount; a zero turns off is no answer
    return Descended(s.x, s.cost, s.r.reshape(len(x), -1, 2), hessian)


def _shortened(part: Problems, alive: Indices, s: _State, step: Array, rule: DescentRule) -> Bools:
    """Take each row's step, shortened until the cost does not rise; which rows moved at all."""
    most = (s.cost if len(alive) == len(s.cost) else s.cost[alive]) * (1 + 1e-12) + 1e-12
    took = np.ones(len(alive), dtype=bool)
    todo, scale = np.arange(len(alive)), 1.0
    for _ in range(rule.tries):
        rows = alive[todo]
        trial = part.moved(s.x if len(rows) == len(s.x) else s.x[rows], scale * step)
        new = part.evaluate(trial)
        good = new[0] <= most
        if good.all():
            s.put(rows, trial, new)
            return took
        s.put(rows[good], trial[good], (new[0][good], new[1][good], new[2][good]))
        bad = ~good
        todo, part, step, most = todo[bad], part.rows(bad), step[bad], most[bad]
        scale /= rule.shorter
    took[todo] = False
    return took


def _diagonal_root(hessian: Array) -> Array:
    return np.sqrt(np.maximum(np.diagonal(hessian, axis1=1, axis2=2), 1e-30))


def _solve(hessian: Array, right: Array, rule: DescentRule) -> Array:
    """Solve (B, p); after scaling to unit diagonal where the rule is careful or adds a ridge."""
    if not (rule.careful or rule.ridge):
        return np.asarray(np.linalg.solve(hessian, right[..., None])[..., 0])
    if rule.careful and not np.all(np.diagonal(hessian, axis1=1, axis2=2) > 0):
        raise np.linalg.LinAlgError("a term is in no sighting and no prior")
    d = _diagonal_root(hessian)
    scaled = hessian / (d[:, :, None] * d[:, None, :])
    if rule.careful and np.any(np.linalg.cond(scaled) > 1e11):
        raise np.linalg.LinAlgError("the sightings do not separate the terms")
    if rule.ridge:
        b, p, _ = scaled.shape
        scaled.reshape(b, -1)[:, :: p + 1] += rule.ridge
    out: Array = np.linalg.solve(scaled, (right / d)[..., None])[..., 0] / d
    return out


def promised(hessian: Array, right: Array) -> Array:
    """By how much (B,) one step to the minimum lowers the cost: g' H^-1 g."""
    d = _diagonal_root(hessian)
    scaled = right / d
    step = np.linalg.solve(hessian / (d[:, :, None] * d[:, None, :]), scaled[..., None])[..., 0]
    return np.asarray((scaled * step).sum(axis=1))


def covariance_at(hessian: Array) -> Array:
    """Covariance (B, p, p) at the mode: the inverse of the Hessian of half the cost."""
    d = _diagonal_root(hessian)
    both = d[:, :, None] * d[:, None, :]
    return np.asarray(np.linalg.inv(hessian / both) / both)


def log_evidence(
    cost: Array, hessian: Array, info: Array, weight: Array, linked: Array | None = None
) -> Array:
    """The log evidence (B,) of each whole model, with its mode's cost and Hessian (Laplace).

    log p(data) ~ log p(data, mode) + 1/2 log det(2 pi C) (MacKay 2003, eq. 27.3); a parameter of
    which nothing is known is uniform on a turn; a weight of 0 is no sighting. ``info`` and
    ``linked`` as :class:`Problems` has them.
    """
    d = _diagonal_root(hessian)
    logdet = np.linalg.slogdet(hessian / (d[:, :, None] * d[:, None, :]))[1]
    logdet += 2 * np.log(d).sum(axis=1)
    turn = 2 * np.pi
    known, used = info > 0, weight > 0
    density = 0.5 * np.log(np.where(known, info, turn) / turn).sum(axis=1)
    density -= (~known).sum(axis=1) * math.log(turn)
    if linked is not None:
        root = np.sqrt(np.where(known, info, 1.0))
        each = linked / (root[:, :, None] * root[:, None, :]) + np.eye(info.shape[-1])
        density += 0.5 * np.linalg.slogdet(each)[1]
    noise = 0.5 * np.log(np.where(used, weight, turn) / turn).sum(axis=1)
    volume = 0.5 * (hessian.shape[-1] * math.log(turn) - logdet)
    return np.asarray(-0.5 * cost + density + noise + volume)
