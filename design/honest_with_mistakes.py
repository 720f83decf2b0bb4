"""Does a stated hit chance come true in evenings in which something may have gone wrong?

    python design/honest_with_mistakes.py [evenings of each kind, default 1000]

Mounts drawn from the priors, two to six stars, eight pushes to places all over the sky. The faults
are not those of the program's stories: a wrong star is 2 to 15 degrees away in any direction, a
fumbled one 0.3 to 1.5; a circle slips by 0.4 to 30 degrees, evenly in the logarithm; a knocked base
turns by up to 3 and leans by up to 1.5 degrees, evenly; a hand may have heavy tails (Student's t
with three degrees of freedom, added to the usual error). Results in docs/method.md.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.sky.angles import between_rad
from plumbstar.solve.fix import sky_grid, solve

PRIOR, NOISE = Priors.from_kit(Kit()), Noise()
PUSHES = 8


@dataclass(frozen=True)
class World:
    """What goes wrong: chance of a wrong star at each sighting, of a move before each but the
    first; ``surely``: which fault happens at sighting i of n whatever the dice say."""

    name: str
    stars: tuple[int, int] = (2, 6)
    wrong: float = 0.0
    moved: float = 0.0
    heavy: bool = False
    field_deg: float | None = None
    surely: Callable[[int, int], str] = lambda i, n: ""
    #: Only evenings whose sightings, taken as they are, have a misfit under this.
    misfit_under: float = 1.0


WORLDS = (
    World("nothing goes wrong"),
    World("mistakes at the stated rates, of other shapes", wrong=0.03, moved=0.02),
    World("a slip of 1.5 to 2.2 before the last of four", (4, 4), field_deg=1.0,
          surely=lambda i, n: "slip" if i == n - 1 else ""),
    World("a slip of 1.5 to 2.2 after the fourth of six", (6, 6), field_deg=1.0,
          surely=lambda i, n: "slip" if i == 4 else ""),
    World("of two stars the second wrong", (2, 2), field_deg=1.0,
          surely=lambda i, n: "wrong" if i == 1 else ""),
    World("between two stars a slip of 1.5 to 2.2", (2, 2), field_deg=1.0,
          surely=lambda i, n: "slip" if i == 1 else ""),
    World("a hand with heavy tails", heavy=True),
    World("three stars, misfit under 1 in 100, mistakes at the stated rates", (3, 3),
          wrong=0.03, moved=0.02, misfit_under=0.01),
    World("five stars, the same", (5, 5), wrong=0.03, moved=0.02, misfit_under=0.01),
)  # fmt: skip


@dataclass(frozen=True)
class Counted:
    """One row a push: stars sighted, stated chance, whether it hit, whether something was wrong,
    and whether the fix says that something moved."""

    stars: np.ndarray
    stated: np.ndarray
    hit: np.ndarray
    faulty: np.ndarray
    asked: np.ndarray


def _move(hidden: HiddenMount, rng: np.random.Generator, small: bool) -> None:
    hidden.terms = hidden.terms.copy()
    deg = rng.uniform(1.5, 2.2) if small else math.exp(rng.uniform(math.log(0.4), math.log(30)))
    size = math.radians(deg) * rng.choice([-1.0, 1.0])
    u = rng.random()
    if u < 0.5:
        hidden.terms[0] += size
    elif u < 0.8:
        hidden.terms[1] += np.clip(size, -0.2, 0.2)
    else:
        hidden.terms[0] += math.radians(rng.uniform(-3, 3))
        hidden.terms[2:4] += np.radians(rng.uniform(-1.5, 1.5, 2))


def _of_another(s: Sighting, rng: np.random.Generator) -> Sighting:
    far = rng.uniform(0.3, 1.5) if rng.random() < 0.5 else rng.uniform(2.0, 15.0)
    turn = rng.uniform(0.0, 2 * math.pi)
    alt = min(85.0, s.true_alt_deg + far * math.sin(turn))
    az = s.true_az_deg + far * math.cos(turn) / math.cos(math.radians(alt))
    return replace(s, true_az_deg=az, true_alt_deg=alt)


def run(world: World, evenings: int, seed: int) -> Counted:
    """So many evenings of it."""
    rng = np.random.default_rng(seed)
    grid_az, grid_alt = (np.degrees(g) for g in sky_grid(20.0, 400))
    rows: list[tuple[int, float, bool, bool, bool]] = []
    for _ in range(evenings):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        n, seen, faulty = int(rng.integers(world.stars[0], world.stars[1] + 1)), [], False
        for i in range(n):
            sure = world.surely(i, n)
            if i and (rng.random() < world.moved or sure == "slip"):
                _move(hidden, rng, sure == "slip")
                faulty = True
            alt = math.degrees(math.asin(rng.uniform(0.26, 0.96)))
            s = hidden.sight(f"star {i + 1}", rng.uniform(0, 360), alt)
            if rng.random() < world.wrong or sure == "wrong":
                s, faulty = _of_another(s, rng), True
            if world.heavy:
                right, up = np.degrees(rng.standard_t(3, 2) * NOISE.centring)
                az = s.true_az_deg + right / math.cos(math.radians(s.true_alt_deg))
                s = replace(s, true_az_deg=az, true_alt_deg=s.true_alt_deg + up)
            seen.append(s)
        if world.misfit_under < 1.0:
            plain = solve(seen, PRIOR, NOISE, find_bad=False)
            if plain.misfit_probability > world.misfit_under:
                continue
        fix = solve(seen, PRIOR, NOISE)
        field = world.field_deg or rng.uniform(0.4, 2.0)
        start = np.degrees(hidden.reading[0])
        pick = rng.integers(0, 400, PUSHES)
        stated = fix.hit_chance(grid_az[pick], grid_alt[pick], field, start)
        for p, az, alt in zip(stated, grid_az[pick], grid_alt[pick], strict=True):
            landed = hidden.push_to(*fix.reading_for(az, alt, near_az_deg=start))
            u = kinematics.unit(*np.radians(np.array([(az, alt), landed])).T)
            hit = bool(np.degrees(between_rad(u[0], u[1])) < field / 2)
            rows.append((n, float(p), hit, faulty, fix.moved is not None))
    return Counted(*(np.array(column) for column in zip(*rows, strict=True)))


def allowed(n: int, evenings: int, seed: int = 71) -> float:
    """What mistakes that n stars cannot show leave of a chance, where none was made: the mean
    chance, in a field of one degree, of fixes that reckon with them over that of those that do
    not."""
    rng = np.random.default_rng(seed)
    with_them = without = 0.0
    for _ in range(evenings):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        alt = np.degrees(np.arcsin(rng.uniform(0.26, 0.96, n)))
        seen = hidden.sight_all(zip(rng.uniform(0, 360, n), alt, strict=True))
        with_them += solve(seen, PRIOR, NOISE).mean_hit_chance(1.0)
        without += solve(seen, PRIOR, NOISE, find_bad=False).mean_hit_chance(1.0)
    return with_them / without


def main() -> None:
    """The tables."""
    evenings = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for n in range(1, 7):
        print(f"{n} stars without a mistake: {allowed(n, evenings):.3f} of the chance is claimed")
    for seed, world in enumerate(WORLDS):
        c = run(world, evenings, seed)
        sure = c.stated >= 0.8
        print(f"\n{world.name}: {len(c.hit)} pushes, stated {c.stated.mean():.3f}, hit "
              f"{c.hit.mean():.3f}; stated 80 % or more and missed {np.mean(sure & ~c.hit):.3f}; "
              f"said that something moved {c.asked.mean():.3f}")  # fmt: skip
        for n in np.unique(c.stars):
            m = c.stars == n
            print(f"  {n} stars: stated {c.stated[m].mean():.3f}, hit {c.hit[m].mean():.3f}")
        for low in np.arange(10) / 10:
            m = (c.stated >= low) & ((c.stated < low + 0.1) | (low > 0.85))
            if m.sum() > 20:
                print(f"  {low:.1f}: {m.sum():6d} {c.stated[m].mean():.3f} {c.hit[m].mean():.3f}")


if __name__ == "__main__":
    main()
