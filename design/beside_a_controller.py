"""How often an object is in the field beside a closed controller, and how honest the chance is.

    python design/beside_a_controller.py [evenings [sort ...] [stages=3] [seed=2] [keep=FILE]]

So many evenings a row and a stage; ``stages``: only the first so many; ``keep``: what was stated
and what came true go into FILE (npz), and with what lies there from other seeds the deciles of all.

Hidden mounts and controllers are made here, by rotation matrices of this file alone: nothing of the
tool's geometry is used. Stop 1 deg sigma, lean 1, squareness 0.2, cone 0.3, droop 0.1, centring 6
arcmin, all that is shown rounded to 0.1 deg, the second star 20 to 60 s after the first, with and
without a clock (which is known), three ways of sharing (which are not), a field of 1.0 deg. In a
second run the first star is another one in 3 evenings of 100.

Conclusion, 250 evenings a row and stage: the number alone brings the four pairs to 63, 74, 37 and
75 in 100, the look back to 99, 97, 38 and 80, one find to 100, 98, 87 and 93, four finds to 100.
As weighed, mistakes and all, what is stated holds within 3 points in every decile; with no mistake
at all a little too little is stated. A rough hand is not seen before a find. Tables and what is
missed: docs/controller.md.
"""

from __future__ import annotations

import math
import statistics
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from plumbstar.controller.outlook import Asked, outlook
from plumbstar.controller.showing import ObjectPlaces, Taught
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.units import Array

SIGMAS_DEG = {
    "altitude_zero": 1.0, "lean_north": 1.0, "lean_west": 1.0, "squareness": 0.2, "cone": 0.3,
    "droop": 0.1,
}  # fmt: skip
PAIRS = {
    "opposite azimuths": ((80.0, 45.0), (260.0, 50.0)),
    "a quarter turn apart": ((80.0, 40.0), (170.0, 45.0)),
    "one azimuth": ((120.0, 25.0), (120.0, 70.0)),
    "35° apart": ((100.0, 40.0), (148.0, 42.0)),
}
STAGES = ("zero", "number", "look back", "one find", "four finds")
FIELD_DEG, LAT_DEG, HAND_DEG = 1.0, 47.2, 0.1


def vec(place_deg: Array) -> Array:
    """East, north, up of (..., 2) azimuth and altitude, degrees."""
    a, h = np.radians(place_deg[..., 0]), np.radians(place_deg[..., 1])
    return np.stack([np.cos(h) * np.sin(a), np.cos(h) * np.cos(a), np.sin(h)], axis=-1)


def place(v: Array) -> Array:
    a = np.degrees(np.arctan2(v[..., 0], v[..., 1])) % 360.0
    return np.stack([a, np.degrees(np.arcsin(np.clip(v[..., 2], -1, 1)))], axis=-1)


def turn(axis: Array, deg: float) -> Array:
    """The matrix of a right-handed turn (Rodrigues)."""
    n = np.asarray(axis, dtype=float)
    n = n / np.linalg.norm(n)
    k = np.array([[0, -n[2], n[1]], [n[2], 0, -n[0]], [-n[1], n[0], 0]])
    t = math.radians(deg)
    out: Array = np.eye(3) + math.sin(t) * k + (1 - math.cos(t)) * k @ k
    return out


def sky_turn(seconds: float) -> Array:
    """How far the sky has turned on the ground: about the pole, east to west."""
    pole = vec(np.array([0.0, LAT_DEG]))
    return turn(pole, -seconds * 360.0 / 86164.09)


