"""What the plain questions and one more star settle, where nameless stars do not name all.

    python design/nameless_asked.py [evenings [stars [seed [HABIT ...]]]]

Evenings as in design/nameless_stars.py. "Plain": every star counts as named. "Asked": a question
is, of those left, and a second one where the first did not settle it; "answered": named then, by an
observer who calls a star orange from a B-V of 1.2 on, seen with an error of 0.2 (one sigma), and
says the contrary of it once in fifteen; who compares two stars as they stand, in air that takes
0.15 to 0.5 magnitudes overhead, with an error of 0.35 (one sigma), and says the contrary of it once
in thirty. "Sent":
those left are sent to a part of the sky; "void": no star brighter than magnitude 3 is there;
"fourth": named with the brightest there in place of an answer. "Both": named by the one or, where
it did not settle it, both. "Right": of those, all rightly. Then of each row how often the
likeliest naming was right in every star, how often it had over 99 in 100, and how often that was
right: before any question, and with its answers. Last what was said after an answer, and what was
so.

Conclusion: see docs/method.md, "Nameless stars".
"""

from __future__ import annotations

import itertools
import math
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from nameless_stars import CENTRING, DrawnEvening, evening

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Colour, Unnamed
from plumbstar.nameless.brightness import Compared
from plumbstar.nameless.deciding import BrighterAsked, PartAsked, next_look
from plumbstar.nameless.eligible import Eligible, eligible
from plumbstar.nameless.namings import NAMED_SURELY, NONE, Naming, namings, probabilities

#: Of these it is told how many were rightly named.
KEPT = ("plain", "answered", "fourth", "both")
HABITS = ("to 2.3", "to 3.0", "bright", "modest")
PRIOR, NOISE = Priors.from_kit(Kit()), Noise.from_kit(Kit())


def named(
    seen: Sequence[Unnamed], sky: Eligible, compared: Compared = ()
) -> tuple[tuple[Naming, ...], list[str], bool]:
    """The namings, the stars of the likeliest, and whether each counts as named."""
    found = namings(seen, sky, PRIOR, NOISE, compared=compared)
    stars = found[0].stars
    told = probabilities(found)
    sure = all(p[k] >= NAMED_SURELY and k != NONE for p, k in zip(told, stars, strict=True))
    return found, ["" if k == NONE else sky.names[k] for k in stars], sure


def brighter(drawn: DrawnEvening, q: BrighterAsked, rng: np.random.Generator) -> tuple[int, int]:
    """Which of the two that observer calls the brighter one: it, and the other."""
    lost, seen = float(rng.uniform(0.15, 0.5)), []
    for entry in (q.first, q.second):
        row = drawn.sky.names.index(drawn.names[entry])
        up = math.sin(float(drawn.sky.places[entry, row, 1]))
        seen.append(float(drawn.sky.v[row]) + lost / up)
    first = seen[1] - seen[0] + 0.35 * rng.standard_normal() > 0
    if rng.uniform() < 1 / 30:
        first = not first
    return (q.first, q.second) if first else (q.second, q.first)


def answer(drawn: DrawnEvening, entry: int, rng: np.random.Generator) -> Colour:
    """What that observer says of a star's colour."""
    bv = float(np.nan_to_num(drawn.sky.bv[drawn.sky.names.index(drawn.names[entry])], nan=0.6))
    orange = bv + 0.2 * rng.standard_normal() > 1.2
    if rng.uniform() < 1 / 15:
        orange = not orange
    return Colour.ORANGE if orange else Colour.WHITE


def fourth(
    drawn: DrawnEvening, part: PartAsked, rng: np.random.Generator
) -> tuple[Unnamed, str] | None:
    """The brightest star of the part, centred."""
    at = drawn.seen[-1].utc.plus_seconds(120.0)
    sky = eligible([at], drawn.site)
    wide = (part.high_deg - part.low_deg) % 360.0
    there = []
    for k in np.flatnonzero((sky.v < 3.0) & (sky.places[0, :, 1] > math.radians(12))):
        if sky.names[k] in drawn.names:
            continue
        az, alt = sky.places[0, k]
        d = np.array([math.cos(alt) * math.sin(az), math.cos(alt) * math.cos(az), math.sin(alt)])
        off = d + rng.standard_normal(3) * math.radians(CENTRING / 60)
        read = np.degrees(drawn.mount.reads(off / np.linalg.norm(off), drawn.last_az))
        if (read[0] - part.low_deg) % 360.0 < wide and (read[1] > 45.0) == part.upper:
            there.append(
                (float(sky.v[k]), Unnamed(at, float(read[0]), float(read[1])), sky.names[k])
            )
    return min(there, key=lambda row: row[0])[1:] if there else None


