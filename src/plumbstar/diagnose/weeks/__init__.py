"""One model of a mount over a run of outings: what lasts, what wanders, what changed, what was odd.

The lasting terms are held jointly, in units of the kit's sigmas about the kit's values, so that a
prior is always one. In outing i term j is

    lasting value of its stretch between mends            N(0, LASTING^2), one each
    + scatter_i                                           N(0, s_j^2), of a few sizes, most often
                                                          the same for all terms
    + what a mend moved it by, where that was recorded    its size, and how well that is known
    + changes since then that nobody told                 N(0, JUMP^2) each, from one outing on
    + a drift over the whole run                          N(0, 1) over the span
    + where it is far from what the kit expects           N(0, FAR_SIZE^2), in a stretch
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
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter

import numpy as np

from plumbstar.diagnose.weeks.run import SCATTERS, Happening, Kind, RunOfOutings, TermMoved
from plumbstar.diagnose.weeks.tale import Scattered, Tale, again, further, plain, with_event
from plumbstar.units import Array

__all__ = ["SCATTERS", "Happening", "RunOfOutings", "Tale", "TermMoved", "Weeks", "weigh"]

#: Terms of which a story may say so, at most, and stories of which it is asked.
MOST_OWN, ASKED = 3, 4
#: Events of one story, at most; stories taken further at each step and size of scatter; and how
#: far, in log weight, behind the best one a story is let go.
MOST, BEAM, BEHIND = 4, 5, 9.0


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

    @cached_property
    def odd(self) -> Array:
        """Chance (n, k) that an outing says nothing of the term's value in other outings."""
        out = np.zeros_like(self.stories[0].given[:-1])
        for share, tale in zip(self.shares.tolist(), self.stories, strict=True):
            apart = np.zeros(out.shape, dtype=bool)
            for event in tale.events:
                if event.kind == "odd":
                    apart[event.outing, event.term] = True
                elif event.kind == "strange":
                    apart[event.outing] = True
            out += share * apart
        return out

    @property
    def turned(self) -> float:
        """Chance that what recorded mends moved went the other way than was told."""
        return float(self.shares @ np.array([s.turned for s in self.stories]))

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
    if not (run.moved and run.doubt):
        return _weighed(_stories(run))
    turned = replace(run, moved=tuple(m._replace(size=-m.size) for m in run.moved))
    told = _stories(run)
    # Where no outing has come after the mends both ways fit the same: nothing to look for twice.
    after = any(m.reach[:-1].any() for m in run.moved)
    other = _stories(turned) if after else [replace(s, given=turned.given) for s in told]
    with_odds = [replace(s, log_p=s.log_p + math.log(1.0 - run.doubt)) for s in told]
    with_odds += [replace(s, log_p=s.log_p + math.log(run.doubt), turned=True) for s in other]
    return _weighed(with_odds)


def _weighed(found: list[Tale]) -> Weeks:
    stories = sorted(found, key=attrgetter("log_p"), reverse=True)
    shares = np.exp(np.array([s.log_p for s in stories]) - stories[0].log_p)
    weighty = int(np.count_nonzero(shares > 1e-6))
    return Weeks(tuple(stories[:weighty]), shares[:weighty] / shares[:weighty].sum())


def _stories(run: RunOfOutings) -> list[Tale]:
    found: dict[tuple[tuple[int, ...], frozenset[Happening]], Tale] = {}

    def keep(stories: list[Tale]) -> None:
        found.update({(s.sizes, frozenset(s.events)): s for s in stories})

    for size in range(len(SCATTERS)):
        scattered = Scattered.of(run, (size,) * len(run.floor))
        level = [plain(scattered)]
        keep(level)
        for _ in range(MOST):
            level, others = _next_level(scattered, level, max(s.log_p for s in found.values()))
            keep(level + others)
    # Scatters of single terms: asked of the likeliest, and of the plain ones in any case.
    best: dict[frozenset[Happening], Tale] = {}
    for story in sorted(found.values(), key=attrgetter("log_p"), reverse=True):
        best.setdefault(frozenset(story.events), story)
    asked = [s for i, s in enumerate(best.values()) if i < ASKED or not s.events]
    runs: dict[tuple[int, ...], Scattered] = {}
    for story in asked:
        level = [story]
        for _ in range(MOST_OWN):
            ahead: dict[tuple[int, ...], Tale] = {}
            for s in level:
                for sizes in _one_other(s.sizes):
                    if sizes not in runs:
                        runs[sizes] = Scattered.of(run, sizes)
                    if sizes not in ahead:
                        ahead[sizes] = again(runs[sizes], s)
            keep(list(ahead.values()))
            level = sorted(ahead.values(), key=attrgetter("log_p"), reverse=True)[:2]
    return list(found.values())


def _one_other(sizes: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """The same but for one term."""
    for j, at in enumerate(sizes):
        for size in range(len(SCATTERS)):
            if size != at:
                yield (*sizes[:j], size, *sizes[j + 1 :])


def _next_level(s: Scattered, level: list[Tale], best: float) -> tuple[list[Tale], list[Tale]]:
    """Stories with one more event: those to be taken further, and those that only count."""
    ahead: dict[frozenset[Happening], tuple[float, Tale, Happening]] = {}
    for story in level:
        for log_p, event in further(s.run, story, best - BEHIND):
            key = frozenset((*story.events, event))
            if key not in ahead or ahead[key][0] < log_p:
                ahead[key] = (log_p, story, event)
    chosen = sorted(ahead.values(), key=lambda a: -a[0])[: 8 * BEAM]
    made = [with_event(s, story, event) for _, story, event in chosen]
    return made[:BEAM], made[BEAM:]
