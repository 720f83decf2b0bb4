"""How often nameless stars are named rightly, and whether a naming is as sure as it says.

    python design/nameless_stars.py [evenings [stars [told | HABIT]]]

An evening: a site anywhere from 60 south to 60 north, a dark moment of any year, two, three or four
different stars or planets that are 12 to 80 degrees up, drawn by one of several habits, two minutes
apart. The mount is drawn from what a plain kit expects, and is made here, of rotation matrices of
this file alone: of the program the simulator takes where stars stood, and the list of stars.

With "told" the list ends where the choices end, nothing lower or higher is thought of, and no
fault: the arithmetic then has the very law of these evenings, so no other can do better.

Habits of choosing: "to 2.3", "to 3.0": any of these, all alike;
"bright": the brighter the likelier, a magnitude a third; "modest": to 3.0, the fainter the rather,
and none of the three brightest; "one faint": as bright, but one from 2.8 to 3.5; "rough hand": as
bright, a hand of 18 arcminutes; "heavy tails": as bright, mount and hand by Student's t with 3
degrees of freedom, 1.7 times as wide as expected; "one astray": as bright, one of the stars not
in the list at all, or 2 to 8 degrees off.

Then, of all evenings of a row's number of stars but those astray, what was said and what was so.

Conclusion: see docs/method.md, "Nameless stars".
"""

from __future__ import annotations

import itertools
import math
import sys
import time
from dataclasses import dataclass

import numpy as np

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Unnamed
from plumbstar.nameless import eligible as eligible_stars
from plumbstar.nameless import namings as namings_found
from plumbstar.nameless import screen as screening
from plumbstar.nameless.eligible import Eligible, eligible
from plumbstar.nameless.namings import NONE, namings
from plumbstar.sky.bodies import sun_altitude
from plumbstar.sky.lists import catalogue
from plumbstar.sky.places import Directions, observed_many
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array

HABITS = (
    "to 2.3", "to 3.0", "bright", "modest", "one faint", "rough hand", "heavy tails", "one astray"
)  # fmt: skip
#: 1 sigma, degrees: what a plain kit expects; centring in arcminutes.
STOP, LEAN, SQUARE, CONE, DROOP, SCALE, CENTRING = 1.0, 2.0, 0.2, 0.3, 0.1, 0.001, 6.0


def about(axis: Array, angle: float) -> Array:
    """The rotation (3, 3) about a unit vector (Rodrigues)."""
    x, y, z = axis
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * k @ k)


class Mount:
    """Two bearings that are neither upright nor square, and a tube that is not square to them."""

    def __init__(self, rng: np.random.Generator, heavy: bool = False) -> None:
        shape = rng.standard_t(3, 6) if heavy else rng.standard_normal(6)
        draw = np.radians(shape * (STOP, LEAN, LEAN, SQUARE, CONE, DROOP))
        self.stop, north, west, self.square, self.cone, self.droop = draw
        self.scale = SCALE * rng.standard_normal(2)
        self.zero = rng.uniform(0, 2 * math.pi)
        size = math.hypot(north, west)
        self.base = about(np.array([-north, -west, 0]) / size, size)

    def looks(self, az: float, alt: float) -> Array:
        """Where the tube points with these readings, radians: a unit vector, east, north, up."""
        turn = az * (1 + self.scale[0]) + self.zero
        lift = alt * (1 + self.scale[1]) + self.stop
        lift -= self.droop * math.cos(lift)
        tube = np.array([math.sin(self.cone), math.cos(self.cone), 0.0])
        v = about(np.array([1.0, 0, 0]), lift) @ tube
        v = about(np.array([0, 1.0, 0]), self.square) @ v
        v = about(np.array([0, 0, 1.0]), -turn) @ v
        return np.asarray(self.base @ v)

    def reads(self, toward: Array, last_az: float = math.pi) -> tuple[float, float]:
        """The readings, radians, with the tube along a direction: found by trial (Newton). The
        hand goes the shorter way round from the last azimuth reading, and the circle counts on."""
        az = math.atan2(toward[0], toward[1]) - self.zero
        az += 2 * math.pi * round((last_az - az) / (2 * math.pi))
        alt = math.asin(toward[2]) - self.stop
        for _ in range(20):
            here = self.looks(az, alt)
            d = 1e-6
            J = np.column_stack(
                [(self.looks(az + d, alt) - here) / d, (self.looks(az, alt + d) - here) / d]
            )
            step, *_ = np.linalg.lstsq(J, toward - here, rcond=None)
            az, alt = az + float(step[0]), alt + float(step[1])
            if abs(step).max() < 1e-10:
                break
        return az, alt


