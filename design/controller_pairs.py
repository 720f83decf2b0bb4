"""Whether `plumbstar controller choose` ranks pairs as playing each of them through would.

    python design/controller_pairs.py [evenings a pair]

For a northern and a southern evening, with the stars of a list that are up: every pair is
played through with hidden mounts and controllers (beside_a_controller.py, which shares no
geometry with the tool), the stars told, the number and the look back read, and the push on made to
objects all over the sky; so the share in a field of 1.0 deg is counted. Beside it what `choose`
states, without its allowance for mistakes, of which none are played.

Conclusion: at the end of what it prints; docs/controller.md has the figures.
"""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from types import ModuleType

import numpy as np

from plumbstar.controller.believed import Believed
from plumbstar.controller.mistakes import SLIPPED, STAR_WRONG
from plumbstar.controller.outlook import outlook
from plumbstar.controller.ranking import over_the_sky, rank
from plumbstar.controller.showing import ObjectPlaces
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.units import Array

#: Latitude, and places (azimuth, altitude, degrees) of a list's stars that are up, as `choose
#: --json` told them for 47.2 N on 2027-01-28, 17:20 UTC, and 31.5 S on 2027-07-09, 16:45 UTC.
EVENINGS: dict[str, tuple[float, dict[str, tuple[float, float]]]] = {
    "north": (47.2, {
        "Capella": (77, 63), "Rigel": (136, 24), "Aldebaran": (131, 51), "Pollux": (78, 28),
        "Deneb": (304, 32), "Polaris": (0, 48), "Hamal": (196, 66), "Mirach": (242, 70),
        "Menkar": (170, 47),
    }),
    "south": (-31.5, {
        "Canopus": (218, 17), "Arcturus": (17, 38), "Hadar": (168, 60), "Acrux": (190, 57),
        "Spica": (6, 70), "Antares": (96, 48), "Regulus": (306, 27), "Denebola": (332, 39),
    }),
}  # fmt: skip
WELL = 1.0 - 2 * STAR_WRONG - SLIPPED


def hidden_evenings() -> ModuleType:
    """The simulator of beside_a_controller.py, which lies beside this file."""
    spec = importlib.util.spec_from_file_location(
        "beside_a_controller", Path(__file__).with_name("beside_a_controller.py")
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def played(play: ModuleType, pair: Array, rng: np.random.Generator, evenings: int) -> float:
    """The share of objects in the field after the number and the look back."""
    hits = []
    for _ in range(evenings):
        night = play.Night(pair, rng, play.SORTS["as it should"])
        night.look_back()
        targets = play.somewhere(rng, 6)
        radians = np.radians(play.place(targets))
        lies = outlook(night.asked(True)).lies(ObjectPlaces(radians, radians), play.FIELD_DEG)
        push = np.degrees([it.push for it in lies]).round(1) + rng.uniform(-0.05, 0.05, (6, 2))
        miss = np.array([night.beyond(v) for v in targets]) - push
        miss[:, 0] = (miss[:, 0] + 180.0) % 360.0 - 180.0
        miss[:, 0] *= np.cos(radians[:, 1])
        hits.append(np.mean(np.linalg.norm(miss, axis=1) < play.FIELD_DEG / 2))
    return float(np.mean(hits))


def stated(play: ModuleType, places_deg: Array) -> dict[tuple[int, int], float]:
    """What `choose` says of each pair, in the order that it advises."""
    sigma = np.zeros(N_TERMS)
    for k, v in play.SIGMAS_DEG.items():
        sigma[INDEX[k]] = math.radians(v)
    ranked = rank(
        np.radians(places_deg), over_the_sky(), Believed(Priors(np.zeros(N_TERMS), sigma)),
        math.radians(play.HAND_DEG), play.FIELD_DEG, math.radians(0.1),
    )  # fmt: skip
    return {(p.first, p.second): p.pushed_on / WELL for p in ranked}


def ranks(x: Array) -> Array:
    out: Array = np.argsort(np.argsort(x)).astype(float)
    return out


def compare(play: ModuleType, name: str, evenings: int, seed: int = 5) -> dict[str, float]:
    """How the two rankings agree, in figures."""
    latitude, stars = EVENINGS[name]
    setattr(play, "LAT_DEG", latitude)  # noqa: B010 - the checker cannot know the module's names
    at = np.array(list(stars.values()), dtype=float)
    said = stated(play, at)
    rng = np.random.default_rng(seed)
    pairs = list(said)
    s = np.array([said[p] for p in pairs])
    # Twice, so that the best by playing can be judged by what did not choose it.
    a, b = (np.array([played(play, at[list(p)], rng, evenings) for p in pairs]) for _ in (0, 1))
    both = (a + b) / 2
    names = list(stars)
    for k in range(len(pairs)):
        two = " and ".join(names[i] for i in pairs[k])
        print(f"  {two:<24} stated {100 * s[k]:5.1f}  played {100 * both[k]:5.1f}", flush=True)
    return {
        "pairs": len(pairs),
        "rank correlation": float(np.corrcoef(ranks(s), ranks(both))[0, 1]),
        "mean stated less played": 100 * float(np.mean(s - both)),
        "root mean square of it": 100 * float(np.sqrt(np.mean((s - both) ** 2))),
        "played: the pair that choose puts first": 100 * float(both[0]),
        "played: the best by playing": 100 * float((b[np.argmax(a)] + a[np.argmax(b)]) / 2),
        "played: all pairs": 100 * float(both.mean()),
    }


def main(evenings: int) -> None:
    play = hidden_evenings()
    for name in EVENINGS:
        print(f"\n{name}, {2 * evenings} evenings a pair, per cent in a field of 1.0°")
        for what, value in compare(play, name, evenings).items():
            print(f" {what}: {value:.2f}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
