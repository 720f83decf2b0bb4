"""Do pushes land as stated with what many outings taught, whatever the hand and the faults?

    python design/weeks_pushes.py [telescopes, default 40] [seed, default 10]

The telescopes and evenings of ``weeks.py`` (geometry of their own, a stop that changes untold after
the sixth outing), in six worlds: a hand as stated, one twice as rough, one half, one of heavy tails
(Student's t with 3 degrees of freedom, of the stated scale), one ten times better, each with a
fault in one outing of six; and a hand as stated with neither fault nor change. Before some of the
outings the priors and the hand are learnt from those before, then two stars are centred, and twelve
pushes go to places all over the sky, stopped by the same hand: once without a mistake, and once
with mistakes as rare as the program holds them (one star in thirty wrong or careless, something
moved before one in fifty, an unusual hand on one evening in six, another stop on one in fifty), of
other shapes. A push ends at the tenth of a degree that the circles show. Printed, by number of
outings before: the mean chance that the fix states, the share of pushes that land, and what was
learnt of the centring. After six outings the evening is the first with the change, after seven one
outing has told of it. At the end the first three hands together, as if each were as frequent: a
belief of the hand that is honest over these cannot be so for each of them after few outings.
Results in docs/method.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
import walked
import weeks

from plumbstar.diagnose import learn
from plumbstar.mount.sighting import Sighting
from plumbstar.solve.fix import sky_grid, solve

PUSHES = 12
ASKED = (1, 3, 6, 7, 11)


def normal(times: float) -> weeks.Hand:
    """So many times the stated error."""
    return lambda rng, shape: times * rng.standard_normal(shape)


def heavy(rng: np.random.Generator, shape: tuple[int, ...]) -> np.ndarray:
    """Student's t with three degrees of freedom, of the stated scale."""
    return rng.standard_t(3, shape)


@dataclass(frozen=True)
class World:
    """A hand, in stated sigmas; the share of outings with a fault; whether the stop changes."""

    name: str
    hand: weeks.Hand
    field_deg: float = 0.76
    faults: float = 1 / 6
    changes: bool = True


WORLDS = (
    World("a hand as stated", normal(1.0)),
    World("a hand twice as rough", normal(2.0)),
    World("a hand half as rough", normal(0.5)),
    World("neither fault nor change", normal(1.0), faults=0.0, changes=False),
    World("heavy tails", heavy),
    World("ten times better", normal(0.1), field_deg=0.25),
)


def two_stars(
    mount: np.ndarray, hand: weeks.Hand, rng: np.random.Generator, mistakes: bool
) -> tuple[list[Sighting], np.ndarray, np.ndarray]:
    """Two stars 60 to 120 degrees of azimuth apart, the last reading of the azimuth, and the mount
    after them."""
    az = rng.uniform(0, 2 * np.pi) + np.array([0.0, rng.uniform(1.05, 2.1)])
    alt = np.radians(rng.uniform(25, 65, 2))
    off = weeks.NOISE.centring * hand(rng, (2, 2))
    rows, before, mount = [], np.array([np.pi]), mount.copy()
    for i in range(2):
        if mistakes and rng.random() < 0.03:
            far = rng.uniform(0.3, 1.5) if rng.random() < 0.5 else rng.uniform(2.0, 15.0)
            turn = rng.uniform(0, 2 * np.pi)
            off[i] += np.radians(far) * np.array([np.cos(turn), np.sin(turn)])
        if mistakes and i and rng.random() < 0.02:
            by = np.radians(np.exp(rng.uniform(np.log(0.4), np.log(30)))) * rng.choice([-1, 1])
            mount[walked.A0 if rng.random() < 0.6 else walked.E0] += by
        goal = walked.nudged(walked.place(az[i : i + 1], alt[i : i + 1]), off[i : i + 1])
        a, e = walked.circles_at(goal, mount[None], before)
        before = a
        told = np.degrees([az[i] % (2 * np.pi), alt[i]]).tolist()
        rows.append(Sighting(f"star {i}", *told, *weeks.read_off(a[0], e[0]).tolist()))
    return rows, before, mount


