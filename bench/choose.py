"""Ranking star sets against brute-force simulation of equal accuracy, in one run.

    python bench/choose.py

Ranks all pairs and all triples among 60 stars over 300 targets, and simulates a few sets (draw a
mount, sight, solve, push, count) until the mean hit chance is known as closely as the score is
right. Goals: pairs under 0.3 s, triples under 3 s, 100 times faster than the simulation.
"""

from __future__ import annotations

import statistics
import time

import numpy as np

from plumbstar.choose.score import score_sets
from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.fix import sky_grid, solve

PRIOR, NOISE, RADIUS = Priors.from_kit(Kit()), Noise(), np.radians(0.5)
SAMPLES, PER_MOUNT = 10_000, 5


def simulate(az: np.ndarray, alt: np.ndarray, rng: np.random.Generator) -> float:
    """Mean hit chance of one set by brute force, 10,000 pushes: good to a point or two."""
    t_az, t_alt = sky_grid()
    hits = 0
    for _ in range(SAMPLES // PER_MOUNT):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        rows = hidden.sight_all(zip(np.degrees(az), np.degrees(alt), strict=True))
        fix = solve(rows, PRIOR, NOISE, find_bad=False)
        pick = rng.integers(0, len(t_az), PER_MOUNT)
        goal = kinematics.unit(t_az[pick], t_alt[pick])
        near = np.radians(rows[-1].az_reading_deg)
        d = kinematics.direction(kinematics.reading_of(goal, fix.mean, near), hidden.terms)
        d = d + rng.normal(0, NOISE.centring, d.shape)
        hits += int(np.sum(np.linalg.norm(d - goal, axis=1) < RADIUS))
    return hits / SAMPLES


def main() -> None:
    rng = np.random.default_rng(0)
    az, alt = rng.uniform(0, 2 * np.pi, 60), np.radians(rng.uniform(20, 75, 60))
    targets = sky_grid()
    seconds, scores = {}, {}
    for size, goal in ((2, 0.3), (3, 3.0)):
        runs = []
        for _ in range(3):
            start = time.perf_counter()
            scores[size] = score_sets(az, alt, size, PRIOR, NOISE, *targets, RADIUS)
            runs.append(time.perf_counter() - start)
        seconds[size] = min(runs)
        n, s = len(scores[size].sets), seconds[size]
        print(f"{n} sets of {size} over {len(targets[0])} targets: {s:.2f} s (goal {goal})")

    gaps, times = [], []
    for row in rng.integers(0, len(scores[2].sets), 4):
        pick = scores[2].sets[row]
        start = time.perf_counter()
        simulated = simulate(az[pick], alt[pick], rng)
        times.append(time.perf_counter() - start)
        gaps.append(abs(simulated - scores[2].mean_hit_chance[row]))
    each = seconds[2] / len(scores[2].sets)
    ratio = statistics.median(times) / each
    print(f"{ratio:.0f} times faster a set than brute force (goal 100); worst gap {max(gaps):.3f}")


if __name__ == "__main__":
    main()
