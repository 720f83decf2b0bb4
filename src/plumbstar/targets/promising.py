"""Which small changes of an order look worth trying: all of them estimated at once.

An estimate takes the order's times as they stand. It counts the pushes that a change breaks and
makes, what the moved objects are worth at their new times, what the others gain or lose by starting
earlier or later (by how their worth changes there), and the last visit if time runs out. What looks
best is then followed visit by visit (exchange.py): the estimate only says what to try first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from plumbstar.targets.light import STEP_MINUTES
from plumbstar.targets.pool import NightPool
from plumbstar.turns import half_turn_deg
from plumbstar.units import Array, Indices

#: What one degree of push costs, in the worth of an unknown faint object. Judgement.
COST_OF_A_DEGREE = 0.002
#: How fast the tube is pushed, and what finding takes besides the kit's seconds. Common practice.
DEGREES_A_SECOND = 5.0
FINDING_MINUTES = 1.0
#: A stretch that is turned round, and two visits that are swapped, reach so far; so many visits are
#: moved together.
_REACH, _TOGETHER = 12, 3
#: Visits are moved so far, places.
_FAR = 40
#: Starts are thought of so many steps earlier and later.
_SHIFT = 8


class OrderChange(NamedTuple):
    """A change of an order: the visits from place ``a`` on, ``size`` of them, moved to before place
    ``b``, turned round up to it, or swapped with the one there; or the object ``b`` put in before
    place ``a``, or taken instead of the visit there."""

    kind: Literal["move", "instead", "in", "round", "swap"]
    a: int
    b: int
    size: int = 1

    def reach(self) -> tuple[int, int]:
        """From which place to before which the order is changed, or pushes are."""
        a, b = self.a, self.b
        if self.kind in ("in", "instead"):
            return max(a - 1, 0), a + 2
        return max(min(a, b) - 1, 0), max(a + max(self.size, 1), b + (self.kind == "swap")) + 1

    def of(self, order: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
        """The first place that it changes, and the order from there on."""
        a, b = self.a, self.b
        if self.kind == "instead":
            return a, (b, *order[a + 1 :])
        if self.kind == "in":
            return a, (b, *order[a:])
        if self.kind == "round":
            return a, (*order[a:b][::-1], *order[b:])
        if self.kind == "swap":
            return a, (order[b], *order[a + 1 : b], order[a], *order[b + 1 :])
        end = a + self.size
        if b < a:
            return b, (*order[a:end], *order[b:a], *order[end:])
        return a, (*order[end:b], *order[a:end], *order[b:])


@dataclass(frozen=True, slots=True)
class _Leg:
    """Pushes: what they take from the evening's worth, and the minutes from view to view."""

    cost: Array
    minutes: Array

    def of(self, place: Indices) -> _Leg:
        return _Leg(self.cost.take(place), self.minutes.take(place))

    def between(self, row: Indices, column: Indices) -> _Leg:
        return self.of(row * self.cost.shape[1] + column)

    def __add__(self, other: _Leg) -> _Leg:
        return _Leg(self.cost + other.cost, self.minutes + other.minutes)

    def __sub__(self, other: _Leg) -> _Leg:
        return _Leg(self.cost - other.cost, self.minutes - other.minutes)


def promising(
    c: NightPool, order: tuple[int, ...], starts: tuple[float, ...], most: int
) -> list[OrderChange]:
    """The changes of an order that look best, the best first; at most so many."""
    kinds = list(_Estimates(c, order, starts).all())
    gain = np.concatenate([g for g, _ in kinds])
    few = np.argsort(-gain, kind="stable")[:most] if len(gain) <= most else _top(gain, most)
    ends = np.cumsum([len(g) for g, _ in kinds])
    found = []
    for i in few.tolist():
        which = int(np.searchsorted(ends, i, side="right"))
        g, (kind, a, b, size) = kinds[which]
        j = i - (int(ends[which]) - len(g))
        found.append(OrderChange(kind, int(a[j]), int(b[j]), size))
    return found