@dataclass
class HiddenMount:
    stop: float
    north: float
    west: float
    square: float
    cone: float
    droop: float

    def __post_init__(self) -> None:
        tilt = math.hypot(self.north, self.west)
        # The top of the axis goes north: a turn about the west; west: a turn about the south.
        self.base = turn(np.array([-self.north, -self.west, 0.0]), tilt) if tilt else np.eye(3)
        self.bearing = turn(np.array([0.0, 1.0, 0.0]), self.square)

    def points(self, reading: Array) -> Array:
        alt = reading[1] + self.stop
        alt -= self.droop * math.cos(math.radians(alt))
        c, e = math.radians(self.cone), math.radians(alt)
        tube = np.array([math.sin(c), math.cos(c) * math.cos(e), math.cos(c) * math.sin(e)])
        spin = turn(np.array([0.0, 0.0, 1.0]), -reading[0])
        out: Array = self.base @ spin @ self.bearing @ tube
        return out

    def reads(self, v: Array) -> Array:
        """The reading at which the tube points along v, worked back turn by turn."""
        w = self.base.T @ v
        c, s = math.radians(self.cone), math.radians(self.square)
        sin_e = (w[2] + math.sin(c) * math.sin(s)) / (math.cos(c) * math.cos(s))
        e = math.asin(max(-1.0, min(1.0, sin_e)))
        tube = np.array([math.sin(c), math.cos(c) * math.cos(e), math.cos(c) * math.sin(e)])
        d = self.bearing @ tube
        az = math.degrees(math.atan2(w[0], w[1]) - math.atan2(d[0], d[1])) % 360.0
        alt = sagged = math.degrees(e)
        for _ in range(6):
            alt = sagged + self.droop * math.cos(math.radians(alt))
        return np.array([az, alt - self.stop])


def frame(a: Array, b: Array, way: float) -> Array:
    """Columns: the line's point that comes out exact, the one across it, the pole."""
    pole = np.cross(a, b)
    pole /= np.linalg.norm(pole)
    total = math.degrees(math.atan2(np.linalg.norm(np.cross(a, b)), a @ b))
    exact = turn(pole, way * total) @ a
    return np.stack([exact, np.cross(pole, exact), pole], axis=-1)


@dataclass(frozen=True)
class Sort:
    """What is played. ``wrong``: the share of evenings on which the first star is one 4 to 12 deg
    off; ``between``: the share of controllers that share in any way at all; ``rough``: the share of
    evenings on which every centring is twice as far off as the kit says and Student's t of 3
    degrees of freedom (its tails: one in fifty is off by more than five of the stated sigmas);
    ``mount``: so many times the kit's sigmas is every term of the mount drawn with; ``misread``:
    whether the number is misread in 1 evening of 200 and its sign in 1 of 100, one find in 100, and
    something slips before one find in 100, each by 1 to 6 deg; ``recentred``: the share of look
    backs before which the star is centred anew."""

    wrong: float = 0.0
    between: float = 0.0
    rough: float = 0.0
    mount: float = 1.0
    misread: bool = False
    recentred: float = 0.0


SORTS = {
    "as it should": Sort(),
    "wrong": Sort(wrong=0.03),
    "between": Sort(between=1.0),
    "as weighed": Sort(wrong=0.03, between=0.1, rough=0.05, misread=True),
    "rough": Sort(rough=1.0),
    "far": Sort(mount=3.0),
    "recentred": Sort(recentred=1.0),
}


def off(v: Array, rng: np.random.Generator, rough: bool = False) -> Array:
    """Centred by hand."""
    # Of variance 4 rather than of 2 * 3 / (3 - 2): so the rough hand is twice the stated one.
    by = 2.0 / math.sqrt(3.0) * rng.standard_t(3, 3) if rough else rng.standard_normal(3)
    out = v + math.radians(HAND_DEG) * by
    return np.asarray(out / np.linalg.norm(out))


def listed(v: Array) -> Array:
    """Where the box has it: right ascension to a tenth of a minute of time and declination to an
    arcminute, as short lists are written. (That they are of another equinox turns all of them
    together, which its two stars take out again.)"""
    pole = vec(np.array([0.0, LAT_DEG]))
    west = np.array([-1.0, 0.0, 0.0])
    south = np.cross(west, pole)
    ra, dec = (
        math.atan2(float(v @ west), float(v @ south)),
        math.asin(float(np.clip(v @ pole, -1, 1))),
    )
    ra, dec = (math.radians(round(math.degrees(x) * n) / n) for x, n in ((ra, 40.0), (dec, 60.0)))
    out: Array = math.cos(dec) * (math.cos(ra) * south + math.sin(ra) * west) + math.sin(dec) * pole
    return out


