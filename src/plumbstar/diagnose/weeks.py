"""One model of a mount over a run of outings: what lasts, what wanders, what changed, what was odd.

The lasting terms are held jointly, in units of the kit's sigmas about the kit's values, so that a
prior is always one. In outing i term j is

    lasting value of its stretch between mends            N(0, LASTING^2), one each
    + scatter_i                                           N(0, s_j^2), of a few sizes, most often
                                                          the same for all terms
    + changes since then that nobody told                 N(0, 1) each, from one outing on
    + a drift over the whole run                          N(0, 1) over the span
    + what was odd in outing i alone                      N(0, ODD^2): of one term (a tube not
                                                          on its stop) or all (a fault unseen)

All is linear and Gaussian, so the evidence of every story (which of these happened, and when) is
exact. Stories are looked for from the plainest on: the likeliest are each taken further by every
single event, and so again, :data:`MOST` events at most. They are weighed by evidence times prior
(MacKay 2003, ch. 28; change points: Smith 1975, Biometrika 62, 407, from memory). What comes out is
a mean over stories, so what may have changed is not held to be known.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Literal, NamedTuple

import numpy as np

from plumbstar.units import Array, Indices

#: Chances beforehand, common practice, no source: that something on the mount is knocked or
#: re-seated between two outings; that something drifts over the whole run; that a term was odd in
#: an outing; that an outing has a fault which its own sightings did not show.
CHANGED, DRIFTS, ODD_TERM, STRANGE = 0.04, 0.05, 0.015, 0.02
#: Of the first three, how often it is the stop or an altitude encoder. Common practice, no source.
STOP_SHARE = 0.6
#: How far off an odd value is, in the kit's sigmas: farther than what changed and stayed.
ODD = 2.0
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
#: Terms of which a story may say so, at most, and stories of which it is asked.
MOST_OWN, ASKED = 3, 4
#: Events of one story, at most; stories taken further at each step and size of scatter; and how
#: far, in log weight, behind the best one a story is let go.
MOST, BEAM, BEHIND = 4, 5, 9.0

Kind = Literal["changed", "drifts", "odd", "strange"]


class Happening(NamedTuple):
    """What happened: to which term (-1: to all), in or from which outing (-1: over the run)."""

    kind: Kind
    term: int
    outing: int


@dataclass(frozen=True)
class RunOfOutings:
    """A run of n outings of k terms, oldest first, in units of the kit's sigmas.

    ``info`` (n, k, k) and ``vec`` (n, k): what each outing says, a likelihood exp(-x' info x / 2 +
    vec' x). ``stretch`` (n + 1, k): how many mends of each term came before each outing and before
    the next. ``when`` (n,): from -1/2 to 1/2. ``floor`` (k,): the least scatter. ``stop``: which
    term is the upright stop, -1 if none.
    """

    info: Array
    vec: Array
    stretch: Indices
    when: Array
    floor: Array
    stop: int

    @property
    def shares(self) -> Array:
        """How a chance that something happens is shared among the terms, (k,)."""
        k = len(self.floor)
        if self.stop < 0 or k == 1:
            return np.full(k, 1.0 / k)
        out = np.full(k, (1.0 - STOP_SHARE) / (k - 1))
        out[self.stop] = STOP_SHARE
        return out

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
        return RunOfOutings(info, vec, self.stretch, self.when, self.floor, self.stop), log_z


@dataclass(frozen=True)
class Tale:
    """One account of the run, solved: ``events`` in the order in which they were thought of.

    Its K unknowns: ``term`` (K,), the term of each; ``reach`` (n + 1, K), how much of it each
    outing has, and the next one; ``sigma`` (K,) beforehand; ``x`` (K,) and ``C`` (K, K), mean and
    covariance. Those of the lasting values come first, then each event's. ``beforehand``: what
    its events weigh before the outings are looked at, ``log_p`` the whole, logs, not scaled.
    ``scatter`` (k,), of the sizes ``sizes`` in :data:`SCATTERS`.
    """

    events: tuple[Happening, ...]
    term: Indices
    reach: Array
    sigma: Array
    x: Array
    C: Array
    beforehand: float
    log_p: float
    scatter: Array
    sizes: tuple[int, ...]

    def number(self, event: Happening) -> tuple[float, float]:
        """Mean and variance of what an event of one term amounted to."""
        after = self.events[self.events.index(event) :]
        k = len(self.scatter)
        at = len(self.x) - sum(k if e.kind == "strange" else 1 for e in after)
        return float(self.x[at]), float(self.C[at, at])

    def outing(self, i: int) -> tuple[Array, Array]:
        """Mean (k,), covariance (k, k) of the terms in outing i, scatter left out; -1: next."""
        hang = np.zeros((len(self.scatter), len(self.x)))
        hang[self.term, np.arange(len(self.x))] = self.reach[i]
        return hang @ self.x, hang @ self.C @ hang.T


@dataclass(frozen=True)
class Weeks:
    """All stories of a run worth keeping, with their shares (m,), which sum to one."""

    stories: tuple[Tale, ...]
    shares: Array

    def chance(self, kind: Kind, term: int, outing: int | None = None) -> float:
        """That such a thing happened to a term: in any outing, or in that one."""
        return float(
            sum(
                w
                for w, s in zip(self.shares, self.stories, strict=True)
                if any(
                    e.kind == kind and e.term == term and outing in (None, e.outing)
                    for e in s.events
                )
            )
        )

    def odd(self, outing: int, term: int) -> float:
        """Chance that an outing says nothing of the term's value in other outings."""
        return self.chance("odd", term, outing) + self.chance("strange", -1, outing)

    @property
    def scatter(self) -> Array:
        """Root mean square of the scatter over the stories, (k,)."""
        out: Array = np.sqrt(self.shares @ np.array([s.scatter**2 for s in self.stories]))
        return out

    def outing(self, i: int) -> tuple[Array, Array]:
        """Mean (k,) and covariance (k, k) over all stories, as :meth:`Tale.outing`."""
        each = [s.outing(i) for s in self.stories]
        means = np.array([m for m, _ in each])
        mean: Array = self.shares @ means
        cov = np.einsum("m,mij->ij", self.shares, np.array([c for _, c in each]))
        gap = means - mean
        return mean, cov + np.einsum("m,mi,mj->ij", self.shares, gap, gap)

    def next(self) -> tuple[Array, Array]:
        """Mean (k,) and covariance (k, k) of the terms in the next outing, its scatter included."""
        mean, cov = self.outing(-1)
        return mean, cov + np.diag(self.scatter**2)


def weigh(run: RunOfOutings) -> Weeks:
    """The likeliest stories of a run. Pure; the same run always gives the same."""
    found: dict[tuple[tuple[int, ...], frozenset[Happening]], Tale] = {}

    def keep(stories: list[Tale]) -> None:
        found.update({(s.sizes, frozenset(s.events)): s for s in stories})

    for size in range(len(SCATTERS)):
        scattered = _Scattered.of(run, (size,) * len(run.floor))
        level = [_plain(scattered)]
        keep(level)
        for _ in range(MOST):
            level, others = _next_level(scattered, level, max(s.log_p for s in found.values()))
            keep(level + others)
    # Scatters of single terms: asked of the likeliest, and of the plain ones in any case.
    best: dict[frozenset[Happening], Tale] = {}
    for story in sorted(found.values(), key=attrgetter("log_p"), reverse=True):
        best.setdefault(frozenset(story.events), story)
    asked = [s for i, s in enumerate(best.values()) if i < ASKED or not s.events]
    runs: dict[tuple[int, ...], _Scattered] = {}
    for story in asked:
        level = [story]
        for _ in range(MOST_OWN):
            ahead: dict[tuple[int, ...], Tale] = {}
            for s in level:
                for sizes in _one_other(s.sizes):
                    if sizes not in runs:
                        runs[sizes] = _Scattered.of(run, sizes)
                    if sizes not in ahead:
                        ahead[sizes] = _again(runs[sizes], s)
            keep(list(ahead.values()))
            level = sorted(ahead.values(), key=attrgetter("log_p"), reverse=True)[:2]
    stories = sorted(found.values(), key=attrgetter("log_p"), reverse=True)
    shares = np.exp(np.array([s.log_p for s in stories]) - stories[0].log_p)
    weighty = int(np.count_nonzero(shares > 1e-6))
    return Weeks(tuple(stories[:weighty]), shares[:weighty] / shares[:weighty].sum())


@dataclass(frozen=True)
class _Scattered:
    """A run with a scatter of some sizes integrated out."""

    run: RunOfOutings
    scatter: Array
    sizes: tuple[int, ...]
    log_z: float  # its share of the evidence, and what those sizes weigh beforehand

    @staticmethod
    def of(run: RunOfOutings, sizes: tuple[int, ...]) -> _Scattered:
        scatter = np.maximum(run.floor, [SCATTERS[i][0] for i in sizes])
        scattered, log_z = run.with_scatter(scatter)
        weights = np.array([w for _, w in SCATTERS])
        # One size for all, but for those terms that have their own.
        each = OWN_SCATTER * weights[list(sizes)] + (1 - OWN_SCATTER) * (
            np.arange(len(SCATTERS))[:, None] == np.array(sizes)
        )
        return _Scattered(
            scattered, scatter, sizes, log_z + math.log(weights @ np.prod(each, axis=1))
        )


def _one_other(sizes: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """The same but for one term."""
    for j, at in enumerate(sizes):
        for size in range(len(SCATTERS)):
            if size != at:
                yield (*sizes[:j], size, *sizes[j + 1 :])


def _next_level(s: _Scattered, level: list[Tale], best: float) -> tuple[list[Tale], list[Tale]]:
    """Stories with one more event: those to be taken further, and those that only count."""
    ahead: dict[frozenset[Happening], tuple[float, Tale, Happening]] = {}
    for story in level:
        for log_p, event in _further(s.run, story):
            key = frozenset((*story.events, event))
            if log_p > best - BEHIND and (key not in ahead or ahead[key][0] < log_p):
                ahead[key] = (log_p, story, event)
    chosen = sorted(ahead.values(), key=lambda a: -a[0])[: 8 * BEAM]
    made = [_with(s, story, event) for _, story, event in chosen]
    return made[:BEAM], made[BEAM:]


def _plain(s: _Scattered) -> Tale:
    """Nothing happened but what was told."""
    stretch = s.run.stretch
    term: list[int] = []
    reach: list[Array] = []
    for j in range(stretch.shape[1]):
        for number in dict.fromkeys(stretch[:, j].tolist()):
            term.append(j)
            reach.append((stretch[:, j] == number).astype(float))
    return _solved(s, (), np.array(term), np.array(reach).T, np.full(len(term), LASTING), 0.0)


def _solved(
    s: _Scattered,
    events: tuple[Happening, ...],
    term: Indices,
    reach: Array,
    sigma: Array,
    beforehand: float,
) -> Tale:
    """``beforehand``: what the events weigh, in logs."""
    seen, run = reach[:-1], s.run
    H = np.einsum("iv,iw,ivw->vw", seen, seen, run.info[:, term[:, None], term[None, :]])
    h = np.einsum("iv,iv->v", seen, run.vec[:, term])
    C = np.linalg.inv(H + np.diag(sigma**-2.0))
    C = (C + C.T) / 2
    x = C @ h
    gain = 0.5 * float(h @ x) + 0.5 * float(np.linalg.slogdet(C)[1]) - float(np.log(sigma).sum())
    log_p = beforehand + s.log_z + gain
    return Tale(events, term, reach, sigma, x, C, beforehand, log_p, s.scatter, s.sizes)


def _again(s: _Scattered, story: Tale) -> Tale:
    """The story with another scatter."""
    return _solved(s, story.events, story.term, story.reach, story.sigma, story.beforehand)


def _odds(run: RunOfOutings, kind: Kind, term: int) -> float:
    """Log of the odds beforehand that one such thing happened."""
    share = 1.0 if term < 0 else float(run.shares[term])
    p = {"changed": CHANGED, "drifts": DRIFTS, "odd": ODD_TERM, "strange": STRANGE}[kind] * share
    return math.log(p / (1.0 - p))


def _sigma(kind: Kind) -> float:
    return ODD if kind in ("odd", "strange") else 1.0


def _reach(run: RunOfOutings, event: Happening) -> Array:
    """How much of the event each outing has, and the next one, (n + 1,)."""
    n = len(run.vec)
    at = np.arange(n + 1)
    if event.kind in ("odd", "strange"):
        return np.asarray(at == event.outing, dtype=float)
    same = run.stretch[:, event.term]
    if event.kind == "changed":
        return np.asarray((at >= event.outing) & (same == same[event.outing]), dtype=float)
    # Beyond the last outing nobody knows whether it goes on: the next is taken as the last.
    return np.where(same == same[-1], np.append(run.when, run.when[-1]), 0.0)


def _with(s: _Scattered, story: Tale, event: Happening) -> Tale:
    """The story with one more event, solved anew."""
    terms = list(range(len(story.scatter))) if event.term < 0 else [event.term]
    reach = np.repeat(_reach(s.run, event)[:, None], len(terms), axis=1)
    return _solved(
        s,
        (*story.events, event),
        np.concatenate([story.term, np.array(terms)]),
        np.concatenate([story.reach, reach], axis=1),
        np.concatenate([story.sigma, np.full(len(terms), _sigma(event.kind))]),
        story.beforehand + _odds(s.run, event.kind, event.term),
    )


def _further(run: RunOfOutings, story: Tale) -> list[tuple[float, Happening]]:
    """Every single event that the story lacks, with the log weight that it then has."""
    n, k = run.vec.shape
    # What each outing's term j has in common with each unknown, and is still pulled by.
    P = run.info[:, :, story.term] * story.reach[:-1][:, None, :]  # (n, k, K)
    pull = run.vec - P @ story.x  # (n, k)
    own = np.einsum("ijj->ij", run.info)
    out: list[tuple[float, Happening]] = []
    for j in range(k):
        for kind in ("changed", "odd", "drifts"):
            weights, events = _ways(run, kind, j)
            if not events:
                continue
            B = weights @ P[:, j]  # (m, K)
            s = weights**2 @ own[:, j] + _sigma(kind) ** -2 - np.einsum("mv,mv->m", B @ story.C, B)
            y = weights @ pull[:, j]
            gain = 0.5 * y * y / s - 0.5 * np.log(s) - math.log(_sigma(kind))
            odds = _odds(run, kind, j)
            out += [
                (story.log_p + odds + float(g), e)
                for g, e in zip(gain, events, strict=True)
                if e not in story.events
            ]
    S = run.info + np.eye(k) / ODD**2 - P @ story.C @ np.swapaxes(P, -1, -2)
    y = pull[..., None]
    gain = 0.5 * (np.swapaxes(y, -1, -2) @ np.linalg.solve(S, y))[:, 0, 0]
    gain += -0.5 * np.linalg.slogdet(S)[1] - k * math.log(ODD)
    strange = (Happening("strange", -1, i) for i in range(n))
    odds = _odds(run, "strange", -1)
    out += [
        (story.log_p + odds + float(g), e)
        for g, e in zip(gain, strange, strict=True)
        if e not in story.events
    ]
    return out


def _ways(run: RunOfOutings, kind: Kind, j: int) -> tuple[Array, Sequence[Happening]]:
    """The events of one kind that a term can have, and each one's reach (m, n)."""
    n = len(run.vec)
    if kind == "odd":
        events = [Happening(kind, j, i) for i in range(n)]
    elif kind == "changed":
        # Inside a stretch without a mend: at a mend the value starts anew anyway.
        same = run.stretch[:-1, j]
        events = [Happening(kind, j, i) for i in range(1, n) if same[i] == same[i - 1]]
    else:
        events = [Happening(kind, j, -1)] if n >= 3 else []
    reach = [_reach(run, e)[:-1] for e in events]
    return np.array(reach).reshape(len(events), n), events
