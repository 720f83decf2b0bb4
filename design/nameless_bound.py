"""How often two nameless stars can be named rightly at all: by one who knows every law exactly.

    python design/nameless_bound.py [evenings [seed]]

The evenings are those of design/nameless_asked.py with two stars, the same ones. Who names them
here knows what no program can: where the choice ends (magnitude 2.3 or 3.0; all stars from 12 to 80
degrees up at the first moment alike, no other), the mount's every sigma, the hand's, and that
nothing goes wrong. Nothing of the program's solver is used: the chance of the readings given a pair
of stars is an integral over mounts of design/nameless_stars.py (its formulas, over arrays), by
importance sampling about the likeliest mount, with the density of the readings themselves (a circle
counts more degrees for the same sky high up). The likeliest pair is then the best answer that there
is: no other is right more often.

"The program, told" has the same laws by its own arithmetic, as design/nameless_stars.py with
"told". "Either": as the first, but not told which of the two rows the evening is of; the ends 2.3
and 3.0 have the shares that stand before it.

Conclusion: see docs/method.md, "Nameless stars".
"""

from __future__ import annotations

import contextlib
import io
import math
import sys

import nameless_asked
import numpy as np
from nameless_stars import (
    CENTRING,
    CONE,
    DROOP,
    LEAN,
    SCALE,
    SQUARE,
    STOP,
    DrawnEvening,
    Mount,
    tell,
)
from nameless_stars import evening as drawn_evening

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.nameless.namings import NONE, namings
from plumbstar.units import Array

SIGMA = np.array([*np.radians([STOP, LEAN, LEAN, SQUARE, CONE, DROOP]), SCALE, SCALE])
HAND = math.radians(CENTRING / 60)
ENDS = (2.3, 3.0)
GOALS = (88.0, 74.0)
#: Pairs whose readings are weighed by sampling, and mounts drawn for each.
LIKELIEST, DRAWS = 30, 400


def looks(x: Array, az: float, alt: float) -> tuple[Array, Array]:
    """Where tubes of mounts ``x`` (..., 9: stop, lean north and west, squareness, cone, droop, both
    scales, zero) point with these readings (..., 3), and the sky that a step of both covers."""
    stop, north, west, square, cone, droop, s_az, s_alt, zero = np.moveaxis(x, -1, 0)
    turn = az * (1 + s_az) + zero
    lift = alt * (1 + s_alt) + stop
    grows = 1 + droop * np.sin(lift)
    lift = lift - droop * np.cos(lift)
    v = np.stack([np.sin(cone), np.cos(cone) * np.cos(lift), np.cos(cone) * np.sin(lift)], -1)
    c, s, none = np.cos(square), np.sin(square), np.zeros_like(square)
    v = np.stack([c * v[..., 0] + s * v[..., 2], v[..., 1], c * v[..., 2] - s * v[..., 0]], -1)
    bearing = np.stack([c, none, -s], -1)

    def turned(u: Array) -> Array:
        ct, st = np.cos(turn), np.sin(turn)
        return np.stack(
            [ct * u[..., 0] + st * u[..., 1], ct * u[..., 1] - st * u[..., 0], u[..., 2]], -1
        )

    v, bearing = turned(v), turned(bearing)
    # Of two turns about z and the bearing: u . (z x bearing).
    covers = np.abs(v[..., 1] * bearing[..., 0] - v[..., 0] * bearing[..., 1])
    covers = covers * (1 + s_az) * (1 + s_alt) * grows
    size = np.maximum(np.hypot(north, west), 1e-12)
    axis = np.stack([-north / size, -west / size, none], -1)
    cl, sl = np.cos(size)[..., None], np.sin(size)[..., None]
    along = (axis * v).sum(-1)[..., None]
    return cl * v + sl * np.cross(axis, v) + (1 - cl) * along * axis, covers


def unit(place: Array) -> Array:
    az, alt = place[..., 0], place[..., 1]
    return np.stack([np.cos(alt) * np.sin(az), np.cos(alt) * np.cos(az), np.sin(alt)], -1)


