"""One account of a run of outings, solved: and what a single event more would add to it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.weeks.run import (
    LASTING,
    ODD,
    OWN_SCATTER,
    SCATTERS,
    Happening,
    Kind,
    RunOfOutings,
    odds_of,
    reach_of,
    sigma_of,
)
from plumbstar.units import Array, Indices


@dataclass(frozen=True)
class Tale:
    """One account of the run, solved: ``events`` in the order in which they were thought of.

    Its K unknowns: ``term`` (K,), the term of each; ``reach`` (n + 1, K), how much of it each
    outing has, and the next one; ``sigma`` (K,) beforehand; ``x`` (K,) and ``C`` (K, K), mean and
    covariance. Those of the lasting values come first, then each event's. ``beforehand``: what
    its events weigh before the outings are looked at, ``log_p`` the whole, logs, not scaled.
    ``scatter`` (k,), of the sizes ``sizes`` in :data:`SCATTERS`. ``given`` (n + 1, k): what
    recorded mends moved the terms by; ``turned``: the other way than was told.
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
    given: Array
    turned: bool = False

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
        return self.given[i] + hang @ self.x, hang @ self.C @ hang.T


@dataclass(frozen=True)
class Scattered:
    """A run with a scatter of some sizes integrated out."""

    run: RunOfOutings
    scatter: Array
    sizes: tuple[int, ...]
    log_z: float  # its share of the evidence, and what those sizes weigh beforehand

    @staticmethod
    def of(run: RunOfOutings, sizes: tuple[int, ...]) -> Scattered:
        scatter = np.maximum(run.floor, [SCATTERS[i][0] for i in sizes])
        before, log_y = run.before_mends()
        scattered, log_z = before.with_scatter(scatter)
        weights = np.array([w for _, w in SCATTERS])
        # One size for all, but for those terms that have their own.
        each = OWN_SCATTER * weights[list(sizes)] + (1 - OWN_SCATTER) * (
            np.arange(len(SCATTERS))[:, None] == np.array(sizes)
        )
        return Scattered(
            scattered, scatter, sizes, log_y + log_z + math.log(weights @ np.prod(each, axis=1))
        )


def plain(s: Scattered) -> Tale:
    """Nothing happened but what was told."""
    stretch = s.run.stretch
    term: list[int] = []
    reach: list[Array] = []
    for j in range(stretch.shape[1]):
        for number in dict.fromkeys(stretch[:, j].tolist()):
            term.append(j)
            reach.append((stretch[:, j] == number).astype(float))
    sigma = np.append(np.full(len(term), LASTING), [m.sigma for m in s.run.moved])
    at = np.array([*term, *(m.term for m in s.run.moved)])
    return solved(s, (), at, np.array([*reach, *(m.reach for m in s.run.moved)]).T, sigma, 0.0)


def solved(
    s: Scattered,
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
    given = run.given
    return Tale(events, term, reach, sigma, x, C, beforehand, log_p, s.scatter, s.sizes, given)


def again(s: Scattered, story: Tale) -> Tale:
    """The story with another scatter."""
    return solved(s, story.events, story.term, story.reach, story.sigma, story.beforehand)


def with_event(s: Scattered, story: Tale, event: Happening) -> Tale:
    """The story with one more event, solved anew."""
    terms = list(range(len(story.scatter))) if event.term < 0 else [event.term]
    reach = np.repeat(reach_of(s.run, event)[:, None], len(terms), axis=1)
    return solved(
        s,
        (*story.events, event),
        np.concatenate([story.term, np.array(terms)]),
        np.concatenate([story.reach, reach], axis=1),
        np.concatenate([story.sigma, np.full(len(terms), sigma_of(event.kind))]),
        story.beforehand + odds_of(s.run, event.kind, event.term, event.outing),
    )


def further(
    run: RunOfOutings, story: Tale, least: float = -math.inf
) -> list[tuple[float, Happening]]:
    """Every single event that the story lacks, with the log weight that it then has, where that is
    more than ``least``."""
    n, k = run.vec.shape
    # What each outing's term j has in common with each unknown, and is still pulled by.
    P = run.info[:, :, story.term] * story.reach[:-1][:, None, :]  # (n, k, K)
    pull = run.vec - P @ story.x  # (n, k)
    own = np.einsum("ijj->ij", run.info)
    out: list[tuple[float, Happening]] = []

    def keep(log_p: Array, kind: Kind, j: int, outings: Sequence[int]) -> None:
        for m in np.flatnonzero(log_p > least).tolist():
            event = Happening(kind, j, outings[m])
            if event not in story.events:
                out.append((float(log_p[m]), event))

    for j, ways in enumerate(run.ways):
        for kind, weights, outings in ways:
            B = weights @ P[:, j]  # (m, K)
            s = (
                weights**2 @ own[:, j]
                + sigma_of(kind) ** -2
                - np.einsum("mv,mv->m", B @ story.C, B)
            )
            y = weights @ pull[:, j]
            gain = 0.5 * y * y / s - 0.5 * np.log(s) - math.log(sigma_of(kind))
            odds = odds_of(run, kind, j)
            log_p = story.log_p + odds + gain
            if kind == "far":
                # It is thought of only where it makes the run likelier: else its bare possibility
                # would widen what nobody has looked at.
                log_p = np.where(odds + gain > 0.0, log_p, -math.inf)
            keep(log_p, kind, j, outings)
    S = run.info + np.eye(k) / ODD**2 - P @ story.C @ np.swapaxes(P, -1, -2)
    y = pull[..., None]
    gain = 0.5 * (np.swapaxes(y, -1, -2) @ np.linalg.solve(S, y))[:, 0, 0]
    gain += -0.5 * np.linalg.slogdet(S)[1] - k * math.log(ODD)
    odds_each = np.array([odds_of(run, "strange", -1, i) for i in range(n)])
    keep(story.log_p + odds_each + gain, "strange", -1, range(n))
    return out
