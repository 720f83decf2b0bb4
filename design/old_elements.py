"""How far off is a comet or minor planet by elements that are some months old?

Sixty invented bodies of each kind are carried forward with the pull of the eight planets (their
places by plan94) and without it, from one state; what parts the two, as seen from the Earth, is
what old elements cost. Jets of comets, and the doubt of an orbit found from few weeks, are not in
it. Run: python design/old_elements.py (a minute).

Printed on 2026-11-29, arcminutes (median, nine in ten, worst):

    days                 100             200             400             800            1600
    belt             0.0 0.1 0.2     0.1 0.4 0.5     0.5 1.3 2.9    3.3 12.0 34.9   7.8 34.1  58.9
    near the Earth   0.0 0.1 0.8     0.1 0.4 2.4     0.6 1.5 9.5    2.0  9.5 25.3   2.9 16.6  44.1
    short comet      0.0 0.1 1.1     0.1 0.3 0.9     0.4 0.7 1.8    1.0  4.4 23.7   2.7 25.5 177.4
    long comet       0.0 0.1 0.2     0.1 0.2 0.4     0.2 0.5 1.2    0.6  1.0  3.1   1.5  2.4   5.2

Conclusion: for a year the planets' pull is within a few arcminutes and no matter in a finding
eyepiece; from two years on a body may stand half a field aside. So elements of minor planets are
called old after 400 days and too old after 800; of comets, for what is not counted here, after 100
and 400 (judgement).
"""

from __future__ import annotations

import erfa
import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline

from plumbstar.sky.orbits import SunOrbit
from plumbstar.units import Array

K2 = 0.01720209895**2
#: Sun's mass over each planet's with its moons (IAU 2009 system, from memory), plan94's order.
MASSES = np.array(
    [6023600.0, 408523.7, 328900.56, 3098703.6, 1047.3486, 3497.898, 22902.98, 19412.24]
)
DAYS = (100, 200, 400, 800, 1600)
EACH = 60
BEGIN = 2461000.5


def planets(rng_days: Array) -> CubicSpline:
    """Heliocentric places of the eight, au, by day from BEGIN."""
    at = [np.stack([erfa.ufunc.plan94(BEGIN, rng_days, k)[0]["p"]]).squeeze() for k in range(1, 9)]
    return CubicSpline(rng_days, np.stack(at, axis=1))


def _cubed(p: Array) -> Array:
    """Vectors (n, 3) over the third power of their lengths."""
    return np.asarray(p / np.linalg.norm(p, axis=1)[:, None] ** 3)


def state(o: SunOrbit, day: float) -> Array:
    """Place and speed (6,) at a day, au and au a day, by differences of the exact place."""
    h = 1e-3
    p = [o.place(BEGIN, day + d) for d in (-2 * h, -h, 0.0, h, 2 * h)]
    return np.concatenate([p[2], (p[0] - 8 * p[1] + 8 * p[3] - p[4]) / (12 * h)])


def pulled(s0: Array, sky: CubicSpline, day: float) -> Array:
    """Places (len(DAYS), 3) after so many days, with the planets."""

    def rate(t: float, s: Array) -> Array:
        r = s[:3]
        acc = -K2 * r / np.linalg.norm(r) ** 3
        p = sky(t)
        d = p - r
        acc += K2 * ((_cubed(d) - _cubed(p)) / MASSES[:, None]).sum(axis=0)
        return np.concatenate([s[3:], acc])

    done = solve_ivp(
        rate, (day, day + DAYS[-1]), s0, "DOP853", t_eval=[day + d for d in DAYS], rtol=1e-11,
        atol=1e-13,
    )  # fmt: skip
    return np.asarray(done.y[:3].T)


def invented(kind: str, rng: np.random.Generator, day: float) -> SunOrbit:
    node, argument = rng.uniform(0, 360, 2)
    if kind == "belt":
        a, e, i = rng.uniform(2.2, 3.3), rng.uniform(0.02, 0.25), rng.uniform(0, 18)
        q, peri = a * (1 - e), rng.uniform(-1000, 1000)
    elif kind == "near the Earth":
        a, e, i = rng.uniform(0.9, 2.2), rng.uniform(0.2, 0.6), rng.uniform(0, 25)
        q, peri = a * (1 - e), rng.uniform(-300, 300)
    elif kind == "short comet":
        q, e, i = rng.uniform(0.9, 2.0), rng.uniform(0.5, 0.85), rng.uniform(2, 30)
        peri = rng.uniform(-150, 150)
    else:
        q, e, i = rng.uniform(0.4, 2.0), 1.0, np.degrees(np.arccos(rng.uniform(-1, 1)))
        peri = rng.uniform(-150, 150)
    return SunOrbit(q, e, argument, node, i, BEGIN + day + peri, BEGIN + day)


def main() -> None:
    grid = np.arange(-5.0, 5200.0, 1.0)
    sky = planets(grid)
    rng = np.random.default_rng(20261129)
    print("arcminutes: median, nine in ten, worst after " + ", ".join(map(str, DAYS)) + " days")
    for kind in ("belt", "near the Earth", "short comet", "long comet"):
        off = np.empty((EACH, len(DAYS)))
        for n in range(EACH):
            day = float(rng.uniform(0, 3500))
            o = invented(kind, rng, day)
            with_them = pulled(state(o, day), sky, day)
            for k, d in enumerate(DAYS):
                earth = erfa.epv00(BEGIN, day + d)[0]["p"]
                a, b = with_them[k] - earth, o.place(BEGIN, day + d) - earth
                cross = np.linalg.norm(np.cross(a, b))
                off[n, k] = np.degrees(np.arctan2(cross, a @ b)) * 60.0
        rows = [np.percentile(off[:, k], [50, 90, 100]) for k in range(len(DAYS))]
        print(f"{kind:15}", " | ".join(" ".join(f"{x:5.1f}" for x in r) for r in rows))


if __name__ == "__main__":
    main()