def _missed(x: Array, read: Array, toward: Array, sigma: Array) -> Array:
    """What mounts (h, 9) leave over, in sigmas (h, 14): of both stars in space, and the beliefs."""
    off = [(looks(x, *read[k])[0] - toward[:, k]) / HAND for k in (0, 1)]
    return np.concatenate([*off, x[:, :8] / sigma], axis=1)


def log_chance(read: Array, toward: Array, sigma: Array, rng: np.random.Generator) -> Array:
    """Log of the density (h,) of readings (2, 2) given where both stars stood (h, 2, 3)."""
    h = len(toward)
    x = np.zeros((h, 9))
    star_az = np.arctan2(toward[..., 0], toward[..., 1])
    weight = 1 - toward[..., 2] ** 2 + 1e-3
    x[:, 8] = np.angle((weight * np.exp(1j * (star_az - read[:, 0]))).sum(axis=1))
    small = 1e-6
    for _ in range(8):
        r = _missed(x, read, toward, sigma)
        steps = [(_missed(x + small * e, read, toward, sigma) - r) / small for e in np.eye(9)]
        J = np.stack(steps, axis=-1)
        H = np.einsum("hij,hik->hjk", J, J)
        x -= np.linalg.solve(H, np.einsum("hij,hi->hj", J, r)[..., None])[..., 0]
    cost = 0.5 * (_missed(x, read, toward, sigma) ** 2).sum(axis=1)
    rough = -cost - 0.5 * np.linalg.slogdet(H)[1]
    best = np.argsort(-rough)[:LIKELIEST]
    out = np.full(h, -np.inf)
    # A little wider than the likeliest mount's covariance, so that no weight runs away.
    root = np.linalg.cholesky(np.linalg.inv(H[best]))
    z = rng.standard_normal((len(best), DRAWS, 9))
    wide = 1.15
    drawn = x[best, None] + wide * np.einsum("hij,hsj->hsi", root, z)
    log = 0.5 * (z**2).sum(-1) + np.log(np.diagonal(root, axis1=1, axis2=2)).sum(-1)[:, None]
    log -= 0.5 * ((drawn[..., :8] / sigma) ** 2).sum(-1)
    for k in (0, 1):
        at, covers = looks(drawn, *read[k])
        along = np.clip((at * toward[best, None, k]).sum(-1), -1, 1)
        log += np.log(covers) - 0.5 * (np.arccos(along) / HAND) ** 2
    most = log.max(axis=1)
    out[best] = most + np.log(np.exp(log - most[:, None]).mean(axis=1))
    return out


class Weighed:
    """The pairs of one evening, with the log of the chance of the readings by each."""

    def __init__(self, e: DrawnEvening, sigma: Array, rng: np.random.Generator) -> None:
        alt = np.degrees(e.sky.places[0, :, 1])
        may = (alt > 12) & (alt < 80)
        self.numbers = [int((may & (e.sky.v < end)).sum()) for end in ENDS]
        rows = np.flatnonzero(may & (e.sky.v < ENDS[1]))
        read = np.radians([[s.az_reading_deg, s.alt_reading_deg] for s in e.seen])
        a, b = (g.ravel() for g in np.meshgrid(rows, rows, indexing="ij"))
        first, second = e.sky.places[0, a], e.sky.places[1, b]
        d, seen = np.stack([unit(first), unit(second)], axis=1), unit(read)
        apart = np.arccos(np.clip((d[:, 0] * d[:, 1]).sum(-1), -1, 1))
        was = math.acos(float(np.clip(seen[0] @ seen[1], -1, 1)))
        near = (a != b) & (abs(first[:, 1] - read[0, 1]) < 0.2)
        near &= (abs(second[:, 1] - read[1, 1]) < 0.2) & (abs(apart - was) < 0.1)
        self.a, self.b = a[near], b[near]
        self.log = log_chance(read, d[near], sigma, rng)
        self.faint = np.maximum(e.sky.v[self.a], e.sky.v[self.b])
        names = [e.sky.names.index(n) for n in e.names]
        self.true = (self.a == names[0]) & (self.b == names[1])

    def told(self, shares: tuple[float, float]) -> tuple[bool, float]:
        """Whether the likeliest is right, and its probability, where the ends have these shares."""
        prior = np.zeros(len(self.log))
        for end, n, share in zip(ENDS, self.numbers, shares, strict=True):
            prior += np.where(self.faint < end, share / max(n * (n - 1), 1), 0.0)
        p = prior * np.exp(self.log - self.log.max())
        k = int(np.argmax(p))
        return bool(self.true[k]), float(p[k] / p.sum())


