"""An order of visits, followed, and made better one small change at a time.

A change leaves the order's beginning as it is: what the evening is worth up to there is known, and
only the rest is followed anew. After a change that helps, the search goes on where it stands; it
ends when one round of all changes has helped nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plumbstar.targets.light import STEP_MINUTES
from plumbstar.targets.pool import NightPool
from plumbstar.targets.promising import (
    COST_OF_A_DEGREE,
    DEGREES_A_SECOND,
    FINDING_MINUTES,
    promising,
)
from plumbstar.turns import T

#: So many of the changes that look best are followed before an order is taken as it is.
_LOOKED_AT = 150

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
    finding, a_degree = minutes_between(c, 0.0), 1.0 / (60.0 * DEGREES_A_SECOND)
    for i in order:
        turn, arrive = 0.0, now
        worth = plain.worth[i]
        if last >= 0:
            k = int(now / STEP_MINUTES)
            k = k if k < top else top
            daz = plain.az[i][k] - plain.az[last][k]
            if daz >= 180.0:  # the shorter way round
                daz -= 360.0
            elif daz < -180.0:
                daz += 360.0
            turn = math.hypot(daz, plain.alt[i][k] - plain.alt[last][k])
            minutes, rest = finding + turn * a_degree, plain.rest[last][i]
            arrive += minutes if minutes > rest else rest
        k = int(arrive / STEP_MINUTES + 0.5)
        k = k if k < top else top
        gain = worth[k]
        if gain <= 0.0:
            k = plain.rises[i][k]
            if k > top:
                continue
            arrive, gain = k * STEP_MINUTES, worth[k]
        end = arrive + plain.minutes[i]
        if end > ends:
            continue
        total += gain - COST_OF_A_DEGREE * turn
        now, last = end, i
        if visits is not None:
            visits.append((i, arrive, turn))
    return now, last, total


def improve(c: NightPool, plan: VisitOrder, most: int) -> VisitOrder:
    """Move visits, put one in, take another instead, turn a stretch round, swap two, while it
    helps: what looks best is followed first; at most so many changes are.

    After one that helps, those that look best stand where they did as long as the order is as long
    and they lie elsewhere in it; then all are estimated anew.
    """
    best, tried, helped = plan, 0, True
    while helped and best.order and tried < most:
        helped = False
        looked_at = promising(c, best.order, best.starts, min(_LOOKED_AT, most - tried))
        before, touched = _before(c, best.order), [False] * (len(best.order) + 1)
        for change in looked_at:
            low, high = change.reach()
            if any(touched[low:high]):
                continue
            if change.kind in ("in", "instead") and change.b in best.order:
                continue
            tried += 1
            first, rest = change.of(best.order)
            if _go(c, rest, before[first])[2] > best.worth + 1e-9:
                length = len(best.order)
                best = follow(c, (*best.order[:first], *rest))
                helped = True
                if len(best.order) != length:
                    break
                touched[low:high] = [True] * (high - low)
                before = _before(c, best.order)
    return best


def _before(c: NightPool, order: Sequence[int]) -> list[_State]:
    """How things stand before each visit, and at the end."""
    states: list[_State] = [(c.begins, -1, 0.0)]
    for i in order:
        states.append(_go(c, (i,), states[-1]))
    return states
