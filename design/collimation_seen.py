"""How honest the judge of defocused stars is about phones held at a slant, soft and burnt pictures.

Run: .venv/bin/python design/collimation_seen.py [pictures] [seed]     (120 take about two minutes)

The pictures are those of tests/projected.py: made by projecting rays, with a hidden truth, phones
tilted by 0 to 8 degrees, lenses of 24 to 78 mm, one in four cut out by hand. Prints the figures
that docs/collimate.md quotes: with nothing known of the camera, with its lens told, and as if no
phone were ever held at a slant.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from plumbstar.collimate import Camera, judge
from projected import Picture, Shot, mixed, shoot, truth


def main(pictures: int = 120, seed: int = 2014) -> None:
    rng = np.random.default_rng(seed)
    shots = [mixed(rng, i) for i in range(pictures)]
    taken = [(s, shoot(s)) for s in shots]
    score("nothing known", [(s, p, Camera()) for s, p in taken])
    score("lens told", [(s, p, Camera(lens_mm=lens_mm(s))) for s, p in taken])
    score("tilt denied", [(s, p, Camera(straight=True)) for s, p in taken])


def lens_mm(s: Shot) -> float:
    """As a file tells it."""
    return s.focal_px / math.hypot(s.width, s.height) * 43.27


def score(name: str, taken: list[tuple[Shot, Picture, Camera]]) -> None:
    along, across, error, stated, screws = [], [], [], [], []
    for s, picture, camera in taken:
        c = judge(picture, camera=camera)
        if not c.can_judge:
            print(f"  refused: {c.reason[:60]}")
            continue
        right, down = c.offset_right - truth(s)[0], c.offset_down - truth(s)[1]
        x, y = c.offset_right / c.offset_fraction, c.offset_down / c.offset_fraction
        along.append(abs(right * x + down * y) / c.offset_sigma)
        across.append(abs(down * x - right * y) / c.across_sigma)
        error.append(100 * math.hypot(right, down))
        stated.append(100 * c.offset_sigma)
        if s.right == 0.0 == s.down:
            screws.append(c.severity != "centred")
    q = ", ".join(f"{x:.2f}" for x in np.percentile(error, [50, 95, 100]))
    print(f"{name}: {len(error)} of {len(taken)} judged")
    print(f"  error in %: median, 95 %, worst: {q}; stated {np.median(stated):.2f} in the median")
    for way, z in (("along", np.array(along)), ("across", np.array(across))):
        print(f"  within 1, 2, 3 sigma {way}: "
              + ", ".join(f"{100 * (z < k).mean():.1f} %" for k in (1, 2, 3)))  # fmt: skip
    print(f"  mirrors in line and sent to a screw: {sum(screws)} of {len(screws)}")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
