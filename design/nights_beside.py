"""Several evenings beside one controller: the stop against its stated sigma, and the chances.

    python design/nights_beside.py [runs [sort ...]]

One hidden mount and controller a run (beside_a_controller.py makes them, by geometry of its own):
what lasts of the mount stays, base and lean are set down anew each evening, the way of sharing and
the clock are the controller's. Each evening: two stars of a pair drawn at random, the number, the
look back (then six objects: the chance stated, and whether each was in the field), one find. The
evenings are taken one after the other as `forecast --earlier` does (controller/earlier.py). The
sort "rough" has a hand twice as rough as the kit says, with heavy tails: what earlier evenings
teach of the hand is seen there. In the sort "walks" what lasts changes from evening to evening by
as much as is allowed for (0.15 of the kit's sigmas); in the others it stays to the last figure.

Figures: docs/controller.md, "Earlier evenings".
"""

from __future__ import annotations

import math
import sys

import numpy as np
from controller_pairs import hidden_evenings

from plumbstar.controller.believed import Believed
from plumbstar.controller.earlier import taught_by
from plumbstar.controller.outlook import outlook
from plumbstar.controller.showing import ObjectPlaces
from plumbstar.units import Array

NIGHTS = 6
#: What lasts, by the tool's names: as HiddenMount has it.
LASTS = {"altitude_zero": "stop", "squareness": "square", "cone": "cone", "droop": "droop"}
#: How much of the kit's sigma it changes from one evening to the next in the sort "walks".
WALK = 0.15


def run(rng: np.random.Generator, sort: str) -> Array:
    """(4, 6), after each evening: how many of its sigmas the stop is off what is said, that sigma
    in degrees, the mean chance stated of six objects after the look back, and the share of them in
    the field."""
    play, walks = hidden_evenings(), WALK if sort == "walks" else 0.0
    sort = "as it should" if sort == "walks" else sort
    pairs = [np.array(p) for p in play.PAIRS.values()]
    first = play.Night(pairs[0], rng, play.SORTS[sort])
    kit = first.asked(True).priors
    before = Believed(kit)
    out, walked = np.zeros((4, NIGHTS)), np.zeros(len(LASTS))
    for k in range(NIGHTS):
        lasts = {
            name: getattr(first.mount, own) + walks * play.SIGMAS_DEG[name] * step
            for (name, own), step in zip(LASTS.items(), walked, strict=True)
        }
        walked = walked + rng.standard_normal(len(LASTS))
        north, west = rng.standard_normal(2)
        stop_deg, square, cone, droop = lasts.values()
        mount = play.HiddenMount(stop_deg, north, west, square, cone, droop)
        night = play.Night(
            pairs[rng.integers(len(pairs))], rng, play.SORTS[sort],
            mount=mount, way=first.way, clock=first.clock,
        )  # fmt: skip
        night.look_back()
        targets = play.somewhere(rng, 6)
        at = np.radians(play.place(targets))
        lies = outlook(before.before(night.asked(True))).lies(ObjectPlaces(at, at), play.FIELD_DEG)
        push = np.degrees([it.push for it in lies]).round(1)
        miss = np.array([night.beyond(v) for v in targets]) - push
        miss -= rng.uniform(-0.05, 0.05, (6, 2))
        miss[:, 0] = ((miss[:, 0] + 180.0) % 360.0 - 180.0) * np.cos(at[:, 1])
        hit = np.linalg.norm(miss, axis=1) < play.FIELD_DEG / 2
        night.find(play.somewhere(rng, 1)[0])
        seen = outlook(before.before(night.asked(True)))
        stop, sigma = seen.stop()
        before = taught_by(seen, before, kit)
        out[:, k] = (
            (math.radians(stop_deg) - stop) / sigma, math.degrees(sigma),
            np.mean([it.hit_chance for it in lies]), hit.mean(),
        )  # fmt: skip
    return out


def main(runs: int, sorts: list[str]) -> None:
    for sort in sorts:
        rng = np.random.default_rng(20270201)
        off, sigmas, said, hit = np.moveaxis(np.array([run(rng, sort) for _ in range(runs)]), 1, 0)
        print(
            f"\n{sort}, {runs} runs, per cent: the stop within one and two stated sigmas after an"
        )
        print("evening; after its look back, stated and in the field")
        for k in range(NIGHTS):
            one, two = (100 * float(np.mean(np.abs(off[:, k]) < n)) for n in (1, 2))
            own = math.sqrt(68 * 32 / runs)
            true = 100 * hit[:, k].std() / math.sqrt(runs)
            print(
                f"  {k + 1}: {one:3.0f} ± {own:.0f}, {two:3.0f}; sigma {sigmas[:, k].mean():.2f}°;"
                f" stated {100 * said[:, k].mean():.0f}, in the field {100 * hit[:, k].mean():.0f}"
                f" ± {true:.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 100,
        sys.argv[2:] or ["as it should", "walks", "rough"],
    )