def goals(habit: str, told: Sequence[tuple[bool, float, bool, float]]) -> str:
    """Of evenings (right before, its probability; with the answers, its probability) a line."""
    cells = []
    for right, p in (([r[0] for r in told], [r[1] for r in told]),
                     ([r[2] for r in told], [r[3] for r in told])):  # fmt: skip
        first, sure = np.array(right), np.array(p) > 0.99
        true = f"{100 * first[sure].mean():.1f}" if sure.any() else "-"
        cells.append(f"{100 * first.mean():.1f} first, {100 * sure.mean():.1f} over 99 ({true})")
    return f"  {habit:<8} before: {cells[0]}; asked: {cells[1]}"


def main() -> None:
    evenings, stars_each, seed = (
        int(sys.argv[k]) if len(sys.argv) > k else usual for k, usual in ((1, 200), (2, 3), (3, 7))
    )
    after: list[tuple[float, bool]] = []
    names = ("plain", "right", "asked", "answered", "right", "sent", "void", "fourth", "right",
             "both", "right")  # fmt: skip
    print(f"{evenings} evenings a row of {stars_each} stars; per cent of them")
    print(f"{'':<8}" + "".join(f"{x:>9}" for x in names))
    for habit in sys.argv[4:] or HABITS:
        told: list[tuple[bool, float, bool, float]] = []
        rng = np.random.default_rng(seed)
        n: Counter[str] = Counter()
        right: Counter[str] = Counter()
        count = 0
        while count < evenings:
            drawn = evening(rng, habit, stars_each)
            if drawn is None:
                continue
            count += 1
            found, stars, sure = named(drawn.seen, drawn.sky)
            before = stars == drawn.names, found[0].probability
            if sure:
                told.append((*before, *before))
                for name in KEPT:
                    n[name] += 1
                    right[name] += stars == drawn.names
                continue
            look = next_look(drawn.seen, found, drawn.sky, drawn.site)
            said, settled = list(drawn.seen), False
            compared: list[tuple[int, int]] = []
            question = look.question
            n["asked"] += question is not None
            for _ in range(2):
                if question is None or settled:
                    break
                if isinstance(question, BrighterAsked):
                    compared.append(brighter(drawn, question, rng))
                else:
                    i = question.entry
                    said[i] = replace(said[i], colour=answer(drawn, i, rng))
                found, stars, settled = named(said, drawn.sky, compared)
                question = next_look(said, found, drawn.sky, drawn.site, compared).question
            told.append((*before, stars == drawn.names, found[0].probability))
            if said != drawn.seen or compared:
                after.append((found[0].probability, stars == drawn.names))
            if settled:
                for name in ("answered", "both"):
                    n[name] += 1
                    right[name] += stars == drawn.names
            if look.part is None:
                continue
            n["sent"] += 1
            more = fourth(drawn, look.part, rng)
            if more is None:
                n["void"] += 1
                continue
            truth = [*drawn.names, more[1]]
            sky = eligible([s.utc for s in (*drawn.seen, more[0])], drawn.site)
            _, stars, sure = named([*drawn.seen, more[0]], sky)
            if sure:
                n["fourth"] += 1
                right["fourth"] += stars == truth
            if not settled:
                _, stars, sure = named([*said, more[0]], sky, compared)
                if sure:
                    n["both"] += 1
                    right["both"] += stars == truth
        cells = []
        for name in ("plain", "asked", "answered", "sent", "void", "fourth", "both"):
            cells.append(f"{100 * n[name] / evenings:.0f}")
            if name in KEPT:
                cells.append(f"{100 * right[name] / n[name]:.1f}" if n[name] else "-")
        print(f"{habit:<8}" + "".join(f"{c:>9}" for c in cells), flush=True)
        print(goals(habit, told), flush=True)
    for low, high in itertools.pairwise((0.0, 0.8, 0.95, 0.99, 1.01)):
        here = [(p, so) for p, so in after if low < p <= high]
        if here:
            said_so, were = (100 * np.array(here)).mean(axis=0)
            print(f"after an answer {len(here):4} said {said_so:5.1f}, were {were:5.1f}")


if __name__ == "__main__":
    main()
