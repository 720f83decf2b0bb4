"""Does a stated hit chance come true? A large run, decile by decile.

Mounts are drawn from the priors, one to five stars sighted anywhere, and two targets pushed to with
a field drawn from 0.4 to 2.0 degrees, so that chances of every size occur.

    python design/honest_chance.py [mounts, default 20000]

Conclusion, before the fix reckoned with mistakes (30,000 mounts, 60,000 pushes): the worst decile
is 2.2 points off, with a standard error of 1.3; the three highest are within half a point. Since
then what is stated lies 1 to 2 points under, see honest_with_mistakes.py. It also showed that the
chance must be reckoned at the turn of the azimuth that the push ends on: from the middle of the
sightings alone the ninth decile was 2.5 points too sure.
"""

from __future__ import annotations

import sys

import numpy as np

from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.sky.angles import between_rad
from plumbstar.solve.fix import sky_grid, solve


def deciles(mounts: int, seed: int = 5) -> list[tuple[float, int, float, float]]:
    """(lower edge, pushes, mean stated chance, share that hit), ten rows."""
    rng = np.random.default_rng(seed)
    prior, noise = Priors.from_kit(Kit()), Noise()
    grid_az, grid_alt = (np.degrees(g) for g in sky_grid(20.0, 400))
    stated, hit = [], []
    for _ in range(mounts):
        hidden = HiddenMount(draw_terms(prior, rng), noise, rng)
        n = int(rng.integers(1, 6))
        stars = zip(rng.uniform(0, 360, n), rng.uniform(15, 80, n), strict=True)
        fix = solve(hidden.sight_all(stars), prior, noise)
        field, start = rng.uniform(0.4, 2.0), np.degrees(hidden.reading[0])
        for k in rng.integers(0, 400, 2):
            place = (grid_az[k], grid_alt[k])
            stated.append(float(fix.hit_chance(*place, field, start)))
            landed = hidden.push_to(*fix.reading_for(*place, near_az_deg=start))
            u = kinematics.unit(*np.radians(np.array([place, landed])).T)
            hit.append(np.degrees(between_rad(u[0], u[1])) < field / 2)
    p, y = np.array(stated), np.array(hit, dtype=float)
    rows = []
    for low in np.arange(10) / 10:
        inside = (p >= low) & ((p < low + 0.1) | (low > 0.85))
        rows.append((float(low), int(inside.sum()), p[inside].mean(), y[inside].mean()))
    return rows


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    print(f"{'decile':>8}{'pushes':>8}{'stated':>9}{'hit':>9}{'gap':>8}   ({count} mounts)")
    for low, n, said, found in deciles(count):
        print(f"{low:>8.1f}{n:>8}{said:>9.3f}{found:>9.3f}{found - said:>+8.3f}")
