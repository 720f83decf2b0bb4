"""How much does a wrong prior width cost?

Mounts are drawn from the default kit's priors and solved under priors whose widths (all of them:
stop, lean, squareness, cone, droop, scales) are wrong by one factor. Then targets more than 20 deg
up are pushed to. Printed, for a field of one degree: the share that falls in the field, the mean
hit chance the fix claimed, and the difference (positive: it claimed too much).

    python design/prior_width.py [mounts, default 400]

Conclusion (400 mounts; the same mounts and stars for every width; sampling error about a point).
A prior up to four times too wide costs no hits with two stars and 5 points with three, but the fix
claims 4 to 40 points too little. Half the right width costs no hits either (one point with three),
and claims too much only where the stars are too few to contradict it: 12 points too much with one
star or two at one azimuth. A quarter of the right width loses 10 points of hits with two good stars
and 19 with three. So the width decides the honesty of the figure, seldom the pointing; in doubt
double it, and let the logbook find it.
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

FIELD_DEG = 1.0
FACTORS = (0.25, 0.5, 1.0, 2.0, 4.0)
TARGETS = 20
KINDS = ("one star", "two, one azimuth", "two, a quarter turn apart", "three at random")


def places(kind: str, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Azimuth and altitude, degrees, of the stars to sight."""
    az, alt = rng.uniform(0, 360, 3), rng.uniform(20, 70, 3)
    if kind == "two, one azimuth":
        az[1], alt[:2] = az[0], (25, 65)
    elif kind == "two, a quarter turn apart":
        az[1] = az[0] + 90
    count = {"one": 1, "two": 2, "three": 3}[kind.split(",")[0].split()[0]]
    return [(float(a) % 360, float(h)) for a, h in zip(az[:count], alt[:count], strict=True)]


def scaled(prior: Priors, factor: float) -> Priors:
    """The same beliefs held with another width; an unknown azimuth zero stays unknown."""
    return Priors(prior.mean, prior.sigma * factor)


def cost_of(kind: str, mounts: int, seed: int = 3) -> dict[float, tuple[float, float]]:
    """Factor -> (share in the field, mean claimed hit chance), on the same mounts and stars."""
    rng = np.random.default_rng(seed)
    truth, noise = Priors.from_kit(Kit()), Noise.from_kit(Kit())
    grid_az, grid_alt = np.degrees(sky_grid(20.0, 400))
    sums = {f: np.zeros(2) for f in FACTORS}
    for _ in range(mounts):
        hidden = HiddenMount(draw_terms(truth, rng), noise, rng)
        sightings = hidden.sight_all(places(kind, rng))
        pick = rng.integers(0, len(grid_az), TARGETS)
        start = float(np.degrees(hidden.reading[0]))
        for factor in FACTORS:
            fix = solve(sightings, scaled(truth, factor), noise)
            hits = 0
            for az, alt in zip(grid_az[pick], grid_alt[pick], strict=True):
                landed = hidden.push_to(*fix.reading_for(az, alt, near_az_deg=start))
                u = kinematics.unit(*np.radians(np.array([(az, alt), landed])).T)
                hits += bool(np.degrees(between_rad(u[0], u[1])) < FIELD_DEG / 2)
            claimed = fix.hit_chance(grid_az[pick], grid_alt[pick], FIELD_DEG)
            sums[factor] += hits / TARGETS, float(np.mean(claimed))
    return {f: (float(s[0]) / mounts, float(s[1]) / mounts) for f, s in sums.items()}


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    print(f"{'stars':<27}{'prior width':>12}{'in field':>10}{'claimed':>9}{'over':>8}")
    for kind in KINDS:
        for factor, (hit, claimed) in cost_of(kind, count).items():
            print(f"{kind:<27}{factor:>11g}x{hit:>9.1%}{claimed:>9.1%}{claimed - hit:>+8.1%}")