def _top(gain: Array, most: int) -> Indices:
    few = np.argpartition(-gain, most)[:most]
    return np.asarray(few[np.argsort(-gain[few], kind="stable")])


#: Estimated gains (n,), and the changes: their kind, places a and b (n,), how many are moved.
_Kind = tuple[
    Array, tuple[Literal["move", "instead", "in", "round", "swap"], Indices, Indices, int]
]


class _Estimates:
    """One order (length,) and what every change of it would come to."""

    def __init__(self, c: NightPool, order: tuple[int, ...], starts: tuple[float, ...]) -> None:
        top = c.worth.shape[1] - 1
        self.order = o = np.array(order, dtype=np.intp)
        self.n, self.length = len(c.worth), len(o)
        self.minutes = c.minutes
        begin = np.array(starts)
        end = begin + c.minutes[o]
        self.slack = c.ends - float(end[-1])
        leaves = np.minimum((end / STEP_MINUTES).astype(np.intp), top)
        first = min(int(c.begins / STEP_MINUTES), top)
        start = np.append(begin, end[-1] + FINDING_MINUTES)
        self.start = start
        at = np.minimum((start / STEP_MINUTES + 0.5).astype(np.intp), top)
        #: of each object at the start of each visit, and after the last
        self.worth = c.worth[:, at]
        steps = np.arange(-_SHIFT, _SHIFT + 1)[:, None]
        later = c.worth[o, np.clip(at[:-1] + steps, 0, top)] - self.worth[o, np.arange(self.length)]
        #: what all visits before a place gain when they start so many steps later
        self.later = np.hstack([np.zeros((len(steps), 1)), np.cumsum(later, axis=1)])
        self.last = float(self.worth[o[-1], -2])
        #: from the visit before a place to each object; nothing before the first
        to = self._legs(c, o[:, None], np.arange(self.n), leaves[:, None])
        none = np.zeros((1, self.n))
        self.to = _Leg(np.vstack([none, to.cost]), np.vstack([none, to.minutes]))
        #: from each object to the visit at a place; nothing after the last
        came = np.concatenate([[first], leaves[:-1]])
        back = self._legs(c, np.arange(self.n)[:, None], o, came)
        self.back = _Leg(np.hstack([back.cost, none.T]), np.hstack([back.minutes, none.T]))
        legs = self.to.between(np.arange(self.length), o)
        self.legs = _Leg(np.append(legs.cost, 0.0), np.append(legs.minutes, 0.0))

    @staticmethod
    def _legs(c: NightPool, start: Indices, end: Indices, step: Indices) -> _Leg:
        daz = half_turn_deg(c.az[end, step] - c.az[start, step])
        turn = np.hypot(daz, c.alt[end, step] - c.alt[start, step])
        minutes = (c.push_seconds + turn / DEGREES_A_SECOND) / 60.0 + FINDING_MINUTES
        return _Leg(COST_OF_A_DEGREE * turn, np.maximum(minutes, c.rest[start, end]))

    def _shifted(self, minutes: Array, first: Indices, last: Indices | int) -> Array:
        """What the visits from a place up to another gain by starting so many minutes later."""
        x = np.clip(minutes / STEP_MINUTES + _SHIFT, 0.0, 2.0 * _SHIFT)
        j = np.minimum(x.astype(np.intp), 2 * _SHIFT - 1)
        width = self.length + 1
        row: Indices = j * width
        low = self.later.take(row + last) - self.later.take(row + first)
        row += width
        high = self.later.take(row + last) - self.later.take(row + first)
        return np.asarray(low + (x - j) * (high - low))

    def _gain(self, worth: Array, legs: _Leg, place: Indices, looking: Array | float) -> Array:
        """Worth gained, less pushes; what comes from ``place`` on starts so much later."""
        late = legs.minutes + looking
        rest = self._shifted(late, place, self.length)
        return np.asarray(worth - legs.cost + rest - self.last * (late > self.slack))

    def all(self) -> Iterator[_Kind]:
        free = np.setdiff1d(np.arange(self.n), self.order)
        if len(free):
            yield self._instead(free)
            yield self._in(free)
        for size in range(1, min(_TOGETHER, self.length - 1) + 1):
            yield self._moved(size)
        for width in range(2, min(_REACH, self.length) + 1):
            yield self._round(width)
        for apart in range(2, min(_REACH, self.length)):
            yield self._swap(apart)

    def _instead(self, free: Indices) -> _Kind:
        a, f = (x.ravel() for x in np.meshgrid(np.arange(self.length), free, indexing="ij"))
        old = self.order[a]
        legs = (
            self.to.between(a, f)
            + self.back.between(f, a + 1)
            - self.legs.of(a)
            - self.legs.of(a + 1)
        )
        looking = self.minutes[f] - self.minutes[old]
        gain = self._gain(self.worth[f, a] - self.worth[old, a], legs, a + 1, looking)
        return gain, ("instead", a, f, 1)

    def _in(self, free: Indices) -> _Kind:
        a, f = (x.ravel() for x in np.meshgrid(np.arange(self.length + 1), free, indexing="ij"))
        legs = self.to.between(a, f) + self.back.between(f, a) - self.legs.of(a)
        return self._gain(self.worth[f, a], legs, a, self.minutes[f]), ("in", a, f, 1)

    def _moved(self, size: int) -> _Kind:
        places = np.arange(self.length - size + 1), np.arange(self.length + 1)
        a, b = (x.ravel() for x in np.meshgrid(*places, indexing="ij"))
        apart = ((b < a) | (b > a + size)) & (np.abs(b - a) <= _FAR)
        a, b = a[apart], b[apart]
        end, o = a + size, self.order
        after = np.append(o, 0)[end]  # the last place has no visit: its legs are nothing
        close = self.to.between(a, after)
        ends = end == self.length
        close = _Leg(np.where(ends, 0.0, close.cost), np.where(ends, 0.0, close.minutes))
        legs = close + self.to.between(b, o[a]) + self.back.between(o[end - 1], b)
        legs = legs - self.legs.of(a) - self.legs.of(end) - self.legs.of(b)
        there = np.where(b < a, b, b - size)
        worth = np.zeros(len(a))
        for i in range(size):
            worth += self.worth[o[a + i], there + i] - self.worth[o[a + i], a + i]
        takes = self.start[end] - self.start[a]
        late = np.where(b < a, takes, -takes)
        worth += self._shifted(late, np.minimum(b, end), np.maximum(a, b))
        return self._gain(worth, legs, np.maximum(b, end), 0.0), ("move", a, b, size)

    def _round(self, width: int) -> _Kind:
        a = np.arange(self.length - width + 1)
        b, o = a + width, self.order
        legs = (
            self.to.between(a, o[b - 1])
            + self.back.between(o[a], b)
            - self.legs.of(a)
            - self.legs.of(b)
        )
        worth = np.zeros(len(a))
        for i in range(width):
            worth += self.worth[o[a + i], b - 1 - i] - self.worth[o[a + i], a + i]
        return self._gain(worth, legs, b, 0.0), ("round", a, b, 0)

    def _swap(self, apart: int) -> _Kind:
        a = np.arange(self.length - apart)
        b, o = a + apart, self.order
        x, y = o[a], o[b]
        legs = (
            self.to.between(a, y)
            + self.back.between(y, a + 1)
            + self.to.between(b, x)
            + self.back.between(x, b + 1)
        )
        for place in (a, a + 1, b, b + 1):
            legs = legs - self.legs.of(place)
        worth = self.worth[y, a] + self.worth[x, b] - self.worth[x, a] - self.worth[y, b]
        return self._gain(worth, legs, b + 1, 0.0), ("swap", a, b, 0)