def some_degrees(rng: np.random.Generator) -> Array:
    """(2,) 1 to 6 degrees off, either way."""
    return np.asarray(rng.uniform(1.0, 6.0, 2) * rng.choice([-1.0, 1.0], 2))


class Night:
    """One evening: what the box shows."""

    def __init__(
        self,
        pair: Array,
        rng: np.random.Generator,
        sort: Sort,
        mount: HiddenMount | None = None,
        way: float | None = None,
        clock: bool | None = None,
        terms: Array | None = None,
    ) -> None:
        self.rng, self.sort = rng, sort
        self.rough = bool(sort.rough and rng.random() < sort.rough)
        self.slip = np.zeros(2)
        wrong = rng.random() < sort.wrong
        z = rng.standard_normal(len(SIGMAS_DEG)) if terms is None else terms
        s = {k: v * sort.mount * t for (k, v), t in zip(SIGMAS_DEG.items(), z, strict=True)}
        self.mount = mount or HiddenMount(*(s[k] for k in SIGMAS_DEG))
        between = rng.random() < sort.between
        self.way = float(rng.uniform(0.05, 0.95) if between else rng.choice([0.0, 0.5, 1.0]))
        self.way = self.way if way is None else way
        self.clock = bool(rng.integers(2)) if clock is None else clock
        self.wait = float(rng.uniform(20, 60))
        first, second = vec(pair)
        self.second_early = sky_turn(-self.wait) @ second
        self.first, self.second = first, second
        really = first
        if wrong:
            side = np.cross(first, rng.standard_normal(3))
            really = turn(side, float(rng.uniform(4, 12))) @ first
        self.readings = (
            self.mount.reads(off(really, rng, self.rough)),
            self.mount.reads(off(second, rng, self.rough)),
        )
        told = listed(first if self.clock else sky_turn(self.wait) @ first)
        on, second = [vec(r) for r in self.readings], listed(second)
        self.box = frame(on[0], on[1], self.way) @ frame(told, second, self.way).T
        apart = [math.degrees(math.acos(np.clip(p @ q, -1, 1))) for p, q in ((told, second), on)]
        self.number = round(apart[1] - apart[0], 1)
        if sort.misread and rng.random() < 0.005:
            self.number += round(some_degrees(rng)[0], 1)
        if sort.misread and rng.random() < 0.01:
            self.number = -self.number
        self.seen: list[Array] = []
        self.left: list[Array] = []

    def left_at(self, v: Array, reading: Array) -> Array:
        d = place(self.box @ listed(v)) - reading - self.slip
        d[0] = (d[0] + 180.0) % 360.0 - 180.0
        return np.asarray(d)

    def beyond(self, v: Array) -> Array:
        """From the zero to the object, as it is."""
        return -self.left_at(v, self.mount.reads(v))

    def look_back(self) -> None:
        """So many seconds later, while the sky turns on."""
        reading, now = self.readings[1], sky_turn(float(self.rng.uniform(10, 60))) @ self.second
        if self.sort.recentred and self.rng.random() < self.sort.recentred:
            reading = self.mount.reads(off(now, self.rng, self.rough))
        self.seen.append(now)
        self.left.append(np.round(self.left_at(now, reading), 1))

    def find(self, v: Array) -> None:
        misread = np.zeros(2)
        if self.sort.misread and self.rng.random() < 0.01:
            self.slip = self.slip + some_degrees(self.rng)
        if self.sort.misread and self.rng.random() < 0.01:
            misread = some_degrees(self.rng)
        self.seen.append(v)
        left = self.left_at(v, self.mount.reads(off(v, self.rng, self.rough)))
        self.left.append(np.round(left + misread, 1))

    def asked(self, number: bool) -> Asked:
        sigma = np.zeros(N_TERMS)
        for k, v in SIGMAS_DEG.items():
            sigma[INDEX[k]] = math.radians(v)
        own = np.radians(place(np.stack([self.first, self.second])))
        late = np.radians(place(np.stack([sky_turn(self.wait) @ self.first, self.second])))
        at = np.radians(place(np.array(self.seen).reshape(-1, 3)))
        return Asked(
            Taught(own, own, late), math.radians(self.number) if number else None,
            ObjectPlaces(at, at), np.radians(np.array(self.left).reshape(-1, 2)),
            Priors(np.zeros(N_TERMS), sigma), math.radians(HAND_DEG), math.radians(0.1),
            self.clock, looked_back=bool(self.left),
        )  # fmt: skip


