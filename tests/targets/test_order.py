"""The evening's order: as good as the best of all orders in small sets, and steady when late."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from plumbstar.targets import order, say
from plumbstar.targets.exchange import DEGREES_A_SECOND, follow
from plumbstar.targets.longer import longer
from plumbstar.targets.model import LeftOut, Prospect
from plumbstar.targets.pool import DAZZLED_MINUTES, night_pool
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import Survey
from plumbstar.targets.wishes import Wishes, name_of

HOUR = 3600.0


@pytest.fixture(scope="module")
def wanted(dark_night: Survey) -> list[Prospect]:
    return Wishes().choose(prospects(dark_night))


@pytest.mark.parametrize("seed", range(6))
def test_small_sets_against_every_order(dark_night: Survey, seed: int) -> None:
    """All 720 orders of six objects, in a time too short for them: the planner's is within 1 %.

    design/evening_order.py does it for sets of seven.
    """
    rng = np.random.default_rng(seed)
    found = prospects(dark_night)[:300]
    pool = [found[i] for i in rng.choice(len(found), 6, replace=False)]
    begin = dark_night.light.instants[0].plus_seconds(60.0 * float(rng.uniform(0, 300)))
    end = begin.plus_seconds(60.0 * sum(p.minutes + 2.5 for p in pool) * 0.65)
    c = night_pool(dark_night, pool, begin, end)
    every = [follow(c, o).worth for o in itertools.permutations(range(6))]
    assert order.solve(c).worth >= max(every) * 0.99 - 1e-9
    assert max(every) > min(every)  # the order matters


def test_times_places_and_pushes_agree(dark_night: Survey, wanted: list[Prospect]) -> None:
    start = dark_night.light.instants[12]
    end = start.plus_seconds(4 * HOUR)
    route = order.plan(dark_night, wanted, start, end)
    assert len(route.visits) > 12
    names = [name_of(v.prospect.target) for v in route.visits]
    assert len(set(names)) == len(names)
    before = None
    for v in route.visits:
        assert start <= v.start
        assert v.start.plus_seconds(60.0 * v.minutes).minus(end) <= 1e-3
        i = dark_night.index_of(v.prospect.target.key)
        k = dark_night.light.index(v.start)
        assert dark_night.chance(i)[k] > 0.0
        assert v.alt_deg == pytest.approx(dark_night.alt_deg[k, i], abs=1.5)
        if before is not None:
            gap = v.start.minus(before.start) / 60.0 - before.minutes
            least = (dark_night.kit.push_seconds + v.push_deg / DEGREES_A_SECOND) / 60.0
            assert gap >= least
        before = v
    assert route.push_deg == pytest.approx(sum(v.push_deg for v in route.visits))


def test_what_sets_comes_first(dark_night: Survey, wanted: list[Prospect]) -> None:
    """M 15 goes behind the skyline at 17:57: it is among the first, or left out, never late."""
    start = dark_night.light.instants[7]
    route = order.plan(dark_night, wanted, start, start.plus_seconds(5 * HOUR))
    for v in route.visits:
        if v.prospect.sets is not None:
            assert v.start < v.prospect.sets
    where = [v.prospect.target.label for v in route.visits].index("M 15")
    assert where <= 3


def test_a_late_observer_keeps_the_list(dark_night: Survey, wanted: list[Prospect]) -> None:
    """An hour late, the new order is the old one's, less what was looked at or found no time."""
    start = dark_night.light.instants[12]
    end = start.plus_seconds(4 * HOUR)
    old = order.plan(dark_night, wanted, start, end)
    done = {name_of(v.prospect.target) for v in old.visits[:3]}
    now = start.plus_seconds(1.5 * HOUR)
    new = order.plan(dark_night, wanted, now, end, done=done, previous=old)
    assert not done & {name_of(v.prospect.target) for v in new.visits}
    assert all(v.start.minus(now) >= 0.0 for v in new.visits)
    was = [name_of(v.prospect.target) for v in old.visits]
    now_names = [name_of(v.prospect.target) for v in new.visits]
    kept = [was.index(n) for n in now_names if n in was]
    # Nine tenths of what is left of the old order stand in the old order.
    longest = _longest_rising(kept)
    assert longest >= 0.9 * len(kept)
    assert len(kept) >= 0.8 * len(now_names)


def _longest_rising(x: list[int]) -> int:
    best = [1] * len(x)
    for i in range(len(x)):
        best[i] = 1 + max((best[j] for j in range(i) if x[j] < x[i]), default=0)
    return max(best, default=0)