def same_evenings(habit: str, evenings: int, seed: int) -> tuple[list[DrawnEvening], str]:
    """Those that design/nameless_asked.py draws, and what it says of them."""
    kept: list[DrawnEvening] = []

    def keep(rng: np.random.Generator, habit: str, n: int) -> DrawnEvening | None:
        made = drawn_evening(rng, habit, n)
        if made is not None:
            kept.append(made)
        return made

    nameless_asked.evening = keep  # type: ignore[attr-defined]
    sys.argv = ["", str(evenings), "2", str(seed), habit]
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        nameless_asked.main()
    nameless_asked.evening = drawn_evening  # type: ignore[attr-defined]
    return kept, next(line for line in said.getvalue().splitlines() if "before:" in line)


def program_told(made: list[DrawnEvening], end: float) -> float:
    """How often the program is right first when it is told all this: it stays so."""
    tell(end)
    prior, noise = Priors.from_kit(Kit()), Noise.from_kit(Kit())
    right = 0
    for e in made:
        best = namings(e.seen, e.sky, prior, noise)[0]
        right += ["" if k == NONE else e.sky.names[k] for k in best.stars] == e.names
    return 100 * right / len(made)


def check_of_the_formulas() -> None:
    """The arrays say what the evenings' own mount says."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        m = Mount(rng)
        at = float(rng.uniform(0, 6)), float(rng.uniform(0.2, 1.4))
        axis = m.base @ np.array([0, 0, 1.0])
        lean = math.acos(float(axis[2])) * axis[:2] / math.hypot(*axis[:2])
        x = np.array([m.stop, lean[1], -lean[0], m.square, m.cone, m.droop, *m.scale, m.zero])
        here, covers = looks(x, *at)
        assert np.allclose(here, m.looks(*at), atol=1e-12), (here, m.looks(*at))
        d = 1e-6
        steps = [m.looks(at[0] + d, at[1]) - here, m.looks(at[0], at[1] + d) - here]
        assert abs(np.linalg.norm(np.cross(steps[0], steps[1])) / d**2 - covers) < 1e-4


def main() -> None:
    evenings = int(sys.argv[1]) if len(sys.argv) > 1 else 900
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 4242
    check_of_the_formulas()
    made = {}
    for end, goal in zip(ENDS, GOALS, strict=True):
        made[end], said = same_evenings(f"to {end}", evenings, seed)
        print(f"goal {goal:.0f}; the program {said.strip()}", flush=True)
    rng = np.random.default_rng(1)
    weighed = {end: [Weighed(e, SIGMA, rng) for e in made[end]] for end in ENDS}
    for end in ENDS:
        p, so = _told(weighed[end], tuple(float(end == x) for x in ENDS))
        print(f"to {end}: told where it ends, first {so:.1f}, its own probability {p:.1f}")
    for share in (0.1, 0.3, 0.5, 0.7, 0.9, 0.95):
        both = [_told(weighed[end], (share, 1 - share))[1] for end in ENDS]
        print(f"either, {share:.2f} to 2.3: first {both[0]:.1f} and {both[1]:.1f}")
    for end in ENDS:
        print(f"the program, told, to {end}: first {program_told(made[end], end):.1f}", flush=True)


def _told(weighed: list[Weighed], shares: tuple[float, ...]) -> tuple[float, float]:
    told = np.array([w.told((shares[0], shares[1])) for w in weighed], dtype=float)
    return 100 * float(told[:, 1].mean()), 100 * float(told[:, 0].mean())


if __name__ == "__main__":
    main()
