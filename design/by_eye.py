"""How far off an eye and a hand set a drawn shadow in a drawn ring that shall look like a star.

Run: .venv/bin/python design/by_eye.py [people] [seed]     (4000 people take some seconds)

Nobody was measured. What is drawn here is an eye with a threshold: it compares the ring's width on
two opposite sides, up with down and left with right, and tells two lengths apart when they differ
by a part w. Side by side, at leisure, that is 2 to 5 % (Weber fractions of lengths, from memory);
2 to 8 % are drawn, since the ring shimmers and one of the two views is always remembered. Each
setting: a glance at the star, a drag from the page's starting place, and an end anywhere inside the
threshold, on the side from which the hand came. Half the people glance once and then go by memory,
though the page asks them to look again. The phone is held up to some degrees out of line with the
head; a head beside the eyepiece's axis makes one side of the ring look wider.

The judge (plumbstar.collimate.by_eye) knows none of that: it has one scatter and one bias, and
these figures are where they come from.
"""

from __future__ import annotations

import math
import sys

import numpy as np

from plumbstar.collimate import Setting, combine, judge_by_eye
from plumbstar.units import Array

STARTS = np.array([(0.14, 0.0), (-0.07, 0.12), (-0.07, -0.12)])  # as static/byeye.js
ROLL_DEG = 6.0  # 1 sigma, a phone held beside an eyepiece: common practice, no source
BESIDE = 0.01  # 1 sigma on each axis, disc radii: common practice, no source


def ratio(at: Array, shadow: float) -> Array:
    """ln of the ring's width on one side over that on the other, on both axes."""
    out: Array = np.log((1 - shadow - at) / (1 - shadow + at))
    return out


def place(ln: Array, shadow: float) -> Array:
    """The inverse of :func:`ratio`."""
    out: Array = (1 - shadow) * (1 - np.exp(ln)) / (1 + np.exp(ln))
    return out


def held(rng: np.random.Generator) -> tuple[float, Array]:
    """How the phone is turned and where the head is: the same on both sides of focus."""
    return math.radians(ROLL_DEG) * rng.normal(), BESIDE * rng.normal(size=2)


def person(
    rng: np.random.Generator,
    true: Array,
    shadow: float,
    w: float,
    again: bool,
    how: tuple[float, Array] | None = None,
) -> tuple[list[Setting], Array]:
    """Three settings, and what this person's own are all off by."""
    a, beside = held(rng) if how is None else how
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    seen = turn @ true + beside
    one = w * math.sqrt(2.0)  # two lengths, each as uncertain
    glance = ratio(seen, shadow) + one * rng.normal(size=2)
    out = []
    for start in STARTS:
        if again:
            glance = ratio(seen, shadow) + one * rng.normal(size=2)
        way = ratio(start, shadow) - glance
        near = min(1.0, one / max(float(np.hypot(*way)), 1e-9)) * rng.random() * way
        x, y = place(glance + near + one * rng.normal(size=2), shadow)
        out.append(Setting(float(x), float(y), shadow))
    return out, seen


