"""What to know of a comet or minor planet, in words: how bright, and how old its elements are."""

from __future__ import annotations

import math

from plumbstar.sky import bodies
from plumbstar.sky.minor import DOUBT_MAG, OLD_DAYS, TOO_OLD_DAYS, MinorBody
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
    if days > TOO_OLD_DAYS[m.sort]:
        return f"{said} They are too old: it may stand outside the field. Fetch newer ones."
    if days > OLD_DAYS[m.sort]:
        return f"{said} They are old: it may stand some arcminutes aside. Fetch newer ones."
    return said


def about(target: Target, at: Instant) -> tuple[str, ...]:
    """Sentences on what moves by elements; nothing of anything else."""
    if not isinstance(target, MinorBody):
        return ()
    return f"{words.upper_first(brightness(target, at))}.", age(target, at)