@dataclass(frozen=True)
class DrawnEvening:
    """``seen``: the sightings; ``names`` of what was sighted ("" for what is in no list); ``sky``:
    what might have been; ``mount``, and its last azimuth reading, radians."""

    seen: list[Unnamed]
    site: Site
    names: list[str]
    sky: Eligible
    mount: Mount
    last_az: float


def evening(rng: np.random.Generator, habit: str, n: int) -> DrawnEvening | None:
    """One evening; None where the Sun was up there, or there were too few stars."""
    site = Site(float(rng.uniform(-60, 60)), float(rng.uniform(-180, 180)))
    start = Instant.parse("2020-01-01T00:00:00Z").plus_seconds(float(rng.uniform(0, 3.15e8)))
    if math.degrees(float(sun_altitude(start, site))) > -12:
        return None
    moments = [start.plus_seconds(120.0 * k) for k in range(n)]
    sky = eligible(moments, site)
    alt = np.degrees(sky.places[0, :, 1])
    limit = {"to 2.3": 2.3, "to 3.0": 3.0}.get(habit, 3.2)
    rows = np.flatnonzero((sky.v < limit) & (alt > 12) & (alt < 80))
    if len(rows) < n:
        return None
    weight = np.ones(len(rows)) if habit.startswith("to") else 3.0 ** -sky.v[rows]
    if habit == "modest":
        weight = np.where(sky.v[rows] < 3.0, 1.6 ** sky.v[rows], 0.0)
        weight[np.argsort(sky.v[rows])[:3]] = 0.0
    picks = rng.choice(rows, n, replace=False, p=weight / weight.sum())
    if habit == "one faint":
        few = np.flatnonzero((sky.v > 2.8) & (sky.v < 3.5) & (alt > 12) & (alt < 80))
        picks[int(rng.integers(n))] = rng.choice(np.setdiff1d(few, picks))
    names = [sky.names[i] for i in picks]
    mount, out = Mount(rng, habit == "heavy tails"), []
    hand = math.radians(CENTRING / 60) * (3.0 if habit == "rough hand" else 1.0)
    astray = int(rng.integers(n)) if habit == "one astray" else -1
    faint = None
    if astray >= 0 and rng.uniform() < 0.5:
        stars = catalogue.load()
        index = np.flatnonzero((stars.v_mag > 3.6) & (stars.v_mag < 4.6))
        a, h = observed_many(Directions.take(stars, index), [moments[astray]], site, grid=True)
        up = np.flatnonzero((h[0] > 0.2) & (h[0] < 1.4))
        k = int(rng.choice(up))
        faint = (float(a[0, k]), float(h[0, k]))
    last = math.pi
    for k, i in enumerate(picks):
        az, up_ = sky.places[k, i]
        if k == astray and faint is not None:
            az, up_ = faint
            names[k] = ""
        d = np.array([math.cos(up_) * math.sin(az), math.cos(up_) * math.cos(az), math.sin(up_)])
        heavy = habit == "heavy tails"
        off = (rng.standard_t(3, 3) if heavy else rng.standard_normal(3)) * hand
        if k == astray and faint is None:
            way = rng.standard_normal(3)
            way -= way @ d * d
            off = way / np.linalg.norm(way) * math.radians(float(rng.uniform(2, 8)))
            names[k] = ""
        d = (d + off) / np.linalg.norm(d + off)
        last, lift = mount.reads(d, last)
        out.append(Unnamed(moments[k], math.degrees(last), math.degrees(lift)))
    return DrawnEvening(out, site, names, sky, mount, last)