def main(people: int = 4000, seed: int = 7) -> None:
    rng = np.random.default_rng(seed)
    print("an eye that tells apart   one setting, %   all three alike, %   their mean, %")
    for w in (0.02, 0.04, 0.06, 0.08):
        scatter, mean, alike = [], [], []
        for i in range(people // 4):
            true = rng.normal(0, 0.06, 2)
            s, _ = person(rng, true, 0.25, w, again=i % 2 == 0)
            at = np.array([(t.right, t.down) for t in s])
            scatter.append(((at - at.mean(axis=0)) ** 2).sum() / 4)
            mean.append(((at.mean(axis=0) - true) ** 2).mean())
            alike.append(mean[-1] - scatter[-1] / 3)
        one, b, m = (100 * math.sqrt(max(float(np.mean(v)), 0.0)) for v in (scatter, alike, mean))
        print(f"  {100 * w:.0f} %" + "".join(f"{v:20.1f}" for v in (one, b, m)))
    for name, size in (("in line", 0.0), ("a little off", 0.05), ("far off", 0.2)):
        along, across, centred, error, stated = [], [], 0, [], []
        for _ in range(people // 4):
            way = rng.uniform(0, 2 * math.pi)
            true = size * np.array([math.cos(way), math.sin(way)])
            w = math.exp(rng.uniform(math.log(0.02), math.log(0.08)))
            s, _ = person(rng, true, rng.uniform(0.18, 0.35), w, rng.random() < 0.5)
            c = judge_by_eye(s)
            off = np.array([c.offset_right, c.offset_down]) - true
            x, y = c.offset_right / c.offset_fraction, c.offset_down / c.offset_fraction
            along.append(abs(off @ (x, y)) / c.offset_sigma)
            across.append(abs(off @ (-y, x)) / c.across_sigma)
            error.append(100 * float(np.hypot(*off)))
            stated.append(100 * c.offset_sigma)
            centred += c.severity == "centred"
        q = ", ".join(f"{v:.1f}" for v in np.percentile(error, [50, 95, 100]))
        print(f"{name} ({100 * size:.0f} %): error in %: median, 95 %, worst: {q};"
              f" stated {np.median(stated):.1f}")  # fmt: skip
        for word, z in (("along", np.array(along)), ("across", np.array(across))):
            print(f"  within 1, 2, 3 sigma {word}: "
                  + ", ".join(f"{100 * (z < k).mean():.0f} %" for k in (1, 2, 3)))  # fmt: skip
        print(f"  called centred: {100 * centred / len(along):.0f} in 100")
    both_sides(people // 4, rng)


def both_sides(people: int, rng: np.random.Generator) -> None:
    """Coma, and a part that turns over, set from both sides: the discs alike to 15 % either way."""
    print("both sides of focus; also 5 % that is no coma")
    for size in (0.0, 0.05, 0.15):
        along, across, centred, error, stated, one_side = [], [], 0, [], [], []
        for _ in range(people):
            way, other = rng.uniform(0, 2 * math.pi, 2)
            coma = size * np.array([math.cos(way), math.sin(way)])
            fixed = 0.05 * np.array([math.cos(other), math.sin(other)])
            w = math.exp(rng.uniform(math.log(0.02), math.log(0.08)))
            shadow, again, how = rng.uniform(0.18, 0.35), bool(rng.random() < 0.5), held(rng)
            like = math.exp(rng.uniform(-0.15, 0.15))
            out = judge_by_eye(person(rng, coma + fixed, shadow, w, again, how)[0])
            inn = judge_by_eye(person(rng, coma / like - fixed, shadow, w, again, how)[0])
            c = combine(out, inn)
            off = np.array([c.offset_right, c.offset_down]) - coma
            x, y = c.offset_right / c.offset_fraction, c.offset_down / c.offset_fraction
            along.append(abs(off @ (x, y)) / c.offset_sigma)
            across.append(abs(off @ (-y, x)) / c.across_sigma)
            error.append(100 * float(np.hypot(*off)))
            alone = np.array([out.offset_right, out.offset_down]) - coma
            one_side.append(100 * float(np.hypot(*alone)))
            stated.append(100 * c.offset_sigma)
            centred += c.severity == "centred"
        q, p = (", ".join(f"{v:.1f}" for v in np.percentile(e, [50, 95, 100]))
                for e in (error, one_side))  # fmt: skip
        print(f"coma {100 * size:.0f} %: error in %: median, 95 %, worst: {q}; stated "
              f"{np.median(stated):.1f}; of one side alone {p}")  # fmt: skip
        for word, z in (("along", np.array(along)), ("across", np.array(across))):
            print(f"  within 1, 2, 3 sigma {word}: "
                  + ", ".join(f"{100 * (z < k).mean():.0f} %" for k in (1, 2, 3)))  # fmt: skip
        print(f"  called centred: {100 * centred / len(along):.0f} in 100")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
