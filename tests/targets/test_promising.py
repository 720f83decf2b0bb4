"""What a change of an order is estimated to bring, against the same followed visit by visit."""

from __future__ import annotations

import numpy as np
import pytest

from plumbstar.targets.exchange import VisitOrder, follow, improve
from plumbstar.targets.order import solve
from plumbstar.targets.pool import NightPool, night_pool
from plumbstar.targets.promising import OrderChange, promising
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import Survey
from plumbstar.targets.wishes import Wishes


@pytest.fixture(scope="module")
def pool(dark_night: Survey) -> NightPool:
    start = dark_night.light.instants[12]
    wanted = Wishes().choose(prospects(dark_night))[:60]
    return night_pool(dark_night, wanted, start, start.plus_seconds(4.0 * 3600.0))


@pytest.fixture(scope="module")
def shuffled(pool: NightPool) -> VisitOrder:
    """A good order with some of its visits somewhere else."""
    order, rng = list(solve(pool).order), np.random.default_rng(4)
    for _ in range(6):
        order.insert(int(rng.integers(len(order))), order.pop(int(rng.integers(len(order)))))
    return follow(pool, order)


def every(pool: NightPool, plan: VisitOrder) -> list[tuple[OrderChange, float]]:
    """All changes, the one that looks best first, with what they really bring."""
    out = []
    for change in promising(pool, plan.order, plan.starts, 10**6):
        first, rest = change.of(plan.order)
        out.append((change, follow(pool, (*plan.order[:first], *rest)).worth - plan.worth))
    return out


def test_what_looks_best_is_what_helps_most(pool: NightPool, shuffled: VisitOrder) -> None:
    real = np.array([gain for _, gain in every(pool, shuffled)])
    assert len(real) > 2000
    assert (real[:20] > 0.0).mean() >= 0.8
    assert real[:20].mean() > np.quantile(real, 0.98)


def test_each_change_keeps_every_visit_but_those_it_names(
    pool: NightPool, shuffled: VisitOrder
) -> None:
    order = shuffled.order
    for change, _ in every(pool, shuffled):
        first, rest = change.of(order)
        new = (*order[:first], *rest)
        assert new != order
        lost, come = set(order) - set(new), set(new) - set(order)
        assert len(new) == len(set(new))
        assert lost == ({order[change.a]} if change.kind == "instead" else set())
        assert come == ({change.b} if change.kind in ("in", "instead") else set())
        low, high = change.reach()
        if change.kind != "in":
            assert new[:low] == order[:low]
            assert new[high:] == order[high:]


def test_where_it_ends_no_change_helps(pool: NightPool, shuffled: VisitOrder) -> None:
    """From a poor order: the search looks at the most promising alone, and misses none."""
    found = improve(pool, shuffled, 6000)
    assert found.worth > 1.02 * shuffled.worth
    assert max(gain for _, gain in every(pool, found)) < 0.01 * found.worth
