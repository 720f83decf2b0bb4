"""How many sightings are worth it?

Mounts are drawn from the default kit's priors. Each evening offers twelve stars anywhere between
15 and 75 deg up; the first is taken as it comes and every next one is the one that `choose --after`
would name (the largest gain in mean hit chance), or, for comparison, the next at random. After each
sighting targets more than 20 deg up are pushed to, with the three fields of the example kit. Then
with a telescope whose stop, cone, squareness and droop the logbook has learnt to 0.1 deg, and once
more with its base set level to 0.2 deg besides.

    python design/how_many_sightings.py [mounts, default 200]

Conclusion (200 mounts, fields of 1.50, 0.76 and 0.40 deg; sampling error about a point). With the
default priors one sighting finds hardly anything (20, 9, 4 %), two well-chosen ones nearly all in
the widest field (98, 81, 41 %), a third is worth it for a smaller field (91 % in the middle one),
and from the fourth on each buys a few points. Choosing is worth one star: two chosen do what three
at random do. Learnt priors alone do not save the second star, because the base leans anew each time
(29, 14, 6 % with one); they make two do what three did (90 % in the middle field). With the base
set level to 0.2 deg as well, one sighting is enough for the widest field (96, 71, 34 %). The
narrowest field stays near 70 %: a hand that stops to 6 arcmin reaches 86 % there on a perfect fix.
"""

from __future__ import annotations

import sys

import numpy as np

from plumbstar.choose.score import score_next
from plumbstar.kit import example
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.sky.angles import between_rad
from plumbstar.solve.fix import Fix, sky_grid, solve

KIT = example()
FIELDS_DEG = tuple(KIT.true_field_deg(e) for e in KIT.eyepiece)
MOST, TARGETS, STARS = 6, 20, 12


def learnt(prior: Priors, terms: np.ndarray, sigma_deg: float = 0.1) -> Priors:
    """What a logbook of several outings would believe: each lasting term to ``sigma_deg``."""
    names = ("altitude_zero", "cone", "squareness", "droop")
    values = {n: float(terms[INDEX[n]]) for n in names}
    sigma = float(np.radians(sigma_deg))
    return prior.replacing({n: (v, sigma) for n, v in values.items()})


def levelled(prior: Priors, sigma_deg: float = 0.2) -> Priors:
    """A base set level with care: both leans to ``sigma_deg``."""
    sigma = float(np.radians(sigma_deg))
    return prior.replacing(dict.fromkeys(("lean_north", "lean_west"), (0.0, sigma)))


def shares(chosen: bool, is_learnt: bool, is_level: bool, mounts: int, seed: int = 5) -> np.ndarray:
    """Share in the field (MOST, 3): by number of sightings and by field."""
    rng = np.random.default_rng(seed)
    default, noise = Priors.from_kit(KIT), Noise.from_kit(KIT)
    if is_level:
        default = levelled(default)
    steps = (KIT.azimuth.resolution_deg, KIT.altitude.resolution_deg)
    t_az, t_alt = sky_grid(20.0, 200)
    out = np.zeros((MOST, len(FIELDS_DEG)))
    for _ in range(mounts):
        terms = draw_terms(default, rng)
        prior = default
        if is_learnt:
            # The logbook is itself a little wrong: its value is off by its own sigma.
            prior = learnt(default, terms + rng.normal(0, np.radians(0.1), len(terms)))
        hidden = HiddenMount(terms, noise, rng, steps)
        az, alt = rng.uniform(0, 360, STARS), np.degrees(np.arcsin(rng.uniform(0.26, 0.966, STARS)))
        left, rows = list(range(STARS)), []
        fix: Fix | None = None
        for n in range(MOST):
            pick = 0
            if fix is not None and chosen:
                _, after = score_next(
                    fix, np.radians(az[left]), np.radians(alt[left]), t_az, t_alt,
                    np.radians(FIELDS_DEG[1]) / 2,
                )  # fmt: skip
                pick = int(np.argmax(after))
            k = left.pop(pick)
            rows.append(hidden.sight(f"star {k}", float(az[k]), float(alt[k])))
            fix = solve(rows, prior, noise)
            start = float(np.degrees(hidden.reading[0]))
            for t in rng.integers(0, len(t_az), TARGETS):
                place = float(np.degrees(t_az[t])), float(np.degrees(t_alt[t]))
                landed = hidden.push_to(*fix.reading_for(*place, near_az_deg=start))
                u = kinematics.unit(*np.radians(np.array([place, landed])).T)
                off = float(np.degrees(between_rad(u[0], u[1])))
                out[n] += [off < f / 2 for f in FIELDS_DEG]
            hidden.reading[0] = np.radians(start)
    return out / (mounts * TARGETS)


CASES = (
    ("best next star, default priors", True, False, False),
    ("random stars, default priors", False, False, False),
    ("best next star, learnt priors", True, True, False),
    ("best next star, learnt priors, base level to 0.2°", True, True, True),
)

if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for title, chosen, is_learnt, is_level in CASES:
        print(f"{title} ({count} mounts)")
        print("  sightings" + "".join(f"{f:>9.2f}°" for f in FIELDS_DEG))
        for n, row in enumerate(shares(chosen, is_learnt, is_level, count), 1):
            print(f"  {n:>9}" + "".join(f"{x:>10.1%}" for x in row))
