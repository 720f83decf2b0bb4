"""Is the chance that `choose` gives before any sighting right, for a hand that walks?

    python design/choose_walking.py [mounts for each set, default 300] [hours, default 8] [seed]

At three sites and in several hours the best pair and triple are chosen, and what common practice
would take. Mounts are drawn from the default kit's priors, the hand goes from star to star in the
order that is said, always the shorter way, and from the last star to each target so. The
geometry is that of walked.py, not the program's; the program solves the mount from the readings as
it would at the telescope. No mistakes are made. Printed: the chance reckoned, what is claimed after
the allowance for mistakes, what the fixes then say, and the share of pushes that land in the field.
Pushes of one mount land or miss together: the error of that share is that of the mounts.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import walked

from plumbstar.choose.candidates import candidates
from plumbstar.choose.ranking import StarSet, choose
from plumbstar.choose.score import unseen_mistakes
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.lists import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import sky_grid, solve

PRIOR, NOISE = Priors.from_kit(Kit()), Noise()
SIGMA = np.where(np.isinf(PRIOR.sigma), 0.0, PRIOR.sigma)
TARGETS, ASKED = 25, 8
FIELDS_DEG = (0.5, 1.0)
SITES = {
    "47.2 N": (Site(47.2, 11.6, 940.0), "2027-01-28T18:00:00Z", "2026-10-12T19:00:00Z"),
    "68 N": (Site(68.0, 20.0, 300.0), "2027-01-28T18:00:00Z", "2026-12-12T22:00:00Z"),
    "31.5 S": (Site(-31.5, 21.0, 1500.0), "2027-07-10T18:00:00Z", "2027-03-02T20:00:00Z"),
}  # fmt: skip


def landed(
    places: np.ndarray, mounts: int, rng: np.random.Generator, on: bool = False, bad: bool = True
) -> tuple[np.ndarray, np.ndarray]:
    """How far pushes land from their targets, (mounts, TARGETS), radians, after the stars at
    ``places`` (k, 2), radians, and the mean chance in each field that every eighth fix states.
    ``on``: the hand goes on from target to target, and not to each from the last star."""
    truth = walked.drawn(PRIOR.mean, SIGMA, mounts, rng)
    off = NOISE.centring * rng.standard_normal((mounts, len(places), 2))
    az, alt = walked.walk(places, truth, off, rng.uniform(-np.pi, np.pi, mounts))
    grid_az, grid_alt = sky_grid()
    far, stated = np.empty((mounts, TARGETS)), []
    for m in range(mounts):
        read = np.degrees(np.stack([az[m], alt[m]], axis=-1))
        seen = [
            Sighting(f"star {i}", float(p[0]), float(p[1]), float(r[0]), float(r[1]))
            for i, (p, r) in enumerate(zip(np.degrees(places), read, strict=True))
        ]
        fix = solve(seen, PRIOR, NOISE, find_bad=bad)
        pick = rng.integers(0, len(grid_az), TARGETS)
        goal = walked.place(grid_az[pick], grid_alt[pick])
        to = np.empty((TARGETS, 2))
        near = float(np.degrees(az[m, -1]))
        if on:
            for j, g in enumerate(goal):
                to[j] = fix.reading_of(g, near)
                near = to[j, 0]
        else:
            to = fix.reading_of(goal, near)
        tube = walked.points(
            np.radians(to[:, 0]),
            np.radians(to[:, 1]),
            np.broadcast_to(truth[m], (TARGETS, walked.N_TERMS)),
        )
        tube = walked.nudged(tube, NOISE.centring * rng.standard_normal((TARGETS, 2)))
        far[m] = walked.apart(tube, goal)
        if m % ASKED == 0:
            stated.append([fix.mean_hit_chance(f) for f in FIELDS_DEG])
    return far, np.array(stated)


@dataclass(frozen=True)
class Tried:
    """One set of one hour: reckoned without and with the allowance for mistakes, the share that
    landed, its variance, what the fixes said."""

    reckoned: float
    scored: float
    hit: float
    variance: float
    said: float


def measure(s: StarSet, field_deg: float, mounts: int, seed: int, on: bool = False) -> Tried:
    places = np.radians([(c.az_deg, c.alt_deg) for c in s.stars])
    far, stated = landed(places, mounts, np.random.default_rng(seed), on)
    each = np.mean(far < np.radians(field_deg) / 2, axis=1)
    reckoned = s.mean_hit_chance / unseen_mistakes(len(s.stars))
    said = float(stated[:, FIELDS_DEG.index(field_deg)].mean())
    variance = float(np.var(each, ddof=1) / len(each))
    return Tried(reckoned, s.mean_hit_chance, float(each.mean()), variance, said)


def line(what: str, rows: Sequence[Tried]) -> str:
    """Means over the hours, per cent, and the standard error of reckoned less landed: that of so
    many mounts, for the hours are what they are."""
    reckoned, scored, hit, said = (
        100 * np.array([(r.reckoned, r.scored, r.hit, r.said) for r in rows]).T
    )
    error = 100 * np.sqrt(np.mean([r.variance for r in rows]) / len(rows))
    return (
        f"  {what:<28} reckoned {reckoned.mean():5.1f}, claimed {scored.mean():5.1f}, fixes say "
        f"{said.mean():5.1f}, landed {hit.mean():5.1f}; reckoned less landed "
        f"{np.mean(reckoned - hit):+5.1f} ± {error:.1f}"
    )


def main() -> None:
    """The table."""
    mounts = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    hours = int(sys.argv[2]) if len(sys.argv) > 2 else 8
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    for name, (site, *dates) in SITES.items():
        for field_deg in FIELDS_DEG:
            print(f"{name}, field {field_deg} degrees", flush=True)
            best: dict[int, list[Tried]] = {2: [], 3: []}
            usual: dict[int, list[Tried]] = {2: [], 3: []}
            for k in range(hours):
                when = Instant.parse(dates[k % len(dates)]).plus_seconds(2700.0 * k)
                stars = candidates(catalogue.load(), when, site)
                for size in (2, 3):
                    found = choose(stars, when, PRIOR, NOISE, field_deg, size=size, show=1)
                    best[size].append(measure(found.best, field_deg, mounts, seed + 100 * k + size))
                    if found.common_practice is not None:
                        s = found.common_practice
                        usual[size].append(measure(s, field_deg, mounts, seed + 100 * k + size))
            for size in (2, 3):
                print(line(f"best {size}", best[size]))
                print(line(f"common practice, {size}", usual[size]))
                gains = [(a.scored - b.scored, a.hit - b.hit)
                         for a, b in zip(best[size], usual[size], strict=True)]  # fmt: skip
                claimed, landed_more = 100 * np.mean(gains, axis=0)
                print(f"  gain: claimed {claimed:.1f}, landed {landed_more:.1f}", flush=True)


if __name__ == "__main__":
    main()
