"""How far from the best possible order is the one the planner finds? Every order of small sets.

    python design/evening_order.py [sets]

For each of a number of small sets of objects from one invented evening (the demo's), in a time too
short for all of them, all orders of all of them are followed (those that find no time fall out, so
every subset is among them), and the best compared with the planner's.
"""

from __future__ import annotations

import itertools
import sys

import numpy as np

from plumbstar.simulate import scenario
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.times import Instant
from plumbstar.targets import order, tonight
from plumbstar.targets.exchange import follow
from plumbstar.targets.model import Conditions, Prospect
from plumbstar.targets.pool import night_pool
from plumbstar.targets.prospects import prospects

SIZE = 7


def evening() -> tuple[tonight.Survey, list[Prospect]]:
    s = scenario.thornback_ridge()
    start, end = Instant.parse("2027-01-28T17:00:00Z"), Instant.parse("2027-01-29T05:30:00Z")
    survey = tonight.survey(
        deepsky.load(), doubles.load(), start, end, s.site, s.kit, Conditions(), s.skyline
    )
    return survey, prospects(survey)


def gaps(sets: int, size: int = SIZE, seed: int = 5) -> list[float]:
    """For each set, how much less than the best its planned order is worth, as a part of it."""
    survey, found = evening()
    rng = np.random.default_rng(seed)
    out: list[float] = []
    while len(out) < sets:
        pool = [found[i] for i in rng.choice(min(len(found), 400), size, replace=False)]
        begin = survey.light.instants[0].plus_seconds(60.0 * float(rng.uniform(0, 300)))
        # A time in which about two thirds of them can be seen.
        end = begin.plus_seconds(60.0 * sum(p.minutes + 2.5 for p in pool) * 0.65)
        c = night_pool(survey, pool, begin, end)
        best = max(follow(c, o).worth for o in itertools.permutations(range(size)))
        if best > 0.0:
            out.append(1.0 - order.solve(c).worth / best)
    return out


def main() -> None:
    sets = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    found = np.array(gaps(sets))
    exact = int(np.sum(found < 1e-6))
    print(f"{sets} sets of {SIZE}: the best of {SIZE}! orders found in {exact} of them;")
    print(f"mean gap {found.mean():.2%}, worst {found.max():.2%}.")


if __name__ == "__main__":
    main()
