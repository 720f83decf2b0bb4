"""How often the stop is within its stated sigma after several evenings beside one controller.

    python design/nights_beside.py [runs]

One hidden mount and controller a run (beside_a_controller.py makes them, by geometry of its own):
what lasts of the mount stays, base and lean are set down anew each evening, the way of sharing and
the clock are the controller's. Each evening: two stars of a pair drawn at random, the number, the
look back, one find. The evenings are taken one after the other as `forecast --earlier` does
(controller/earlier.py).

Figures: docs/controller.md, "Earlier evenings".
"""

from __future__ import annotations

import math
import sys

import numpy as np
from controller_pairs import hidden_evenings

from plumbstar.controller.earlier import after
from plumbstar.controller.outlook import Asked, outlook
from plumbstar.units import Array

NIGHTS = 6


def run(rng: np.random.Generator) -> tuple[Array, Array]:
    """(6,): how many of its sigmas the stop is off what is said, and that sigma in degrees, after
    each evening."""
    play = hidden_evenings()
    pairs = [np.array(p) for p in play.PAIRS.values()]
    first = play.Night(pairs[0], rng, play.SORTS["as it should"])
    seen: list[Asked] = []
    off, sigmas = np.zeros(NIGHTS), np.zeros(NIGHTS)
    for k in range(NIGHTS):
        mount = play.HiddenMount(
            first.mount.stop, rng.standard_normal(), rng.standard_normal(),
            first.mount.square, first.mount.cone, first.mount.droop,
        )  # fmt: skip
        night = play.Night(
            pairs[rng.integers(len(pairs))], rng, play.SORTS["as it should"],
            mount=mount, way=first.way, clock=first.clock,
        )  # fmt: skip
        night.look_back()
        night.find(play.somewhere(rng, 1)[0])
        tonight = night.asked(True)
        stop, sigma = outlook(after(seen, tonight)).stop()
        seen.append(tonight)
        off[k] = (math.radians(first.mount.stop) - stop) / sigma
        sigmas[k] = math.degrees(sigma)
    return off, sigmas


def main(runs: int) -> None:
    rng = np.random.default_rng(20270201)
    told = [run(rng) for _ in range(runs)]
    off, sigmas = (np.array([t[i] for t in told]) for i in (0, 1))
    print(f"{runs} runs; after each evening, within one and within two stated sigmas, per cent:")
    for k in range(NIGHTS):
        one, two = (100 * float(np.mean(np.abs(off[:, k]) < n)) for n in (1, 2))
        own = math.sqrt(68 * 32 / runs)
        print(f"  {k + 1}: {one:3.0f} ± {own:.0f}, {two:3.0f}; sigma {sigmas[:, k].mean():.2f} deg")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
