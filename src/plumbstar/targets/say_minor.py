"""What to know of a comet or minor planet, in words: how bright, and how old its elements are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import get_args

from plumbstar.sky import bodies
from plumbstar.sky.minor import DOUBT_MAG, Freshness, MinorBody, Sort
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.text import words


def brightness(m: MinorBody, at: Instant) -> str:
    """ "magnitude about 8.3, give or take 1"."""
    if math.isnan(m.h_mag):
        return "of a brightness that its elements do not give"
    doubt = DOUBT_MAG[m.sort]
    v = words.magnitude(bodies.magnitude(m, at))
    return f"magnitude about {v}, give or take {doubt:g}"


def age(m: MinorBody, at: Instant) -> str:
    """How old its elements are at a moment, and what follows from that."""
    days = round(m.age_days(at))
    when = "before" if m.orbit.epoch_tt_jd <= at.jd1 + at.jd2 else "after"
    said = f"By elements of {m.epoch.iso()[:10]}, {words.many(days, 'day')} {when} this."
    follows: dict[Freshness, str] = {
        "fresh": "",
        "old": " They are old: it may stand some arcminutes aside. Fetch newer ones.",
        "too old": " They are too old: it may stand outside the field. Fetch newer ones.",
    }
    return f"{said}{follows[m.freshness(at)]}"


def of_file(bodies: Sequence[MinorBody], at: Instant) -> str:
    """What one file holds, and how far from a moment its elements are, on one line."""
    if not bodies:
        return "nothing in it can be read"
    counted = [
        words.many(n, sort) for sort in get_args(Sort) if (n := sum(m.sort == sort for m in bodies))
    ]
    days = sorted(round(m.age_days(at)) for m in bodies)
    span = f"{days[0]} to {days[-1]} days" if days[0] != days[-1] else words.many(days[0], "day")
    freshness = [m.freshness(at) for m in bodies]
    old, too_old = freshness.count("old"), freshness.count("too old")
    if not old + too_old:
        judged = "good for tonight"
    elif len(bodies) in (old, too_old):
        judged = "old" if old else "too old"
    else:
        judged = ", ".join(f"{n:,} {what}" for n, what in ((old, "old"), (too_old, "too old")) if n)
    return f"{words.joined(counted)}, elements {span} from today: {judged}"


def about(target: Target, at: Instant) -> tuple[str, ...]:
    """Sentences on what moves by elements; nothing of anything else."""
    if not isinstance(target, MinorBody):
        return ()
    return f"{words.upper_first(brightness(target, at))}.", age(target, at)