def otherwise(
    mount: np.ndarray, hand: weeks.Hand, rng: np.random.Generator
) -> tuple[np.ndarray, weeks.Hand]:
    """An evening's mount and hand: one in twelve rougher, one in twelve steadier than usual, and
    one in fifty with the tube not on its stop, or another stop than last time."""
    times, turn = 1.0, rng.random()
    if turn < 0.17:
        times = rng.uniform(1.5, 5.0) if turn < 0.085 else rng.uniform(0.2, 0.7)
    if rng.random() < 0.02:
        mount = mount.copy()
        mount[walked.E0] += np.radians(rng.choice([-1, 1]) * rng.uniform(0.5, 3.0))
    return mount, lambda g, shape: times * hand(g, shape)


def landed(
    known: learn.Learnt,
    mount: np.ndarray,
    world: World,
    rng: np.random.Generator,
    mistakes: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """Stated chances and whether each push landed, (PUSHES,)."""
    hand = world.hand
    if mistakes:
        mount, hand = otherwise(mount, hand, rng)
    seen, before, mount = two_stars(mount, hand, rng, mistakes)
    fix = solve(seen, known.priors, known.noise(weeks.KIT))
    az, alt = sky_grid()
    pick = rng.integers(0, len(az), PUSHES)
    goal = walked.place(az[pick], alt[pick])
    near = float(np.degrees(before[0]))
    to = np.radians(np.round(fix.reading_of(goal, near), 1))
    tube = walked.points(to[:, 0], to[:, 1], np.tile(mount, (PUSHES, 1)))
    tube = walked.nudged(tube, weeks.NOISE.centring * hand(rng, (PUSHES, 2)))
    hit = walked.apart(tube, goal) < np.radians(world.field_deg) / 2
    chances = fix.hit_chance(np.degrees(az[pick]), np.degrees(alt[pick]), world.field_deg, near)
    return chances, hit


def run(world: World, telescopes: int, seed: int) -> dict[int, np.ndarray]:
    """By outings before: rows of (stated, landed; the same with mistakes; the centring learnt,
    arcmin, and the sigma of its logarithm)."""
    rows: dict[int, list[tuple[float, ...]]] = {i: [] for i in ASKED}
    for t in range(telescopes):
        rng = np.random.default_rng([seed, t])
        outings = weeks.weeks(rng, world.faults, world.changes, hand=world.hand)
        for i in ASKED:
            known = weeks.learnt_from(outings[:i])
            mount = outings[i].mount
            row: list[float] = []
            for times, mistakes in ((1, False), (4, True)):
                each = [landed(known, mount, world, rng, mistakes)
                        for _ in range(times)]  # fmt: skip
                row += np.mean(each, axis=(0, 2)).tolist()
            assert known.hand is not None
            rows[i].append((*row, known.hand.arcmin, known.hand.sigma_log))
    return {i: np.array(r) for i, r in rows.items()}


def main() -> None:
    telescopes = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 10
    three: dict[int, list[np.ndarray]] = {i: [] for i in ASKED}
    for k, world in enumerate(WORLDS):
        print(f"{world.name}, a field of {world.field_deg} degrees", flush=True)
        for i, rows in run(world, telescopes, seed + k).items():
            if k < 3:
                three[i].append(rows)
            low, middle, high = np.quantile(rows[:, 4], (0.1, 0.5, 0.9))
            print(
                f"  after {i:>2} outings: {said(rows[:, :2])}; with mistakes {said(rows[:, 2:4])}; "
                f"centring {middle:.2f}' ({low:.2f} to {high:.2f}), factor "
                f"{np.exp(rows[:, 5].mean()):.2f}",
                flush=True,
            )
    print("the first three hands, each as frequent")
    for i, parts in three.items():
        rows = np.vstack(parts)
        print(f"  after {i:>2} outings: {said(rows[:, :2])}; with mistakes {said(rows[:, 2:4])}")


def said(rows: np.ndarray) -> str:
    """Stated and landed, per cent, with the error of the difference."""
    gap = 100 * (rows[:, 1] - rows[:, 0])
    stated, hit = 100 * rows.mean(axis=0)
    error = np.std(gap, ddof=1) / np.sqrt(len(gap))
    return f"stated {stated:4.1f}, landed {hit:4.1f} ({gap.mean():+5.1f} ± {error:.1f})"


if __name__ == "__main__":
    main()
