"""A run of outings as numbers, and what may have happened in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np

from plumbstar.units import Array, Indices

#: Chances beforehand, common practice, no source: that something on the mount is knocked or
#: re-seated between two outings; that something drifts over the whole run; that a term was odd in
#: an outing; that an outing has a fault which its own sightings did not show.
CHANGED, DRIFTS, ODD_TERM, STRANGE = 0.04, 0.05, 0.015, 0.02
#: Of the first three, how often it is the stop or an altitude encoder. Common practice, no source.
STOP_SHARE = 0.6
#: How far something jumps that stays so, and how far off an odd value is, in the kit's sigmas. The
#: first evening cannot tell which it was, so these decide. Of the clean evenings after a change
#: one and two sigma hold 61 and 95 %, after a tube not on its stop 76 and 100. With 1 and 2 the
#: first were 44 and 93: a large change was put down to an odd evening; with 2 for both the second
#: were 24 and 100 (57 and 21 evenings of ``design/weeks.py``).
JUMP, ODD = 1.15, 2.2
#: Share of the kit's sigma that is the lasting value's; with the scatters below it makes one.
LASTING = 0.9
#: Scatter from outing to outing, in the kit's sigmas, and how likely each is beforehand: a half-t
#: with 3 degrees of freedom and scale 0.3 in five steps (Gelman 2006, Bayesian Analysis 1, 515,
#: section 3.2, for scatters of few groups).
SCATTERS: tuple[tuple[float, float], ...] = (
    (0.0, 0.15), (0.12, 0.3), (0.3, 0.3), (0.6, 0.19), (1.2, 0.06)
)  # fmt: skip
#: How often a term has a scatter of its own size. Common practice, no source. ``design/weeks.py``
#: tells how honest the priors are.
OWN_SCATTER = 0.6
#: How often a lasting value is far from what the kit expects, and in how many of its sigmas: a stop
#: that was set by guess, a tube that was never squared. Common practice, no source.
FAR, FAR_SIZE = 0.035, 8.0
Kind = Literal["changed", "drifts", "odd", "strange", "far"]


class Happening(NamedTuple):
    """What happened: to which term (-1: to all), in or from which outing (-1: over the run)."""

    kind: Kind
    term: int
    outing: int


class Way(NamedTuple):
    """Events of one kind that a term can have: in or from which of ``outings`` (m,), and how much
    of each every outing has, ``weights`` (m, n)."""

    kind: Kind
    weights: Array
    outings: Sequence[int]


class TermMoved(NamedTuple):
    """A mend moved a term by ``size``, known to within ``sigma`` (1 sigma), in the kit's sigmas.

    ``reach`` (n + 1,): 1 in each outing after it, and in the next; 0 before, and once another mend
    has begun the term anew.
    """

    term: int
    reach: Array
    size: float
    sigma: float


@dataclass(frozen=True)
class RunOfOutings:
    """A run of n outings of k terms, oldest first, in units of the kit's sigmas.

    ``info`` (n, k, k) and ``vec`` (n, k): what each outing says, a likelihood exp(-x' info x / 2 +
    vec' x). ``stretch`` (n + 1, k): how many mends of each term came before each outing and before
    the next. ``when`` (n,): from -1/2 to 1/2. ``floor`` (k,): the least scatter. ``stop``: which
    term is the upright stop, -1 if none. ``moved``: what recorded mends moved terms by;
    ``doubt``: the chance beforehand that all of it went the other way. ``faulty`` (n,): the chance
    that each outing had a fault, by its own sightings; by default, and at least, :data:`STRANGE`.
    """

    info: Array
    vec: Array
    stretch: Indices
    when: Array
    floor: Array
    stop: int
    moved: tuple[TermMoved, ...] = ()
    doubt: float = 0.0
    faulty: Array | None = None

    @property
    def shares(self) -> Array:
        """How a chance that something happens is shared among the terms, (k,)."""
        k = len(self.floor)
        if self.stop < 0 or k == 1:
            return np.full(k, 1.0 / k)
        out = np.full(k, (1.0 - STOP_SHARE) / (k - 1))
        out[self.stop] = STOP_SHARE
        return out

    @property
    def given(self) -> Array:
        """How far recorded mends had moved each term in each outing and the next, (n + 1, k)."""
        out = np.zeros((len(self.vec) + 1, len(self.floor)))
        for m in self.moved:
            out[:, m.term] += m.size * m.reach
        return out

    @cached_property
    def ways(self) -> tuple[tuple[Way, ...], ...]:
        """What may have happened to each term alone; made once for all stories of a run."""
        return tuple(_ways_of(self, j) for j in range(len(self.floor)))

    def _likewise(self, **new: Any) -> RunOfOutings:
        """With other words of the same outings: the same may have happened."""
        out = replace(self, **new)
        out.__dict__["ways"] = self.ways
        return out

    def before_mends(self) -> tuple[RunOfOutings, float]:
        """What the outings say of the terms as they were before the recorded moves, and what that
        adds to the log evidence: exp(-x' N x / 2 + v' x) with x = y + given."""
        if not self.moved:
            return self, 0.0
        given = self.given[:-1, :, None]
        pull = (self.info @ given)[..., 0]
        log_z = float(np.sum((self.vec - pull / 2) * given[..., 0]))
        return self._likewise(vec=self.vec - pull), log_z

    def with_scatter(self, scatter: Array) -> tuple[RunOfOutings, float]:
        """The same with a scatter (k,) integrated out, and its share of the log evidence."""
        Q = np.diag(scatter**2)
        # w ~ N(0, Q) out of exp(-(p + w)' info (p + w) / 2 + vec' (p + w)); info may be singular.
        A = np.linalg.inv(np.eye(len(scatter)) + self.info @ Q)
        info = A @ self.info
        vec = (A @ self.vec[..., None])[..., 0]
        log_z = 0.5 * float(np.sum((self.vec @ Q) * vec)) + 0.5 * float(
            np.linalg.slogdet(A)[1].sum()
        )
        info = (info + np.swapaxes(info, -1, -2)) / 2
        return self._likewise(info=info, vec=vec), log_z


def odds_of(run: RunOfOutings, kind: Kind, term: int, outing: int = -1) -> float:
    """Log of the odds beforehand that one such thing happened (in that outing)."""
    if kind == "strange" and run.faulty is not None:
        p = min(max(float(run.faulty[outing]), STRANGE), 0.9)
        return math.log(p / (1.0 - p))
    share = 1.0 if term < 0 else float(run.shares[term])
    p = {"changed": CHANGED, "drifts": DRIFTS, "odd": ODD_TERM, "strange": STRANGE, "far": FAR}[
        kind
    ]
    p *= share
    return math.log(p / (1.0 - p))


def sigma_of(kind: Kind) -> float:
    if kind == "far":
        return FAR_SIZE
    if kind == "changed":
        return JUMP
    return ODD if kind in ("odd", "strange") else 1.0


def reach_of(run: RunOfOutings, event: Happening) -> Array:
    """How much of the event each outing has, and the next one, (n + 1,)."""
    n = len(run.vec)
    at = np.arange(n + 1)
    if event.kind in ("odd", "strange"):
        return np.asarray(at == event.outing, dtype=float)
    same = run.stretch[:, event.term]
    if event.kind == "far":
        return np.asarray(same == same[event.outing], dtype=float)
    if event.kind == "changed":
        return np.asarray((at >= event.outing) & (same == same[event.outing]), dtype=float)
    # Beyond the last outing nobody knows whether it goes on: the next is taken as the last.
    return np.where(same == same[-1], np.append(run.when, run.when[-1]), 0.0)


def _ways_of(run: RunOfOutings, j: int) -> tuple[Way, ...]:
    n, same = len(run.vec), run.stretch[:-1, j]
    # Inside a stretch without a mend: at a mend the value starts anew anyway.
    changed = [i for i in range(1, n) if same[i] == same[i - 1]]
    # In each stretch between mends, named by its first outing.
    far = np.unique(same, True)[1].tolist()
    drifts = [-1] if n >= 3 else []
    each: tuple[tuple[Kind, Sequence[int]], ...] = (
        *(("changed", changed), ("odd", range(n)), ("drifts", drifts), ("far", far)),
    )
    return tuple(
        Way(kind, np.array([reach_of(run, Happening(kind, j, i))[:-1] for i in outings]), outings)
        for kind, outings in each
        if outings
    )