def somewhere(rng: np.random.Generator, n: int) -> Array:
    alt = np.degrees(
        np.arcsin(rng.uniform(math.sin(math.radians(20)), math.sin(math.radians(80)), n))
    )
    return vec(np.stack([rng.uniform(0, 360, n), alt], axis=-1))


def evenly(rng: np.random.Generator, n: int) -> Array:
    """(n, 6) normal deviates of a row's mounts: each column has one in each n-th of the normal law
    (a Latin hypercube, McKay et al. 1979, from memory), so that fewer evenings tell as much."""
    inverse = statistics.NormalDist().inv_cdf
    strata = np.stack([rng.permutation(n) for _ in SIGMAS_DEG], axis=-1)
    u = (strata + rng.uniform(size=strata.shape)) / n
    return np.array([[inverse(float(p)) for p in row] for row in u])


def evening(
    pair: Array,
    rng: np.random.Generator,
    sort: Sort = SORTS["as it should"],
    terms: Array | None = None,
    stages: Sequence[int] = tuple(range(5)),
) -> tuple[Array, Array, Array, float]:
    """(5, 6): whether each of six objects was in the field at each stage, and the chance stated;
    (5,) how many sigmas the stop is off what is said; how the box shares. NaN at other stages than
    ``stages``. A push on is told to 0.1 deg, and the hand stops anywhere within the last figure
    that the box shows."""
    night = Night(pair, rng, sort, terms=terms)
    targets, finds = somewhere(rng, 6), somewhere(rng, 4)
    readings = [night.mount.reads(v) for v in targets]
    radians = np.radians(place(targets))
    scale = np.stack([np.cos(radians[:, 1]), np.ones(6)], axis=-1)
    hit, said, off_stop = (np.full(shape, np.nan) for shape in ((5, 6), (5, 6), (5,)))
    for k in range(5):
        if k == 2:
            night.look_back()
        for v in finds[: 1 if k == 3 else 4][(1 if k == 4 else 0) :] if k >= 3 else ():
            night.find(v)
        if k not in stages:
            continue
        # Each time anew: something may have slipped.
        truth = -np.array([night.left_at(v, r) for v, r in zip(targets, readings, strict=True)])
        seen = outlook(night.asked(k > 0))
        lies = seen.lies(ObjectPlaces(radians, radians), FIELD_DEG)
        push = np.zeros((6, 2)) if k == 0 else np.degrees([it.push for it in lies]).round(1)
        miss = truth - push - rng.uniform(-0.05, 0.05, (6, 2))
        miss[:, 0] = (miss[:, 0] + 180.0) % 360.0 - 180.0
        hit[k] = np.linalg.norm(miss * scale, axis=1) < FIELD_DEG / 2
        said[k] = [it.hit_chance_at_zero if k == 0 else it.hit_chance for it in lies]
        stop, sigma = seen.stop()
        off_stop[k] = (math.radians(night.mount.stop) - stop) / sigma
    return hit, said, off_stop, night.way


def deciles(said: Array, hit: Array) -> None:
    """``said`` and ``hit`` (evenings, pushes). The objects of one evening share its mount, so the
    uncertainty of a frequency goes by evenings."""
    for low in np.arange(0, 1, 0.1):
        rows = (said >= low) & (said < low + 0.1 + (low > 0.85))
        evenings = rows.any(axis=1).sum()
        if evenings >= 40:
            off = np.nansum(np.where(rows, hit - said, 0.0), axis=1)
            sigma = 100 * math.sqrt(float(np.sum(off**2))) / rows.sum()
            print(
                f"  stated {100 * said[rows].mean():5.1f}  hit {100 * hit[rows].mean():5.1f}"
                f" ± {sigma:3.1f}  {rows.sum()} pushes of {evenings} evenings",
                flush=True,
            )


