"""Is a stated chance true at the edges, in evenings without a mistake?

    python design/honest_at_edges.py [evenings of each kind, default 400]

Evenings whose misfit is under 1 in 100 by chance; a hand with heavy tails; chances that are low; a
hand far better than stated. The geometry is that of walked.py, not the program's. Printed: the mean
chance that the fixes state, the share of pushes that land, and the standard error of the
difference between evenings. Results in docs/method.md.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np
import walked

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.solve.fix import sky_grid, solve

PRIOR, NOISE = Priors.from_kit(Kit()), Noise()
SIGMA = np.where(np.isinf(PRIOR.sigma), 0.0, PRIOR.sigma)
PUSHES = 12

#: How far off a hand is, in stated sigmas, of a shape.
Hand = Callable[[np.random.Generator, tuple[int, ...]], np.ndarray]


def steady(times: float) -> Hand:
    """A normal hand, so many times the stated error."""
    return lambda rng, shape: times * rng.standard_normal(shape)


def heavy(rng: np.random.Generator, shape: tuple[int, ...]) -> np.ndarray:
    """Student's t with three degrees of freedom, of the stated scale: 1.7 times as far by its mean
    square, mostly closer than that and now and then far off."""
    return rng.standard_t(3, shape)


def pushes(
    stars: int,
    hand: Hand,
    fields_deg: tuple[float, float],
    evenings: int,
    seed: int,
    misfit_under: float = 1.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Stated chance and whether it landed, (evenings found, PUSHES) each; only evenings whose
    sightings, taken as they are, have a misfit under ``misfit_under``."""
    rng = np.random.default_rng(seed)
    truth = walked.drawn(PRIOR.mean, SIGMA, evenings, rng)
    places = np.stack([rng.uniform(0, 2 * np.pi, (evenings, stars)),
                       np.arcsin(rng.uniform(0.26, 0.96, (evenings, stars)))], axis=-1)  # fmt: skip
    off = NOISE.centring * hand(rng, (evenings, stars, 2))
    az, alt = walked.walk(places, truth, off, rng.uniform(-np.pi, np.pi, evenings))
    grid_az, grid_alt = sky_grid()
    stated, landed = [], []
    for m in range(evenings):
        read = np.degrees(np.stack([az[m], alt[m]], axis=-1))
        seen = [
            Sighting(f"star {i}", float(p[0]), float(p[1]), float(r[0]), float(r[1]))
            for i, (p, r) in enumerate(zip(np.degrees(places[m]), read, strict=True))
        ]
        if misfit_under < 1.0:
            plain = solve(seen, PRIOR, NOISE, find_bad=False)
            if plain.misfit_probability > misfit_under:
                continue
        fix = solve(seen, PRIOR, NOISE)
        pick = rng.integers(0, len(grid_az), PUSHES)
        field = np.exp(rng.uniform(*np.log(fields_deg)))
        near = float(read[-1, 0])
        goal = walked.place(grid_az[pick], grid_alt[pick])
        to = np.radians(fix.reading_of(goal, near))
        tube = walked.points(
            to[:, 0], to[:, 1], np.broadcast_to(truth[m], (PUSHES, walked.N_TERMS))
        )
        tube = walked.nudged(tube, NOISE.centring * hand(rng, (PUSHES, 2)))
        landed.append(walked.apart(tube, goal) < np.radians(field) / 2)
        stated.append(fix.hit_chance(np.degrees(grid_az[pick]), np.degrees(grid_alt[pick]),
                                     field, near))  # fmt: skip
    return np.array(stated), np.array(landed)


def line(what: str, stated: np.ndarray, landed: np.ndarray) -> str:
    """Means, per cent; the error is that of the mean over evenings."""
    gap = (landed - stated).mean(axis=1)
    error = np.std(gap, ddof=1) / np.sqrt(len(gap))
    return (
        f"{what:<44}{len(gap):>6} evenings: stated {100 * stated.mean():5.1f}, landed "
        f"{100 * landed.mean():5.1f}; {100 * gap.mean():+5.1f} ± {100 * error:.1f}"
    )


def low(evenings: int, seed: int) -> list[str]:
    """Where a low chance is stated, by how low."""
    both = [pushes(n, steady(1.0), (0.1, 0.6), evenings, seed + n) for n in (1, 2, 3)]
    stated = np.concatenate([s.ravel() for s, _ in both])
    landed = np.concatenate([y.ravel() for _, y in both])
    out = []
    for a, b in ((0.0, 0.02), (0.02, 0.05), (0.05, 0.1), (0.1, 0.2), (0.2, 0.3)):
        m = (stated >= a) & (stated < b)
        said, hit = 100 * stated[m].mean(), 100 * landed[m].mean()
        what = f"stated {100 * a:.0f} to {100 * b:.0f}: {m.sum()} pushes"
        out.append(f"{what}, stated {said:.1f}, landed {hit:.1f}")
    return out


def main() -> None:
    """The table."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    for stars in (3, 5):
        found = pushes(stars, steady(1.0), (0.4, 2.0), 20 * n, 3 + stars, misfit_under=0.01)
        print(line(f"{stars} stars, misfit under 1 in 100", *found), flush=True)
    for stars in (3, 5):
        found = pushes(stars, heavy, (0.4, 2.0), n, 20 + stars)
        print(line(f"{stars} stars, heavy tails", *found), flush=True)
    for times in (0.3, 0.1, 0.03, 0.01):
        for stars in (3, 6):
            fields = (2 * times, 8 * times)
            found = pushes(stars, steady(times), fields, n // 2, 40 + stars)
            print(line(f"{stars} stars, a hand of {times} the stated error", *found), flush=True)
    print("\n".join(low(n, 60)), flush=True)


if __name__ == "__main__":
    main()
