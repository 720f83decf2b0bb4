"""The evening's order: which objects, when, so that the evening holds most and pushes stay short.

A visit is worth the object's interest times the chance of seeing it then, a little less when it
stands lower than it will, less near the zenith where the azimuth runs away, less for every degree
of push. What sets early is worth something only early, so it comes first by itself; what rises
waits until it is high. This is an orienteering problem with worths that change by the hour: a beam
search, led by the best that could still be got in the time left, then changes until none helps.
design/evening_order.py compares it with every possible order of small sets.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

import numpy as np

from plumbstar.sky.times import Instant
from plumbstar.targets.exchange import VisitOrder, follow, improve, minutes_between
from plumbstar.targets.light import STEP_MINUTES
from plumbstar.targets.model import Hitch, LeftOut, Prospect, Route, Visit, VisitNote
from plumbstar.targets.pool import NightPool, next_worth, night_pool
from plumbstar.targets.promising import COST_OF_A_DEGREE
from plumbstar.targets.prospects import NEAR_BEST
from plumbstar.targets.tonight import Survey
from plumbstar.targets.wishes import name_of
from plumbstar.turns import T, half_turn_deg

#: An order is changed only for so much more: who has the old one on a card should keep it.
WORTH_A_CHANGE = 0.1
#: So many of the most rewarding objects are thought about, and so many beginnings kept.
POOL, BEAM = 120, 20
_EXCHANGES = 6000


class Effort(NamedTuple):
    """How much is tried for an order: objects thought about, beginnings kept, changes."""

    pool: int = POOL
    beam: int = BEAM
    exchanges: int = _EXCHANGES


THOROUGH = Effort()
#: While something is still being moved about: a fifth of the time, the same first objects mostly.
QUICK = Effort(40, 8, 600)
#: A gap this long in the order, and an object that goes down this soon, are told of. Judgement.
_LONG_GAP_MINUTES, _SOON_DOWN_MINUTES = 8.0, 45.0


def push_deg(az_a: T, alt_a: T, az_b: T, alt_b: T) -> T:
    """How far the two bearings turn together, degrees: azimuth the shorter way, not on the sky."""
    daz = half_turn_deg(az_b - az_a)
    turn: T = np.hypot(daz, alt_b - alt_a)
    return turn


def solve(c: NightPool, beam: int = BEAM, exchanges: int = _EXCHANGES) -> VisitOrder:
    """The best order found; deterministic."""
    if not len(c.worth):
        return VisitOrder((), (), (), 0.0)
    return improve(c, _beam(c, beam), exchanges)


def _beam(c: NightPool, width: int) -> VisitOrder:
    """Grow ``width`` orders side by side, each by every object, keeping the most promising.

    Promise: what an order has, and the best still to be had in its time left, if each remaining
    object could be seen at its best moment from then on and pushes cost nothing.
    """
    n, steps = c.worth.shape
    coming = np.maximum.accumulate(c.worth[:, ::-1], axis=1)[:, ::-1]
    usual = float(np.median(c.minutes) + minutes_between(c, 0.0)) + 0.1
    now, worth = np.array([c.begins]), np.zeros(1)
    last = np.array([-1])
    seen = np.zeros((1, n), dtype=bool)
    orders: list[tuple[int, ...]] = [()]
    best: tuple[float, tuple[int, ...]] = (0.0, ())
    everyone, rises = np.arange(n), next_worth(c.worth)
    while len(orders):
        k = np.minimum((now / STEP_MINUTES).astype(int), steps - 1)
        az, alt = c.az[:, k].T, c.alt[:, k].T  # (orders, n)
        rows = np.arange(len(orders))
        first = last < 0
        turn = push_deg(az[rows, last][:, None], alt[rows, last][:, None], az, alt)
        turn = np.where(first[:, None], 0.0, turn)
        minutes = np.maximum(minutes_between(c, turn), c.rest[last])
        minutes = np.where(first[:, None], 0.0, minutes)
        arrive = now[:, None] + minutes
        at = np.minimum((arrive / STEP_MINUTES + 0.5).astype(int), steps - 1)
        gain = c.worth[everyone, at]
        # What has not risen yet is waited for.
        at = np.where(gain > 0.0, at, rises[everyone, at])
        late = at >= steps
        at = np.minimum(at, steps - 1)
        arrive = np.where(gain > 0.0, arrive, at * STEP_MINUTES)
        gain = c.worth[everyone, at] - COST_OF_A_DEGREE * turn
        done = arrive + c.minutes
        bad = seen | late | (done > c.ends + 1e-9)
        crude = np.where(bad, -np.inf, worth[:, None] + gain - 0.02 * (done - now[:, None]))
        order = np.argsort(-crude, axis=None, kind="stable")[: 6 * width]
        order = order[np.isfinite(crude.reshape(-1)[order])]
        if not len(order):
            break
        r, i = np.divmod(order, n)
        t, w = done[r, i], worth[r] + gain[r, i]
        visited = seen[r].copy()
        visited[np.arange(len(i)), i] = True
        rest = np.where(visited, 0.0, coming[:, np.minimum((t / STEP_MINUTES).astype(int),
                                                           steps - 1)].T)  # fmt: skip
        rest = -np.sort(-rest, axis=1)
        room = np.clip((c.ends - t) / usual, 0.0, n).astype(int)
        total = np.concatenate([np.zeros((len(t), 1)), np.cumsum(rest, axis=1)], axis=1)
        promise = w + total[np.arange(len(t)), room]
        # Two orders of the same objects that end alike differ only in the past: keep the better.
        keep: list[int] = []
        known: set[tuple[bytes, int]] = set()
        for j in np.argsort(-promise, kind="stable"):
            mark = (visited[j].tobytes(), int(i[j]))
            if mark not in known:
                known.add(mark)
                keep.append(int(j))
            if len(keep) == width:
                break
        orders = [(*orders[r[j]], int(i[j])) for j in keep]
        now, worth, last, seen = t[keep], w[keep], i[keep], visited[keep]
        top = int(np.argmax(worth))
        if worth[top] > best[0]:
            best = (float(worth[top]), orders[top])
    return follow(c, best[1])


def plan(
    s: Survey,
    wanted: Sequence[Prospect],
    start: Instant,
    end: Instant,
    *,
    done: Collection[str] = (),
    previous: Route | None = None,
    effort: Effort = THOROUGH,
) -> Route:
    """The evening's order from ``start`` to ``end``: ``wanted`` in falling reward.

    ``done`` are names (:func:`name_of`) already looked at. With a ``previous`` route, what is left
    of it stands unless a new order is worth a tenth more; so a late observer gets the same list,
    less what there is no time for.
    """
    pool = [p for p in leading(wanted)
            if name_of(p.target) not in done and within(p, start, end)][: effort.pool]  # fmt: skip
    c = night_pool(s, pool, start, end)
    found = solve(c, effort.beam, effort.exchanges)
    if previous is not None:
        by_key = {p.target.key: i for i, p in enumerate(pool)}
        kept = [by_key[v.prospect.target.key] for v in previous.visits
                if v.prospect.target.key in by_key]  # fmt: skip
        old = _fill(c, _thin(c, kept))
        if found.worth <= old.worth * (1.0 + WORTH_A_CHANGE):
            found = old
    return _route(s, pool, c, found)


def leading(wanted: Sequence[Prospect]) -> list[Prospect]:
    """Those that are a visit of their own: not what comes with another that is wanted, too."""
    keys = {p.target.key for p in wanted}
    return [p for p in wanted if p.led_by not in keys]


def within(p: Prospect, start: Instant, end: Instant) -> bool:
    """Whether it is worth pointing at for a while in those hours."""
    return p.last.minus(start) > 0.0 and end.minus(p.first) > 60.0 * p.minutes


def _thin(c: NightPool, order: Sequence[int]) -> VisitOrder:
    """The order as it stands, less what had better be left out now that there is less time."""
    best, kept = follow(c, order), list(order)
    while True:
        shorter = [kept[:a] + kept[a + 1 :] for a in range(len(kept))]
        plans = [follow(c, o) for o in shorter]
        top = max(range(len(plans)), key=lambda a: plans[a].worth, default=None)
        if top is None or plans[top].worth <= best.worth + 1e-9:
            return best
        best, kept = plans[top], shorter[top]


def _fill(c: NightPool, plan: VisitOrder) -> VisitOrder:
    """Put objects into the gaps of an order, and change nothing else."""
    better = True
    while better:
        better = False
        free = [i for i in range(len(c.worth)) if i not in plan.order]
        for f in free:
            for a in range(len(plan.order), -1, -1):
                other = follow(c, (*plan.order[:a], f, *plan.order[a:]))
                if set(plan.order) <= set(other.order) and other.worth > plan.worth + 1e-9:
                    plan, better = other, True
                    break
            if better:
                break
    return plan


def _route(s: Survey, pool: Sequence[Prospect], c: NightPool, plan: VisitOrder) -> Route:
    first = s.light.instants[0]
    visits = []
    ended, before = c.begins, -1
    for i, minutes, turn in zip(plan.order, plan.starts, plan.pushes, strict=True):
        k = min(int(minutes / STEP_MINUTES + 0.5), c.worth.shape[1] - 1)
        p = pool[i]
        visits.append(
            Visit(
                prospect=p,
                start=first.plus_seconds(60.0 * minutes),
                minutes=p.minutes,
                az_deg=float(c.az[i, k]),
                alt_deg=float(c.alt[i, k]),
                push_deg=turn,
                note=_note(
                    s,
                    p,
                    minutes - ended,
                    pool[before] if before >= 0 and c.rest[before, i] > 0.0 else None,
                    k,
                ),
            )
        )
        ended, before = minutes + p.minutes, i
    taken = set(plan.order)
    left = tuple(
        (p, _why_left_out(c, i)) for i, p in enumerate(pool) if i not in taken
    )  # fmt: skip
    return Route(tuple(visits), left, plan.worth, float(sum(plan.pushes)))


def _note(
    s: Survey, p: Prospect, gap: float, dazzled: Prospect | None, step: int
) -> VisitNote | None:
    """What the observer should know about this visit, or nothing."""
    chance = float(s.chance(s.index_of(p.target.key))[step])
    hitch: Hitch | None = None
    if dazzled is not None:
        hitch = Hitch.DAZZLED if dazzled.target.key == "Moon" else Hitch.BRIGHT_BEFORE
    elif chance < NEAR_BEST * p.chance:
        hitch = Hitch.NOT_AT_ITS_BEST
    elif gap > _LONG_GAP_MINUTES:
        dark = np.degrees(s.light.sun_alt[step]) < -15.0
        hitch = Hitch.WAIT_FOR_HEIGHT if dark else Hitch.WAIT_FOR_DARKNESS
    elif p.sets is not None:
        left = p.sets.minus(s.light.instants[step]) / 60.0 - p.minutes
        if left < _SOON_DOWN_MINUTES:
            hitch = Hitch.GOES_DOWN
    return None if hitch is None else VisitNote(hitch, chance, gap)


def _why_left_out(c: NightPool, i: int) -> LeftOut:
    begin = int(c.begins / STEP_MINUTES)
    end = int(np.ceil(c.ends / STEP_MINUTES)) + 1
    best = int(np.argmax(c.worth[i]))
    if c.worth[i, begin:end].max(initial=0.0) >= NEAR_BEST * c.worth[i, best]:
        return LeftOut.NO_TIME
    return LeftOut.BETTER_LATER if best >= end else LeftOut.PAST_ITS_BEST