def test_nothing_has_changed_so_nothing_changes(dark_night: Survey, wanted: list[Prospect]) -> None:
    start = dark_night.light.instants[12]
    end = start.plus_seconds(3 * HOUR)
    once = order.plan(dark_night, wanted, start, end)
    again = order.plan(dark_night, wanted, start, end, previous=once)
    assert [v.prospect.target.key for v in again.visits] == [
        v.prospect.target.key for v in once.visits
    ]
    assert once == order.plan(dark_night, wanted, start, end)


def test_pushes_are_short(dark_night: Survey, wanted: list[Prospect]) -> None:
    """Half as much push as the same visits by reward alone would take, or less."""
    start = dark_night.light.instants[12]
    route = order.plan(dark_night, wanted, start, start.plus_seconds(3 * HOUR))
    by_reward = sorted(
        range(len(route.visits)),
        key=lambda i: -route.visits[i].prospect.interest,
    )
    places = [(route.visits[i].az_deg, route.visits[i].alt_deg) for i in by_reward]
    naive = sum(order.push_deg(*a, *b) for a, b in itertools.pairwise(places))
    assert route.push_deg < 0.7 * naive


def test_after_the_moon_the_eye_rests(dark_night: Survey) -> None:
    found = prospects(dark_night)
    moon = next(p for p in found if p.target.key == "Moon")
    dim = next(p for p in found if p.difficulty == "hard" and p.first <= moon.best <= p.last)
    start = dark_night.light.instants[dark_night.light.index(moon.best) - 12]
    c = night_pool(dark_night, [moon, dim], start, start.plus_seconds(HOUR))
    both = follow(c, [0, 1])
    if len(both.order) == 2:
        assert both.starts[1] - both.starts[0] - c.minutes[0] >= DAZZLED_MINUTES
    assert c.rest[1, 0] == 0.0
    assert c.rest[0, 1] == DAZZLED_MINUTES


def test_no_time_no_visits(dark_night: Survey, wanted: list[Prospect]) -> None:
    start = dark_night.light.instants[12]
    assert order.plan(dark_night, wanted, start, start.plus_seconds(60.0)).visits == ()
    assert order.plan(dark_night, [], start, start.plus_seconds(HOUR)).visits == ()


def test_left_out_says_why(dark_night: Survey, wanted: list[Prospect]) -> None:
    start = dark_night.light.instants[12]
    route = order.plan(dark_night, wanted, start, start.plus_seconds(HOUR))
    assert route.left_out
    assert all(isinstance(why, LeftOut) for _, why in route.left_out)
    assert LeftOut.NO_TIME in {why for _, why in route.left_out}


def test_what_ten_minutes_more_cost(dark_night: Survey, wanted: list[Prospect]) -> None:
    """What is lost is in the order now and in none later; the rest stands; an hour costs more."""
    start = dark_night.light.instants[12]
    end = start.plus_seconds(3 * HOUR)
    route = order.plan(dark_night, wanted, start, end)
    names = [name_of(v.prospect.target) for v in route.visits]
    lost = []
    for minutes in (1e-6, 10.0, 60.0, 170.0):
        what = longer(dark_night, wanted, route, start, end, minutes)
        gone = {name_of(v.prospect.target) for v in what.lost}
        assert gone <= set(names)
        assert len(gone) + what.left == len(names)
        # As the order itself has it for one who is so late.
        late = start.plus_seconds(60.0 * minutes)
        then = order.plan(
            dark_night, wanted, late, end, previous=route, effort=order.Effort(120, 1, 0)
        )
        kept = [name_of(v.prospect.target) for v in then.visits]
        assert not gone & set(kept)
        assert set(names) - gone == set(names) & set(kept)
        lost.append(len(gone))
        said = say.longer(what, end, "UTC")
        assert all(v.prospect.target.label in said for v in what.lost)
    assert lost[0] == 0
    assert 0 < lost[1] < lost[2] < lost[3] <= len(names)
    over = longer(dark_night, wanted, route, start, end, 200.0)
    assert len(over.lost) == len(names)
    assert over.left == 0


def test_nothing_planned_and_nothing_lost_are_said(dark_night: Survey) -> None:
    start = dark_night.light.instants[12]
    end = start.plus_seconds(HOUR)
    route = order.plan(dark_night, [], start, end)
    said = say.longer(longer(dark_night, [], route, start, end, 10.0), end, "UTC")
    assert said.startswith("Nothing more is planned until ")
