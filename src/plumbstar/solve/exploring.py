"""Which of very many stories matter, found without solving them all.

A glance (:mod:`plumbstar.solve.glance`) tells what each promises; the best of those are solved on
the exact kinematics, and the next glance is taken from the best of each kind that was solved, until
nothing that was left out promises a share. Where the sightings contradict each other by degrees the
first glance is a rough one: then some of every kind are solved whatever they promise, and each kind
is followed as long as it gets better.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.batches import batch_of, far_apart, solved
from plumbstar.solve.glance import Glance, kind_of
from plumbstar.solve.posterior import Data, Solution
from plumbstar.solve.stories import Jump, Story, double
from plumbstar.units import Array

#: A story that is promised a share under exp(-this) of all is left out. Of those kept none has less
#: than a thousandth, exp(-6.9).
WITHIN = 9.0
#: So many are solved at a time. Where the first glance is rough, also so many of each kind, each in
#: a gap of its own, whatever they promise; and beyond the first turn so many of what gets better.
_AT_A_TIME, _OF_A_KIND, _BEYOND_ONE = 48, 3, 1
#: Of what the best explains that "all good" (the first story) does not, this part may be missing.
_MUCH_LESS = 0.1
#: A kind is followed so many times.
_MOST_ROUNDS = 12


@dataclass
class Exploring:
    """The stories of one evening as far as they were looked at.

    ``stories``; ``promised`` (k,) and ``log_p`` (k,), minus infinity where not solved: log of prior
    times evidence; ``x``: the parameters of each that was solved.
    """

    data: Data
    prior: Priors
    noise: Noise
    clean: Solution
    stories: list[Story] = field(default_factory=list)
    promised: Array = field(default_factory=lambda: np.zeros(0))
    log_p: Array = field(default_factory=lambda: np.zeros(0))
    x: dict[int, Array] = field(default_factory=dict)

    def single(self, stories: Sequence[Story]) -> None:
        """Look at the stories of one fault each."""
        first = Glance(self.data, self.prior, self.noise, self.clean.mean)
        kinds: dict[object, list[int]] = {}
        for k, s in enumerate(stories):
            kinds.setdefault(kind_of(s), []).append(k)
        self._explore(stories, [(rows, first) for rows in kinds.values()])

    def leaders(self, first_of: Callable[[Iterable[Story]], list[Story]]) -> list[Story]:
        """The likeliest faults, as ``first_of`` picks them from the likeliest to the least; each
        is solved, however far behind a rough hand it stands."""
        while True:
            likely = np.where(np.isneginf(self.log_p), self.promised, self.log_p)
            order = np.argsort(-likely, kind="stable")
            faults = {s: int(k) for k in order if (s := self.stories[k]).moves or s.bad}
            found = first_of(faults)
            todo = [faults[s] for s in found if np.isneginf(self.log_p[faults[s]])]
            if not todo:
                return found
            self._solve(todo)

    def double(self, leaders: Sequence[Story], singles: Sequence[Story]) -> None:
        """Look at each leader, which was solved, with a second fault."""
        stories: list[Story] = []
        kinds = []
        place = {s: k for k, s in enumerate(self.stories)}
        told: set[Story] = set()
        for leader in leaders:
            begin = self._about(place[leader])
            mine: dict[object, list[int]] = {}
            for s in double([leader], singles):
                if s not in told:
                    told.add(s)
                    mine.setdefault(kind_of(s), []).append(len(stories))
                    stories.append(s)
            kinds += [(rows, begin) for rows in mine.values()]
        self._explore(stories, kinds)

    def best(self) -> list[int]:
        """Those that were solved, likeliest first."""
        order = np.argsort(-self.log_p, kind="stable")
        return [int(k) for k in order if np.isfinite(self.log_p[k])]

    def _about(self, k: int) -> Glance:
        """A glance about a story that was solved."""
        moves: list[tuple[Jump, Array]] = []
        e = N_TERMS
        for m in self.stories[k].moves:
            moves.append((m, self.x[k][e : e + len(m.terms)]))
            e += len(m.terms)
        return Glance(self.data, self.prior, self.noise, self.x[k][:N_TERMS], moves)

    def _explore(self, stories: Sequence[Story], kinds: Sequence[tuple[list[int], Glance]]) -> None:
        """Add stories, told apart by kind (rows among them, and where the first look is from)."""
        before = len(self.stories)
        self.stories += stories
        unseen = np.full(len(stories), -np.inf)
        self.promised = np.concatenate([self.promised, unseen])
        self.log_p = np.concatenate([self.log_p, unseen])
        rows = [np.array(mine) + before for mine, _ in kinds]
        looks: dict[int, Glance] = {i: look for i, (_, look) in enumerate(kinds)}
        chosen = [-1] * len(kinds)
        rough = far_apart(self.clean)
        for _ in range(_MOST_ROUNDS):
            for i, look in looks.items():
                self.promised[rows[i]] = look.promises([self.stories[k] for k in rows[i]])
            todo = self._worth_solving()
            if rough:
                more = [k for i in looks for k in self._some_of(rows[i])]
                todo = list(dict.fromkeys([*todo, *more]))
            if not todo:
                return
            self._solve(todo)
            looks = {}
            for i, mine in enumerate(rows):
                k = int(mine[np.argmax(self.log_p[mine])])
                if np.isfinite(self.log_p[k]) and k != chosen[i]:
                    chosen[i] = k
                    looks[i] = self._about(k)

    def _worth_solving(self) -> list[int]:
        """Those not solved that promise a share, the best first."""
        left = np.isneginf(self.log_p)
        likely = np.where(left, self.promised, self.log_p)
        whole = likely.max() + np.log(np.exp(likely - likely.max()).sum())
        rows = np.flatnonzero(left & (self.promised > whole - WITHIN))
        return [int(k) for k in rows[np.argsort(-self.promised[rows])][:_AT_A_TIME]]

    def _some_of(self, rows: Array) -> list[int]:
        """The best few of a kind that are not solved, each in a gap of its own; none that explains
        much less than the best does."""
        gaps: dict[object, int] = {}
        best, most = float(self.log_p.max()), _OF_A_KIND
        if np.isfinite(best):
            most = _BEYOND_ONE
            least = best - _MUCH_LESS * (best - float(self.promised[0]))
            rows = rows[self.promised[rows] > least]
        for k in rows[np.argsort(-self.promised[rows])]:
            if np.isneginf(self.log_p[k]):
                s = self.stories[k]
                gaps.setdefault((tuple(m.first for m in s.moves), s.bad[:1]), int(k))
            if len(gaps) == most:
                break
        return list(gaps.values())

    def _solve(self, todo: Sequence[int]) -> None:
        chosen = [self.stories[k] for k in todo]
        batch, begin = batch_of(self.data, self.prior, self.noise, self.clean, chosen)
        found, log_p = solved(batch, begin, chosen)
        self.log_p[list(todo)] = log_p
        for j, (k, story) in enumerate(zip(todo, chosen, strict=True)):
            own = N_TERMS + sum(len(m.sigmas) for m in story.moves)
            self.x[k] = found.x[j, :own]  # the rest only gives the batch one shape
