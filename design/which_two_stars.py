"""Which two stars? Separation alone is a poor guide; geometry decides.

Hidden mounts are drawn, two or three stars sighted with a hand that centres to 0.1 deg, and the fix
is made twice: the classic way (azimuth zero and lean only, the stop believed and the mount perfect)
and with the stop, squareness and cone solved under their priors. Then targets 20 to 85 deg up are
pushed to. Printed: the share that falls within half a degree.

    python design/which_two_stars.py [mounts, default 300]

Conclusion: with the stop trusted no choice of stars helps much (a quarter to two fifths are in the
field). Solving for the stop turns two stars 90 to 180 deg apart in azimuth into 9 hits in 10, while
two 45 deg apart at one azimuth stay poor. So the fix solves the stop always, and `choose` ranks
sets by the chance they give, not by their separation.
"""

from __future__ import annotations

import sys

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import UNKNOWN, Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS, SET_DOWN
from plumbstar.simulate.mounts import centred, draw_terms
from plumbstar.solve.fix import solve

FIELD_RADIUS = np.radians(0.5)
TARGETS = 40


def priors(lean_deg: float) -> Priors:
    """Stop 1, squareness 0.2, cone 0.3 degrees, and the lean given (1 sigma)."""
    sigma = np.zeros(N_TERMS)
    sigma[INDEX["azimuth_zero"]] = UNKNOWN
    for name, deg in (
        ("altitude_zero", 1.0), ("lean_north", lean_deg), ("lean_west", lean_deg),
        ("squareness", 0.2), ("cone", 0.3),
    ):  # fmt: skip
        sigma[INDEX[name]] = np.radians(deg)
    return Priors(np.zeros(N_TERMS), sigma)


def stars(kind: str, rng: np.random.Generator) -> np.ndarray:
    """Azimuths and altitudes (n, 2), degrees, of one random set of the kind."""
    while True:
        az, alt = rng.uniform(0, 360, 3), rng.uniform(20, 70, 3)
        if kind == "10 deg apart":
            # A random neighbour, 10 degrees away in a random direction.
            turn = rng.uniform(0, 2 * np.pi)
            alt[1] = alt[0] + 10 * np.sin(turn)
            az[1] = az[0] + 10 * np.cos(turn) / np.cos(np.radians((alt[0] + alt[1]) / 2))
        elif kind == "45 deg apart, same azimuth":
            az[1], alt[0], alt[1] = az[0], (low := rng.uniform(20, 35)), low + 45
        elif kind == "90 deg of azimuth apart":
            az[1] = az[0] + 90
        elif kind == "opposite azimuths":
            az[1] = az[0] + 180
        places = np.stack([az, alt], axis=1)[: 3 if "three" in kind else 2]
        if "random" in kind:
            u = kinematics.unit(*np.radians(places).T)
            if np.max(np.triu(u @ u.T, 1)) > np.cos(np.radians(35)):
                continue
        return places


def share_in_field(kind: str, mounts: int, rng: np.random.Generator) -> tuple[float, float]:
    """Share of targets in the field: stop trusted, stop solved."""
    truths, noise = priors(1.0), Noise(np.radians(0.1))
    prior = priors(2.0)  # the default belief about the lean is wider than these mounts need
    classic = Priors(np.zeros(N_TERMS), prior.sigma).only(SET_DOWN).flat()
    hits = np.zeros(2)
    for _ in range(mounts):
        truth = draw_terms(truths, rng)
        places = stars(kind, rng)
        true = np.radians(places)
        seen = centred(true, rng.normal(0, noise.centring, (len(true), 2)))
        readings = np.degrees(kinematics.reading_of(seen, truth))
        sightings = [
            Sighting(f"star {i}", *place, *reading)
            for i, (place, reading) in enumerate(zip(places, readings, strict=True))
        ]
        az = rng.uniform(0, 2 * np.pi, TARGETS)
        alt = np.arcsin(rng.uniform(np.sin(np.radians(20)), np.sin(np.radians(85)), TARGETS))
        target = kinematics.unit(az, alt)
        for k, belief in enumerate((classic, prior)):
            fix = solve(sightings, belief, noise, find_bad=False)
            landed = kinematics.direction(kinematics.reading_of(target, fix.mean), truth)
            hits[k] += np.mean(np.linalg.norm(landed - target, axis=1) < FIELD_RADIUS)
    return hits[0] / mounts, hits[1] / mounts


KINDS = (
    "10 deg apart", "45 deg apart, same azimuth", "random, over 35 deg apart",
    "90 deg of azimuth apart", "opposite azimuths", "three random stars",
)  # fmt: skip


def table(mounts: int, seed: int = 1) -> dict[str, tuple[float, float]]:
    """The whole table."""
    rng = np.random.default_rng(seed)
    return {kind: share_in_field(kind, mounts, rng) for kind in KINDS}


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"{'stars':<30}{'stop trusted':>14}{'stop solved':>14}   ({count} mounts)")
    for kind, (trusted, solved) in table(count).items():
        print(f"{kind:<30}{trusted:>13.0%} {solved:>13.0%}")
