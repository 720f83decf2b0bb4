"""Does a fix of many sightings, whose stories are explored, say what solving them all says?

    python design/many_sightings.py [--sightings 32] [--evenings 12] [--seed 20271215]

Evenings of sightings with nothing wrong, or with slips of 0.3 to 40 degrees and wrong readings of
0.5 to 60 degrees, one or two of them. Each is solved twice: as the program does beyond
``weighing.FEW`` sightings, and with every story solved. Told are how far apart the shares of the
stories are (total variation), the chances of forty pushes in fields of 0.25, 0.76 and 2 degrees,
and the reading for one place; and the processor time of both. docs/performance.md has the results.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import math
import time
from dataclasses import replace

import numpy as np

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve import weighing
from plumbstar.solve.fix import Fix, solve

PRIOR, NOISE = Priors.from_kit(Kit()), Noise()
#: What goes wrong: "z" the azimuth circle slips, "h" the altitude circle, "w" a wrong azimuth,
#: "v" a wrong altitude reading.
WRONG = ("", "z", "h", "w", "zz", "zh", "zw", "hv", "wv")


def evening(seed: int, number: int, n: int, wrong: str) -> list[Sighting]:
    rng = np.random.default_rng([seed, number, n])
    mount = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
    rows = mount.sight_all(zip(rng.uniform(0, 360, n), rng.uniform(15, 80, n), strict=True))

    def size(low: float, high: float) -> float:
        return float(math.exp(rng.uniform(math.log(low), math.log(high))) * rng.choice([-1, 1]))

    def add(i: int, az: float, alt: float) -> None:
        s = rows[i]
        rows[i] = replace(
            s, az_reading_deg=(s.az_reading_deg + az) % 360, alt_reading_deg=s.alt_reading_deg + alt
        )

    for what in wrong:
        by = size(*{"z": (0.3, 40.0), "h": (0.3, 8.0), "w": (0.5, 60.0), "v": (0.5, 10.0)}[what])
        az, alt = (by, 0.0) if what in "zw" else (0.0, by)
        if what in "zh":
            for i in range(int(rng.integers(1, n)), n):
                add(i, az, alt)
        else:
            add(int(rng.integers(n)), az, alt)
    return rows


def solved(rows: list[Sighting], few: int) -> tuple[Fix, float]:
    """The fix, with all stories solved up to ``few`` sightings; and its processor time."""
    was, weighing.FEW = weighing.FEW, few
    try:
        began = time.process_time()
        return solve(rows, PRIOR, NOISE), time.process_time() - began
    finally:
        weighing.FEW = was


def apart(one: Fix, other: Fix) -> tuple[float, float, float]:
    """Total variation of the shares, the largest difference of a chance, and of a reading
    (arcsec)."""
    shares = [{replace(w.story, log_prior=0.0): w.share for w in f.stories} for f in (one, other)]
    stories = {*shares[0], *shares[1]}
    variation = sum(abs(shares[0].get(s, 0.0) - shares[1].get(s, 0.0)) for s in stories) / 2
    rng = np.random.default_rng(5)
    az, alt = rng.uniform(0, 360, 40), rng.uniform(20, 80, 40)
    chance = max(
        float(np.abs(one.hit_chance(az, alt, w) - other.hit_chance(az, alt, w)).max())
        for w in (0.25, 0.76, 2.0)
    )
    reading = float(np.abs(one.reading_for(30, 40) - other.reading_for(30, 40)).max())
    return variation, chance, 3600 * reading


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sightings", type=int, default=32)
    parser.add_argument("--evenings", type=int, default=12, help="of each kind")
    parser.add_argument("--seed", type=int, default=20271215)
    a = parser.parse_args()
    print("wrong  evenings  worst: shares  chance  arcsec   seconds explored, all solved")
    for wrong in WRONG:
        told, cost = [], np.zeros(2)
        for i in range(a.evenings):
            rows = evening(a.seed, i, a.sightings, wrong)
            (mine, t1), (every, t2) = solved(rows, weighing.FEW), solved(rows, 10**9)
            told.append(apart(mine, every))
            cost += t1, t2
        v, c, r = np.max(told, axis=0)
        cost /= a.evenings
        print(
            f"{wrong or '-':5}  {a.evenings:8}  {v:13.4f}  {c:6.4f}  {r:6.2f}   "
            f"{cost[0]:.2f}, {cost[1]:.2f}"
        )


if __name__ == "__main__":
    main()
