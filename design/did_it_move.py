"""When sightings contradict one another, is the page right to ask whether something moved?

python design/did_it_move.py [evenings of each kind]

Hidden mounts of the example kit, 4 to 10 sightings spread over the sky, and one thing wrong. Of the
evenings in which no single sighting is to blame: how often the question comes, and whether it names
the gap and what moved. Where nothing moved it should not come at all. Results in docs/method.md.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from dataclasses import replace

import numpy as np

from plumbstar import kit as kits
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.fix import NONSENSE, solve

KIT = kits.example()
PRIOR, NOISE = Priors.from_kit(KIT), Noise.from_kit(KIT)
#: What went wrong: what should be named, None where nothing moved.
KINDS: dict[str, tuple[str, ...] | None] = {
    "azimuth slips, 1 to 60 deg": ("azimuth",),
    "altitude slips, 1 to 20 deg": ("altitude",),
    "base knocked: turned to 8 deg, leans 1 deg anew": ("azimuth", "base"),
    "azimuth slips twice": ("azimuth",),
    "azimuth scale wrong, 2 to 15 %": None,
    "one wrong star": None,
    "two wrong stars": None,
    "hand four times as rough as stated": None,
}


def off(s: Sighting, az: float = 0.0, alt: float = 0.0) -> Sighting:
    """The same sighting with other readings."""
    return replace(s, az_reading_deg=s.az_reading_deg + az, alt_reading_deg=s.alt_reading_deg + alt)


def evening(kind: str, rng: np.random.Generator) -> tuple[list[Sighting], int]:
    """The sightings, and the first after the (last) move."""
    n = int(rng.integers(4, 11))
    cut = int(rng.integers(2, n - 1))
    noise = replace(NOISE, centring=4 * NOISE.centring) if "rough" in kind else NOISE
    terms = draw_terms(PRIOR, rng)
    if "scale" in kind:
        terms[INDEX["azimuth_scale"]] = rng.choice([-1, 1]) * rng.uniform(0.02, 0.15)
    hidden = HiddenMount(terms, noise, rng)
    slip = rng.choice([-1, 1]) * math.exp(rng.uniform(0.0, math.log(60.0)))
    seen = []
    for i in range(n):
        if "base" in kind and i == cut:
            hidden.terms = hidden.terms.copy()
            hidden.terms[INDEX["azimuth_zero"]] += math.radians(rng.uniform(-8, 8))
            for name in ("lean_north", "lean_west"):
                hidden.terms[INDEX[name]] += math.radians(rng.normal())
        alt = math.degrees(math.asin(rng.uniform(0.34, 0.96)))
        s = hidden.sight(f"star {i + 1}", rng.uniform(0, 360), alt)
        if "azimuth slips" in kind and i >= cut:
            s = off(s, az=slip)
        if "twice" in kind and i >= cut // 2:
            s = off(s, az=15.0)
        if "altitude" in kind and i >= cut:
            s = off(s, alt=math.copysign(min(abs(slip), 20.0), slip))
        seen.append(s)
    if "wrong star" in kind:
        for i in rng.choice(n, 2 if "two" in kind else 1, replace=False):
            seen[i] = off(seen[i], *(rng.uniform(2, 10) * rng.standard_normal(2)))
    return seen, cut


def judge(kind: str, evenings: int, seed: int) -> Counter[str]:
    """Counts of what came of it."""
    rng = np.random.default_rng(seed)
    out: Counter[str] = Counter()
    for _ in range(evenings):
        seen, cut = evening(kind, rng)
        if solve(seen, PRIOR, NOISE, find_bad=False).misfit_probability >= NONSENSE:
            continue
        out["contradictory"] += 1
        moved = solve(seen, PRIOR, NOISE).moved
        if moved is not None:
            out["asked"] += 1
            out["gap right"] += moved.first == cut
            out["both right"] += moved.first == cut and moved.axes == KINDS[kind]
    return out


def main() -> None:
    """The table."""
    evenings = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"{evenings} evenings of each kind; of those that contradict, per cent:")
    for seed, kind in enumerate(KINDS):
        c = judge(kind, evenings, seed)
        share = {k: 100 * c[k] / max(1, c["contradictory"]) for k in c}
        print(
            f"{kind:50s} {c['contradictory']:4d}   asked {share.get('asked', 0):3.0f}   gap right "
            f"{share.get('gap right', 0):3.0f}   and what {share.get('both right', 0):3.0f}"
        )


if __name__ == "__main__":
    main()