def main(evenings: int, sorts: list[str], stages: int = 5, seed: int = 0, keep: str = "") -> None:
    """Each evening is asked at one stage, the stages in turn: the objects and stages of one evening
    share its mount, so another evening tells more than another stage."""
    for sort in sorts:
        rng = np.random.default_rng(20270128 + seed)
        all_said, all_hit, stops, ways = [], [], [], []
        print(f"\n{sort}: {SORTS[sort]}; per cent in the field (stated) ± of the former")
        print(f"{'':<24}" + "".join(f"{s:>18}" for s in STAGES))
        for name, pair in PAIRS.items():
            runs = [
                evening(np.array(pair), rng, SORTS[sort], m, (k,))
                for k in range(stages)
                for m in evenly(rng, evenings)
            ]
            hit, said = np.array([r[0] for r in runs]), np.array([r[1] for r in runs])
            stops.append(np.array([r[2] for r in runs]))
            ways.append(np.array([r[3] for r in runs]))
            print(
                f"{name:<24}" + "".join(told(hit[:, k], said[:, k]) for k in range(5)), flush=True
            )
            all_said.append(said)
            all_hit.append(hit)
        said, hit = np.concatenate(all_said), np.concatenate(all_hit)
        if keep:
            said, hit = pooled(Path(keep), sort, seed, said, hit)
        for k, stage in enumerate(STAGES):
            print(f" {stage}")
            deciles(said[:, k], hit[:, k])
        print(" all stages")
        deciles(said.reshape(len(said), -1), hit.reshape(len(hit), -1))
        print(" by how the box shares, each stage")
        said, hit, shares = np.concatenate(all_said), np.concatenate(all_hit), np.concatenate(ways)
        for what, rows in (
            *((f"{x:g}", shares == x) for x in (0.0, 0.5, 1.0)),
            ("any other", ~np.isin(shares, (0.0, 0.5, 1.0))),
        ):
            if rows.any():
                each = (told(hit[rows, k], said[rows, k]) for k in range(5))
                print(f"  {what:<10}" + "".join(each))
        off = np.concatenate(stops)
        print("stop within one and two stated sigmas, per cent, each stage:")
        for n in (1, 2):
            print(
                "  ",
                *(f"{100 * np.mean(np.abs(x[~np.isnan(x)]) < n):5.1f}" for x in off.T[:stages]),
            )


def pooled(path: Path, sort: str, seed: int, said: Array, hit: Array) -> tuple[Array, Array]:
    """With those of other seeds that lie there; kept there itself."""
    there: dict[str, Array] = dict(np.load(path)) if path.exists() else {}
    there[f"{sort}/{seed}"] = np.stack([said, hit])
    np.savez(path, **there)  # type: ignore[arg-type] # its stub takes the names for options
    both = np.concatenate([x for k, x in there.items() if k.partition("/")[0] == sort], axis=1)
    return both[0], both[1]


def told(hit: Array, said: Array) -> str:
    """ "61.2 (64.0) ± 1.1" of (evenings, 6), where it was asked."""
    rows = ~np.isnan(said).any(axis=1)
    if not rows.any():
        return f"{'–':>18}"
    h, s = hit[rows].mean(axis=1), said[rows].mean()
    own = h.std() / math.sqrt(len(h))
    return f"{100 * h.mean():8.1f} ({100 * s:.1f}) ± {100 * own:.1f}"


if __name__ == "__main__":
    words = sys.argv[2:]
    named = dict(w.split("=", 1) for w in words if "=" in w)
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 150,
        [w for w in words if "=" not in w] or list(SORTS),
        int(named.get("stages", 5)),
        int(named.get("seed", 0)),
        named.get("keep", ""),
    )
