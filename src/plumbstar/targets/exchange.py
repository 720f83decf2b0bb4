"""An order of visits, followed, and made better one small change at a time.

A change leaves the order's beginning as it is: what the evening is worth up to there is known, and
only the rest is followed anew. After a change that helps, the search goes on where it stands; it
ends when one round of all changes has helped nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from plumbstar.targets.light import STEP_MINUTES
from plumbstar.targets.pool import NightPool
from plumbstar.turns import T, half_turn_deg

#: What one degree of push costs, in the worth of an unknown faint object. Judgement.
COST_OF_A_DEGREE = 0.002
#: How fast the tube is pushed, and what finding takes besides the kit's seconds. Common practice.
DEGREES_A_SECOND = 5.0
FINDING_MINUTES = 1.0
#: So many objects outside the order are tried in it; a stretch that is turned round or swapped with
#: another reaches so far; and so many visits are moved together.
_FREE, _REACH, _TOGETHER = 30, 12, 3

#: A change of the visits from place ``a`` on, ``size`` of them: moved to before place ``b``, turned
#: round up to it, swapped with the one there; or the b-th object outside put in, or taken instead.
_Move = tuple[Literal["move", "instead", "in", "round", "swap"], int, int, int]
#: Minutes, the object last seen (-1 for none), what the evening is worth so far.
_State = tuple[float, int, float]


def minutes_between(c: NightPool, turn: T) -> T:
    """Minutes from one eyepiece view to the next, for a push of so many degrees."""
    return (c.push_seconds + turn / DEGREES_A_SECOND) / 60.0 + FINDING_MINUTES


@dataclass(frozen=True, slots=True)
class VisitOrder:
    """Indices into a course, with each visit's start in minutes, and what it all is worth."""

    order: tuple[int, ...]
    starts: tuple[float, ...]
    pushes: tuple[float, ...]
    worth: float


def follow(c: NightPool, order: Sequence[int]) -> VisitOrder:
    """The visits in that order as early as they can be; those that find no time fall out."""
    visits: list[tuple[int, float, float]] = []
    worth = _go(c, order, (c.begins, -1, 0.0), visits)[2]
    kept, starts, pushes = zip(*visits, strict=True) if visits else ((), (), ())
    return VisitOrder(kept, starts, pushes, worth)


def _go(
    c: NightPool,
    order: Sequence[int],
    state: _State,
    visits: list[tuple[int, float, float]] | None = None,
) -> _State:
    """On from a state, in that order; ``visits`` is given who, from when, after which push.

    Called some thousand times for one plan, on single numbers: as Python's own they take a tenth of
    what numpy's do.
    """
    now, last, total = state
    plain, top, ends = c.plain, c.worth.shape[1] - 1, c.ends + 1e-9
    for i in order:
        turn, arrive = 0.0, now
        worth = plain.worth[i]
        if last >= 0:
            k = int(now / STEP_MINUTES)
            k = k if k < top else top
            daz = half_turn_deg(plain.az[i][k] - plain.az[last][k])
            turn = math.hypot(daz, plain.alt[i][k] - plain.alt[last][k])
            minutes, rest = minutes_between(c, turn), plain.rest[last][i]
            arrive += minutes if minutes > rest else rest
        k = int(arrive / STEP_MINUTES + 0.5)
        k = k if k < top else top
        if worth[k] <= 0.0:
            k = plain.rises[i][k]
            if k > top:
                continue
            arrive = k * STEP_MINUTES
        end = arrive + plain.minutes[i]
        if end > ends:
            continue
        total += worth[k] - COST_OF_A_DEGREE * turn
        now, last = end, i
        if visits is not None:
            visits.append((i, arrive, turn))
    return now, last, total


def improve(c: NightPool, plan: VisitOrder, most: int) -> VisitOrder:
    """Move visits, put one in, take another instead, turn a stretch round, swap two, while it
    helps; at most so many changes are tried."""
    best, n = plan, len(c.worth)
    moves = _moves(len(best.order), n)
    before = _before(c, best.order)
    free = _free(best.order, n)
    at = quiet = tried = 0
    while quiet < len(moves) and tried < most:
        kind, a, b, size = moves[at]
        at = (at + 1) % len(moves)
        tried, quiet = tried + 1, quiet + 1
        order = best.order
        if kind == "instead":
            first, rest = a, (free[b], *order[a + 1 :]) if b < len(free) else ()
        elif kind == "in":
            first, rest = a, (free[b], *order[a:]) if b < len(free) else ()
        elif kind == "round":
            first, rest = a, (*order[a:b][::-1], *order[b:])
        elif kind == "swap":
            first, rest = a, (order[b], *order[a + 1 : b], order[a], *order[b + 1 :])
        else:
            some = order[a : a + size]
            if b < a:
                first, rest = b, (*some, *order[b:a], *order[a + size :])
            else:
                first, rest = a, (*order[a + size : b], *some, *order[b:])
        if not rest:
            continue
        state = before[first]
        if _go(c, rest, state)[2] > best.worth + 1e-9:
            best = follow(c, (*order[:first], *rest))
            before, free, quiet = _before(c, best.order), _free(best.order, n), 0
            if len(best.order) != len(order):
                moves = _moves(len(best.order), n)
                at %= max(len(moves), 1)
    return best


def _before(c: NightPool, order: Sequence[int]) -> list[_State]:
    """How things stand before each visit, and at the end."""
    states: list[_State] = [(c.begins, -1, 0.0)]
    for i in order:
        states.append(_go(c, (i,), states[-1]))
    return states


def _free(order: Sequence[int], n: int) -> list[int]:
    taken = set(order)
    return [i for i in range(n) if i not in taken][:_FREE]


def _moves(length: int, n: int) -> list[_Move]:
    """All changes of an order so long."""
    out: list[_Move] = []
    free = range(min(_FREE, n - length))
    for a in range(length):
        out += (("move", a, b, 1) for b in range(length + 1) if not a <= b <= a + 1)
        out += (("instead", a, b, 1) for b in free)
    out += (("in", a, b, 1) for b in free for a in range(length + 1))
    for a in range(length - 1):
        out += (("round", a, b, 0) for b in range(a + 2, min(length, a + _REACH) + 1))
    for size in range(2, _TOGETHER + 1):
        for a in range(length - size + 1):
            reach = range(max(0, a - _REACH), min(length, a + size + _REACH) + 1)
            out += (("move", a, b, size) for b in reach if not a <= b <= a + size)
    for a in range(length - 2):
        out += (("swap", a, b, 0) for b in range(a + 2, min(length, a + _REACH)))
    return out