def tell(limit: float) -> None:
    """Nothing fainter, nothing lower or higher, all alike, and no mistake."""
    eligible_stars._HABITS = ((1.0, 0.0, limit),)
    eligible_stars._SOFT_MAG = 1e-6
    eligible_stars.HABITS = namings_found.HABITS = np.zeros(1)  # type: ignore[attr-defined]
    # The moments are two minutes apart, the choice is made at the first.
    eligible_stars._LOW_DEG, eligible_stars._PER_LOW_DEG = 11.0, 1e-3
    namings_found.UNLISTED = 1e-9
    for module in (screening, namings_found):
        module.HANDS = ((1.0, 1.0),)  # type: ignore[attr-defined]


def told_of(n: int, habit: str, evenings: int) -> tuple[Array, Array, float]:
    """Of each evening whether the likeliest naming is right in every star, and its probability;
    the longest that a naming took of 20, seconds of processor time."""
    kit = Kit()
    prior, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    rng = np.random.default_rng(5)
    first: list[bool] = []
    stated: list[float] = []
    worst = 0.0
    while len(first) < evenings:
        made = evening(rng, habit, n)
        if made is None:
            continue
        seen, sky = made.seen, made.sky
        if len(first) < 20:  # of a few the time is taken
            begun = time.process_time()
            namings(seen, eligible([s.utc for s in seen], made.site), prior, noise)
            worst = max(worst, time.process_time() - begun)
        best = namings(seen, sky, prior, noise)[0]
        told = ["" if k == NONE else sky.names[k] for k in best.stars]
        first.append(told == made.names)
        stated.append(best.probability)
    return np.array(first), np.array(stated), worst


def main() -> None:
    evenings = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    counts = [int(sys.argv[2])] if len(sys.argv) > 2 else [2, 3, 4]
    wish = sys.argv[3] if len(sys.argv) > 3 else ""
    print(
        f"{evenings} evenings a row, {evenings // 2} from the fourth on; per cent, and ms at most"
    )
    print(f"{'stars':<6}{'chosen':<12}{'first':>6}{'> 99':>6}{'right':>7}{'> 90':>6}{'right':>7}"
          f"{'stated':>8}{'ms':>6}")  # fmt: skip
    for n in counts:
        rows = []
        for habit in HABITS[:2] if wish == "told" else [wish] if wish else HABITS:
            if wish == "told":
                tell(float(habit.split()[1]))
            right, p, worst = told_of(n, habit, evenings // (1 if habit in HABITS[:3] else 2))
            cells = [f"{n:<6}{habit:<12}{100 * right.mean():>6.0f}"]
            for least in (0.99, 0.9):
                sure = p > least
                true = f"{100 * right[sure].mean():.1f}" if sure.any() else "-"
                cells.append(f"{100 * sure.mean():>6.0f}{true:>7}")
            cells.append(f"{100 * p.mean():>8.0f}{1000 * worst:>6.0f}")
            print("".join(cells), flush=True)
            if habit != "one astray":
                rows.append((right, p))
        right, p = (np.concatenate(x) for x in zip(*rows, strict=True))
        for low, high in itertools.pairwise((0.0, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.01)):
            here = (p > low) & (p <= high)
            if here.any():
                so = float(right[here].mean())
                off = math.sqrt(max(so * (1 - so), 0.01) / here.sum())
                print(f"  {n} stars, {int(here.sum()):4} evenings said {100 * p[here].mean():5.1f},"
                      f" were {100 * so:5.1f} +- {100 * off:.1f}")  # fmt: skip


if __name__ == "__main__":
    main()
