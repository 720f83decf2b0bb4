"""How honest the judge of defocused stars is about phones held at a slant, soft and burnt pictures.

Run: .venv/bin/python design/collimation_seen.py [of each sort] [seed] [sorts]   (100: ten minutes)

The pictures are those of tests/projected.py: made by projecting rays, with a hidden truth, phones
tilted by up to 8 degrees, lenses of 24 to 78 mm, one in four cut out by hand, a quarter to a third
burnt out. Each sort is told apart from the others: a sigma that is too wide for one and too narrow
for another would look well in a mixture. Prints the tables of
docs/collimate.md: with nothing known of the camera and with its lens told, by each answer to where
the star stood; and as if no phone were ever held at a slant. The judge's figures were fitted on
seed 1.

Along and across: the part of the error along the offset read and across it. Across is of mirrors
out of line only: of those in line the offset read is the error, and lies along itself.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from plumbstar.collimate import Camera, StarPlace, judge
from projected import Picture, Shot, mixed, shoot, truth

SORTS = ("level", "tilted", "soft", "blurred", "small", "all together", "star aside")


def draw(sort: str, rng: np.random.Generator, seed: int) -> Shot:
    """Level: under 1 degree, else to 8. Sharp, but for soft (blur of 4 %) and blurred (8 %)."""
    if sort == "all together":
        return mixed(rng, seed)
    s = mixed(rng, seed, 1.0 if sort in ("level", "star aside") else 8.0)
    if sort == "tilted" and math.hypot(s.tilt_right_deg, s.tilt_down_deg) < 1.0:
        return draw(sort, rng, seed)
    blur = {"soft": 0.04, "blurred": 0.08}.get(sort) or float(rng.choice([0.01, 0.02]))
    s = replace(s, blur_part=blur)
    if sort == "small":  # 28 to 72 pixels across
        radius = math.degrees(math.atan(rng.uniform(14, 36) / s.focal_px))
        blur = float(rng.choice([0.01, 0.02, 0.04]))
        s = replace(s, crop=None, radius_deg=radius, blur_part=blur)
    if sort == "star aside":  # and the phone follows it, as one who wants the disc in the middle
        far, way = rng.uniform(3.0, 6.0), rng.uniform(0, 2 * math.pi)
        right, down = far * math.cos(way), far * math.sin(way)
        s = replace(
            s, crop=None, star_right_deg=s.star_right_deg + right,
            star_down_deg=s.star_down_deg + down, tilt_right_deg=s.tilt_right_deg + right,
            tilt_down_deg=s.tilt_down_deg + down,
        )  # fmt: skip
    return s


def lens_mm(s: Shot) -> float:
    """As a file tells it."""
    return s.focal_px / math.hypot(s.width, s.height) * 43.27


def said(place: StarPlace, lens: bool, s: Shot) -> Camera:
    """What is told of a picture: where the star stood, and the lens if its file has it."""
    return Camera(lens_mm=lens_mm(s) if lens else None, star=place)


def main(pictures: int, seed: int, *sorts: str) -> None:
    taken: dict[str, list[tuple[Shot, Picture]]] = {}
    for sort in sorts or SORTS:
        rng = np.random.default_rng([seed, SORTS.index(sort)])
        shots = [draw(sort, rng, 1000 * seed + k) for k in range(pictures)]
        taken[sort] = [(s, shoot(s)) for s in shots]
    cameras: list[tuple[str, Callable[[Shot], Camera]]] = [
        (f"{lens}, star {place.value}", partial(said, place, lens == "lens told"))
        for lens in ("nothing known", "lens told")
        for place in StarPlace
    ]
    for name, camera in [*cameras, ("no slant", lambda s: Camera(straight=True))]:
        print(f"{name}: judged; error in %: median, 95 %, worst; stated;")
        print("  within 1, 2, 3 sigma along; across; sent to a screw with mirrors in line")
        for sort, those in taken.items():
            score(sort, those, camera)


def score(name: str, those: list[tuple[Shot, Picture]], camera: Callable[[Shot], Camera]) -> None:
    along, across, error, stated, screws = [], [], [], [], []
    for s, picture in those:
        c = judge(picture, camera=camera(s))
        if not c.can_judge:
            continue
        right, down = c.offset_right - truth(s)[0], c.offset_down - truth(s)[1]
        error.append(100 * math.hypot(right, down))
        stated.append(100 * c.offset_sigma)
        x, y = c.offset_right / c.offset_fraction, c.offset_down / c.offset_fraction
        along.append(abs(right * x + down * y) / c.offset_sigma)
        if s.right == 0.0 == s.down:
            screws.append(c.severity != "centred")
        else:
            across.append(abs(down * x - right * y) / c.across_sigma)
    q = ", ".join(f"{x:.2f}" for x in np.percentile(error, [50, 95, 100]))
    a, b = (", ".join(f"{100 * (np.array(z) < k).mean():.0f}" for k in (1, 2, 3))
            for z in (along, across))  # fmt: skip
    print(f"  {name:13s} {len(error):3d} of {len(those)}   {q}   {np.median(stated):.2f}"
          f"   {a}   {b}   {sum(screws)} of {len(screws)}", flush=True)  # fmt: skip


if __name__ == "__main__":
    asked = [*sys.argv[1:], *("100", "3")[len(sys.argv) - 1 :]]
    main(int(asked[0]), int(asked[1]), *asked[2:])
