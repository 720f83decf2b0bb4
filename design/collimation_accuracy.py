"""How well the judge of defocused stars does, over random pictures of known truth.

Run: .venv/bin/python design/collimation_accuracy.py [pictures] [seed]     (600 take about 90 s)

The pictures are those of tests/defocused.py, taken without a slant. Prints the figures that
docs/collimate.md quotes; then the same for wave optics, where the reading is compared with
geometry.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from defocused import Scene, diffracted, photo, random_scene
from plumbstar.collimate import Camera, judge

NO_SLANT = Camera(straight=True)


def main(pictures: int = 600, seed: int = 600) -> None:
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(pictures):
        s = random_scene(rng, i)
        c = judge(photo(s), 5.2, camera=NO_SLANT)
        if not c.can_judge:
            continue
        true = np.array(s.truth())
        unit = true / np.hypot(*true)
        d = np.array([c.offset_right, c.offset_down]) - true
        cut = 1 - min(s.x, s.y, s.width - s.x, s.height - s.y) / s.radius
        rows.append(
            (
                float(np.hypot(*d)),
                abs(d @ unit) / c.offset_sigma,
                abs(d[1] * unit[0] - d[0] * unit[1]) / c.across_sigma,
                cut,
                s.noise,
                c.offset_sigma,
            )
        )
    e, along, across, cut, noise, sigma = np.array(rows).T
    print(f"{len(rows)} of {pictures} pictures judged")
    groups = [
        ("all", e >= 0),
        ("whole disc", cut <= 0),
        ("cut by up to a fifth of the radius", (cut > 0) & (cut <= 0.2)),
        ("cut by more", cut > 0.2),
        ("little noise", noise < 0.01),
        ("much noise", noise > 0.03),
    ]
    print("error in % of the disc's radius                    n  median    95 %   worst  stated")
    for name, m in groups:
        q = 100 * np.percentile(e[m], [50, 95, 100])
        print(
            f"  {name:44s} {m.sum():5d} {q[0]:7.2f} {q[1]:7.2f} {q[2]:7.2f} "
            f"{100 * np.median(sigma[m]):7.2f}"
        )
    for name, z in (("along the offset", along), ("across it", across)):
        inside = ", ".join(f"{100 * (z < k).mean():.0f} %" for k in (1, 2, 3))
        print(f"within 1, 2, 3 stated sigma, {name}: {inside}")
    burnt_out(60)
    print("wave optics, tone curve 1/2.2: waves of defocus, offset read over geometry, shadow/disc")
    for waves in (5, 8, 10, 16, 24):
        c = judge(diffracted(waves, 0.631)[0])
        ratio = abs(c.offset_right) / (1.5 * 0.631 / waves * (1 - 0.25**2))
        print(f"  {waves:3d}  {ratio:.2f}  {c.obstruction:.2f} (0.25 in geometry)")
    print("ten waves at f/5.2 are", f"{8 * 5.2**2 * 10 * 550e-6:.2f} mm of focuser travel")
    assert math.isfinite(float(e.max()))


def burnt_out(pictures: int) -> None:
    """Whole discs exposed longer and longer: what plain white does to the offset."""
    rng = np.random.default_rng(5)
    scenes: list[Scene] = []
    while len(scenes) < pictures:
        s = random_scene(rng, len(scenes))
        if min(s.x, s.y, s.width - s.x, s.height - s.y) >= s.radius:
            scenes.append(s)
    print(
        "burnt to white (median part of the disc), judged, error in %: median, 95 %, worst; stated"
    )
    for bright in (0.9, 1.3, 2.0, 4.0):
        rows = []
        for s in scenes:
            c = judge(photo(replace(s, bright=bright)), 5.2, camera=NO_SLANT)
            if c.can_judge:
                error = np.hypot(*(np.array([c.offset_right, c.offset_down]) - s.truth()))
                rows.append((c.burnt, error, c.across_sigma))
        part, e, sigma = np.array(rows).T
        q = ", ".join(f"{x:.2f}" for x in 100 * np.percentile(e, [50, 95, 100]))
        print(
            f"  {np.median(part):4.0%} {len(rows):5d} of {pictures}   {q}; "
            f"{100 * np.median(sigma):.2f}; within 2.45 sigma {np.mean(e < 2.45 * sigma):.0%}"
        )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
