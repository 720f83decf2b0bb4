"""One model of a mount over a run of outings: what lasts, what wanders, what changed, what was odd.

The lasting terms are held jointly, in units of the kit's sigmas about the kit's values, so that a
prior is always N(0, 1). In outing i term j is

    lasting value of its stretch between mends            N(0, 1), one each
    + scatter_i                                           N(0, s^2), s of a few sizes
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
from collections.abc import Sequence
from dataclasses import dataclass
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
#: Scatter from outing to outing, in the kit's sigmas, and how likely each is beforehand.
SCATTERS: tuple[tuple[float, float], ...] = ((0.0, 0.35), (0.1, 0.25), (0.25, 0.25), (0.6, 0.15))
#: Events of one story, at most; stories taken further at each step and size of scatter; and how
#: far, in log weight, behind the best one a story is let go.
MOST, BEAM, BEHIND = 4, 5, 9.0

Kind = Literal["changed", "drifts", "odd", "strange"]


class Event(NamedTuple):
    """What happened: to which term (-1: to all), in or from which outing (-1: over the run)."""

    kind: Kind
    term: int
    outing: int


@dataclass(frozen=True)
class Outings:
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

    def with_scatter(self, scatter: Array) -> tuple[Outings, float]:
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
        return Outings(info, vec, self.stretch, self.when, self.floor, self.stop), log_z


@dataclass(frozen=True)
class Story:
    """One account of the run, solved: ``events`` in the order in which they were thought of.

    Its K unknowns: ``term`` (K,), the term of each; ``reach`` (n + 1, K), how much of it each
    outing has, and the next one; ``sigma`` (K,) beforehand; ``x`` (K,) and ``C`` (K, K), mean and
    covariance. Those of the lasting values come first, then each event's. ``beforehand``: its log
    weight before the outings were looked at; ``log_p``: with what they say, not scaled.
    ``scatter`` (k,).
    """

    events: tuple[Event, ...]
    term: Indices
    reach: Array
    sigma: Array
    x: Array
    C: Array
    beforehand: float
    log_p: float
    scatter: Array

    def number(self, event: Event) -> tuple[float, float]:
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

    stories: tuple[Story, ...]
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
        """Mean (k,) and covariance (k, k) over all stories, as :meth:`Story.outing`."""
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


def weigh(run: Outings) -> Weeks:
    """The likeliest stories of a run. Pure; the same run always gives the same."""
    found: dict[tuple[float, frozenset[Event]], Story] = {}
    for size, weight in SCATTERS:
        scatter = np.maximum(run.floor, size)
        scattered, log_z = run.with_scatter(scatter)
        plain = _plain(scattered, scatter, log_z + math.log(weight))
        level = [plain]
        found[size, frozenset()] = plain
        for _ in range(MOST):
            best = max(s.log_p for s in found.values())
            ahead: dict[frozenset[Event], tuple[float, Story, Event]] = {}
            for story in level:
                for log_p, event in _further(scattered, story):
                    key = frozenset((*story.events, event))
                    if log_p > best - BEHIND and (key not in ahead or ahead[key][0] < log_p):
                        ahead[key] = (log_p, story, event)
            chosen = sorted(ahead.items(), key=lambda kv: -kv[1][0])
            level = [_with(scattered, s, e) for _, (_, s, e) in chosen[:BEAM]]
            # Those not taken further count all the same, as far as they weigh.
            kept = level + [_with(scattered, s, e) for _, (_, s, e) in chosen[BEAM : 8 * BEAM]]
            found |= {(size, frozenset(s.events)): s for s in kept}
            if not level:
                break
    stories = sorted(found.values(), key=lambda s: -s.log_p)
    logs = np.array([s.log_p for s in stories])
    shares = np.exp(logs - logs[0])
    keep = shares > 1e-6
    stories = [s for s, k in zip(stories, keep, strict=True) if k]
    return Weeks(tuple(stories), shares[keep] / shares[keep].sum())


def _plain(run: Outings, scatter: Array, beforehand: float) -> Story:
    """Nothing happened but what was told."""
    term: list[int] = []
    reach: list[Array] = []
    for j in range(len(scatter)):
        for s in dict.fromkeys(run.stretch[:, j].tolist()):
            term.append(j)
            reach.append((run.stretch[:, j] == s).astype(float))
    at = np.array(term)
    return _solved(run, (), at, np.array(reach).T, np.ones(len(term)), beforehand, scatter)


def _solved(
    run: Outings,
    events: tuple[Event, ...],
    term: Indices,
    reach: Array,
    sigma: Array,
    beforehand: float,
    scatter: Array,
) -> Story:
    seen = reach[:-1]
    H = np.einsum("iv,iw,ivw->vw", seen, seen, run.info[:, term[:, None], term[None, :]])
    h = np.einsum("iv,iv->v", seen, run.vec[:, term])
    C = np.linalg.inv(H + np.diag(sigma**-2.0))
    C = (C + C.T) / 2
    x = C @ h
    gain = 0.5 * float(h @ x) + 0.5 * float(np.linalg.slogdet(C)[1]) - float(np.log(sigma).sum())
    return Story(events, term, reach, sigma, x, C, beforehand, beforehand + gain, scatter)


def _odds(run: Outings, kind: Kind, term: int) -> float:
    """Log of the odds beforehand that one such thing happened."""
    share = 1.0 if term < 0 else float(run.shares[term])
    p = {"changed": CHANGED, "drifts": DRIFTS, "odd": ODD_TERM, "strange": STRANGE}[kind] * share
    return math.log(p / (1.0 - p))


def _sigma(kind: Kind) -> float:
    return ODD if kind in ("odd", "strange") else 1.0


def _reach(run: Outings, event: Event) -> Array:
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


def _with(run: Outings, story: Story, event: Event) -> Story:
    """The story with one more event, solved anew."""
    k = len(story.scatter)
    terms = list(range(k)) if event.term < 0 else [event.term]
    reach = np.repeat(_reach(run, event)[:, None], len(terms), axis=1)
    sigma = np.concatenate([story.sigma, np.full(len(terms), _sigma(event.kind))])
    return _solved(
        run,
        (*story.events, event),
        np.concatenate([story.term, np.array(terms)]),
        np.concatenate([story.reach, reach], axis=1),
        sigma,
        story.beforehand + _odds(run, event.kind, event.term),
        story.scatter,
    )


def _further(run: Outings, story: Story) -> list[tuple[float, Event]]:
    """Every single event that the story lacks, with the log weight that it then has."""
    n, k = run.vec.shape
    # What each outing's term j has in common with each unknown, and is still pulled by.
    P = run.info[:, :, story.term] * story.reach[:-1][:, None, :]  # (n, k, K)
    pull = run.vec - P @ story.x  # (n, k)
    own = np.einsum("ijj->ij", run.info)
    out: list[tuple[float, Event]] = []
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
    strange = (Event("strange", -1, i) for i in range(n))
    odds = _odds(run, "strange", -1)
    out += [
        (story.log_p + odds + float(g), e)
        for g, e in zip(gain, strange, strict=True)
        if e not in story.events
    ]
    return out


def _ways(run: Outings, kind: Kind, j: int) -> tuple[Array, Sequence[Event]]:
    """The events of one kind that a term can have, and each one's reach (m, n)."""
    n = len(run.vec)
    if kind == "odd":
        events = [Event(kind, j, i) for i in range(n)]
    elif kind == "changed":
        # Inside a stretch without a mend: at a mend the value starts anew anyway.
        same = run.stretch[:-1, j]
        events = [Event(kind, j, i) for i in range(1, n) if same[i] == same[i - 1]]
    else:
        events = [Event(kind, j, -1)] if n >= 3 else []
    reach = [_reach(run, e)[:-1] for e in events]
    return np.array(reach).reshape(len(events), n), events
