"""What a fix of three named stars promises and keeps when names are wrong, and what is said of it.

    python design/misnamed.py [evenings]

Sites, moments, mounts and hands as in design/nameless_stars.py, which shares no arithmetic with the
program; three stars, the brighter the likelier, each called by a name. Kinds of evening: "honest";
"one astray", 2 to 8 degrees off, "one wrong", "two wrong": of a star called by another's name, the
other being any to magnitude 3.0 that is 2 to 20 degrees from it, all alike; "a slip": the azimuth
circle jumps by 2 to 25 degrees before the last star.

"Said" is the mean chance that targets over 20 degrees up land in a field of 0.8 degrees, "kept" how
many do, with the hand as it is; before, and with wrong names thought of (nameless/contradicted.py).
"Sure": evenings that promise over 80 in 100, and of these kept. "Named": names that were said to be
another's, how many of them rightly, and the same of those said at over 90 in 100. "Time": processor
time of the fix with it, as a multiple of that before.

Conclusion: see docs/method.md, "Nameless stars".
"""

from __future__ import annotations

import math
import sys
import time

import numpy as np
from nameless_stars import CENTRING, Mount, evening

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.nameless.contradicted import reconsidered
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.site import Site
from plumbstar.solve.fix import Fix, sky_grid, solve
from plumbstar.units import Array

KINDS = ("honest", "one astray", "one wrong", "two wrong", "a slip")
FIELD_DEG = 0.8


def unit(az: float, alt: float) -> Array:
    """East, north, up."""
    return np.array([math.cos(alt) * math.sin(az), math.cos(alt) * math.cos(az), math.sin(alt)])


def landed(fix: Fix, mount: Mount, slip: float, rng: np.random.Generator) -> float:
    """The share of targets all over the sky that lie in the field when pushed to."""
    hits = 0
    places = np.column_stack(sky_grid(count=40))
    for az, alt in places:
        read = np.radians(fix.reading_for(math.degrees(az), math.degrees(alt)))
        at = mount.looks(float(read[0]) - slip, float(read[1]))
        at = at + rng.standard_normal(3) * math.radians(CENTRING / 60)
        off = math.acos(min(float(at @ unit(az, alt) / np.linalg.norm(at)), 1.0))
        hits += math.degrees(off) < FIELD_DEG / 2
    return hits / len(places)


def named(
    rng: np.random.Generator, kind: str, stars: int = 3
) -> tuple[list[Sighting], Site, dict[int, str], Mount, float] | None:
    """The sightings as they were called, where, what the wrongly called ones were, the mount and
    by how much the circle read more at last, radians."""
    made = evening(rng, "bright", stars)
    if made is None:
        return None
    names, sky = made.names, made.sky
    moments = [s.utc for s in made.seen]
    mount, slip = Mount(rng), 0.0
    hand = math.radians(CENTRING / 60)
    wrong = rng.permutation(stars)[: {"one wrong": 1, "two wrong": 2}.get(kind, 0)]
    astray = int(rng.integers(stars)) if kind == "one astray" else -1
    rows, truth, last = [], {}, math.pi
    for k, name in enumerate(names):
        i = sky.names.index(name)
        az, alt = sky.places[k, i]
        d = unit(az, alt)
        if k == stars - 1 and kind == "a slip":
            slip = math.radians(float(rng.choice([-1, 1]) * rng.uniform(2, 25)))
        off = rng.standard_normal(3) * hand
        if k == astray:
            way = np.cross(d, rng.standard_normal(3))
            off = way / np.linalg.norm(way) * math.radians(float(rng.uniform(2, 8)))
        d = (d + off) / np.linalg.norm(d + off)
        last, lift = mount.reads(d, last)
        called = i
        if k in wrong:
            apart = np.degrees(separation_rad(az, alt, sky.places[k, :, 0], sky.places[k, :, 1]))
            near = np.flatnonzero((apart > 2) & (apart < 20) & (sky.v < 3.0) & sky.up[k])
            if not len(near):
                return None
            called, truth[k] = int(rng.choice(near)), name
        a, h = np.degrees(sky.places[k, called])
        reading = math.degrees(last + slip), math.degrees(lift)
        rows.append(Sighting(sky.names[called], float(a) % 360, float(h), *reading, moments[k]))
    return rows, made.site, truth, mount, slip


def main() -> None:
    evenings = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    kit = Kit()
    prior, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    print(f"{evenings} evenings a kind; per cent")
    print(f"{'kind':<12}{'said':>6}{'kept':>6}{'sure':>6}{'kept':>6}  then{'said':>6}{'kept':>6}"
          f"{'sure':>6}{'kept':>6}{'named':>7}{'right':>6}{'> 90':>6}{'right':>6}"
          f"{'time':>6}")  # fmt: skip
    for kind in KINDS:
        rng = np.random.default_rng(11)
        told: list[list[float]] = []
        names: list[tuple[float, bool]] = []
        took = np.zeros(2)
        while len(told) < evenings:
            made = named(rng, kind)
            if made is None:
                continue
            rows, site, truth, mount, slip = made
            begun = time.process_time()
            fix = solve(rows, prior, noise)
            between = time.process_time()
            again = reconsidered(fix, site)
            took += between - begun, time.process_time() - begun
            line = []
            for one in (fix, again.fix):
                line += [
                    0.0 if one.contradictory else one.mean_hit_chance(FIELD_DEG),
                    landed(one, mount, slip, rng),
                ]
            told.append(line)
            names += [(x.probability, truth.get(x.index) == x.row.star) for x in again.it_was]
        t = np.array(told)
        cells = [f"{kind:<12}"]
        for said, kept in ((t[:, 0], t[:, 1]), (t[:, 2], t[:, 3])):
            sure = said > 0.8
            of_sure = f"{100 * kept[sure].mean():.0f}" if sure.any() else "-"
            cells.append(f"{100 * said.mean():>6.0f}{100 * kept.mean():>6.0f}"
                         f"{100 * sure.mean():>6.0f}{of_sure:>6}")  # fmt: skip
        named_rows = []
        for least in (0.0, 0.9):
            ok = [right for p, right in names if p > least]
            share = f"{100 * sum(ok) / len(ok):.0f}" if ok else "-"
            named_rows.append(f"{len(ok):>6}{share:>6}")
        ratio = took[1] / took[0]
        print("  then".join(cells[1:]).join([cells[0], ""]) + " " + "".join(named_rows)
              + f"{ratio:>6.2f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
