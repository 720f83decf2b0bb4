"""Two slips, of which only the first is known: is what is stated then kept?

python design/two_slips.py [evenings of each kind] [first seed]
python design/two_slips.py --knocks [evenings] [first seed]    how much hangs on KNOCKED_TOO, _BY

Two or three stars; a board that starts again, as is known; two to four stars more, and an unseen
slip of one circle among them. The stop is as the kit expects, or four to seven of its sigmas off.
After each star from the third since on pushes are judged: how many are stated over 80 %, with
nothing asked ("did something move?", contradicting sightings), and how many of these miss, beside
what the stated chances allow. The mount is the turned bodies of tools/nights, none of the program's
kinematics. Results in docs/faults.md.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.solve import epochs
from plumbstar.solve.epochs import solve_parts
from plumbstar.solve.fix import Fix
from plumbstar.solve.since import NEXT_PUSH

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tools"))
from nights.mount import Mount, apart_deg, direction

PRIORS, NOISE = Priors.from_kit(Kit()), Noise.from_kit(Kit())
FIELD_DEG = 1.2
#: (name, the stop is far off, an unseen slip, a base knocked with the known one)
KINDS = (
    ("stop 4 to 7 sigmas off, a second slip", True, True, False),
    ("stop 4 to 7 sigmas off, no other", True, False, False),
    ("stop as expected, a second slip", False, True, False),
    ("stop as expected, no other", False, False, False),
    ("stop as expected, base knocked with it", False, False, True),
)


def place(rng: np.random.Generator) -> tuple[float, float]:
    return float(rng.uniform(0, 360)), math.degrees(math.asin(rng.uniform(0.3, 0.95)))


def judged(
    fix: Fix, mount: Mount, lost: np.ndarray, rng: np.random.Generator
) -> list[tuple[float, bool]]:
    """(stated, missed) of eight pushes."""
    out = []
    for _ in range(8):
        az, alt = place(rng)
        here = fix.sightings[-1].az_reading_deg
        stated = float(fix.hit_chance(az, alt, FIELD_DEG)) * NEXT_PUSH
        circles = fix.reading_for(az, alt, here) - lost
        axles = circles.copy()
        for _ in range(6):
            axles += circles - np.array(mount.circles(*axles))
        away = apart_deg(mount.tube(*axles), direction(az, alt))
        out.append((stated, away > FIELD_DEG / 2))
    return out


def evening(seed: int, far: bool, second: bool, knocked: bool) -> list[tuple[float, bool, bool]]:
    """(stated, missed, asked) of each push."""
    rng = np.random.default_rng([4119, seed])
    mount = Mount(rng)
    if far:
        mount.stop_deg = rng.choice([-1, 1]) * rng.uniform(4.0, 7.0)
    before, since = int(rng.integers(2, 4)), int(rng.integers(3, 6))
    known = np.array([rng.uniform(-180, 180), rng.uniform(-60, 60)])
    slips_at = before + int(rng.integers(1, since))
    axis, sign = int(rng.random() < 0.4), rng.choice([-1, 1])
    size = sign * math.exp(rng.uniform(math.log(0.7), math.log(6.0)))
    lost, rows, out = np.zeros(2), list[Sighting](), []
    for k in range(before + since):
        if k == before:
            lost = lost + known
            if knocked:
                mount.knock(0.0, rng.normal(0, 0.8, 2))
        if second and k == slips_at:
            lost = lost + size * np.eye(2)[axis]
        az, alt = place(rng)
        right, up = rng.normal(0, 0.1, 2)
        where = direction(az + right / math.cos(math.radians(alt)), alt + up)
        read = np.array(mount.circles(*mount.axles_at(where, 180.0))) + lost
        rows.append(Sighting(f"star {k}", az, alt, float(read[0]) % 360.0, float(read[1])))
        if k < before + 2 or (second and k < slips_at):
            continue
        fix = solve_parts(rows, PRIORS, NOISE, [(before, ("azimuth", "altitude"))])[-1].fix
        asked = fix.contradictory or fix.moved is not None
        out += [(p, missed, asked) for p, missed in judged(fix, mount, lost, rng)]
    return out


def table(kinds: Iterable[tuple[str, bool, bool, bool]], first: int, count: int) -> None:
    print(
        f"{'':42} {'pushes':>7} {'>80 %':>6} {'missed':>7} {'expected':>8} "
        f"{'mean stated':>11} {'landed':>6}"
    )
    for name, *how in kinds:
        rows = [r for s in range(first, first + count) for r in evening(s, *how)]
        sure = [r for r in rows if not r[2] and r[0] > 0.8]
        print(
            f"{name:42} {len(rows):7} {len(sure):6} {sum(r[1] for r in sure):7} "
            f"{sum(1 - r[0] for r in sure):8.1f} {np.mean([r[0] for r in rows]):11.3f} "
            f"{np.mean([not r[1] for r in rows]):6.3f}",
            flush=True,
        )


def main() -> None:
    asked = [a for a in sys.argv[1:] if a != "--knocks"]
    count = int(asked[0]) if asked else 60
    first = int(asked[1]) if len(asked) > 1 else 0
    if "--knocks" not in sys.argv:
        table(KINDS, first, count)
        return
    for often, deg in ((0.05, 0.6), (0.02, 0.6), (0.15, 0.6), (0.05, 0.3), (0.05, 1.2)):
        epochs.KNOCKED_TOO, epochs.KNOCKED_BY = often, math.radians(deg)
        print(f"knocked too {often:.0%}, by {deg} deg")
        table(KINDS[3:], first, count)


if __name__ == "__main__":
    main()
