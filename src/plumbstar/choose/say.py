"""What is said of the stars chosen."""

from __future__ import annotations

from collections.abc import Iterable

from plumbstar.choose.candidates import Candidate
from plumbstar.choose.lookalikes import LookAlike
from plumbstar.choose.ranking import TOO_HIGH_DEG, TOO_LOW_DEG, NextStar
from plumbstar.sky.lists.catalogue import Star
from plumbstar.text import words


def look_alike(a: LookAlike, wanted: Star) -> str:
    """Which is which, in words: direction, distance, brightness, colour."""
    side = "right" if a.right_deg > 0 else "left"
    way = "above" if a.up_deg > 0 else "below"
    right, up = abs(a.right_deg), abs(a.up_deg)
    lies = (
        f"straight {way}" if right < 0.4 * up else f"to the {side}" if up < 0.4 * right
        else f"{way} and to the {side}"
    )  # fmt: skip
    dv = a.star.v_mag - wanted.v_mag
    light = (
        "as bright" if abs(dv) < 0.15
        else f"{abs(dv):.1f} magnitudes {'fainter' if dv > 0 else 'brighter'}"
    )  # fmt: skip
    tint, own = words.colour(a.star.bv), words.colour(wanted.bv)
    hue = f", {tint} where {wanted.label} is {own}" if tint and own and tint != own else ""
    return f"{a.star.label} lies {a.distance_deg:.0f}° {lies}, {light}{hue}."


def confusable(c: Candidate, a: LookAlike) -> str:
    """A warning of one of a star's look-alikes."""
    return f"Not to be taken for {c.star.label}: {look_alike(a, c.star)}"


def cautions(stars: Iterable[Candidate]) -> tuple[str, ...]:
    """What to look out for, star by star."""
    out = []
    for c in stars:
        if c.lookalikes:
            out.append(confusable(c, c.lookalikes[0]))
        if c.alt_deg > TOO_HIGH_DEG:
            out.append(
                f"{c.star.label} is {c.alt_deg:.0f}° up: there a small push turns the azimuth far."
            )
        if c.alt_deg < TOO_LOW_DEG:
            out.append(f"{c.star.label} is low, {c.alt_deg:.0f}° up.")
    return tuple(out)


def next_sentence(step: NextStar) -> str:
    """The best next star, and what it buys."""
    name = step.candidate.star.label
    if step.changes_little:
        return f"Good enough: the best next star, {name}, would change little."
    now, after = words.chance(step.now), words.chance(step.after)
    where = words.where(step.candidate.az_deg, step.candidate.alt_deg)
    return f"Next, {name}, {where}: {after} targets will be in the field, now {now}."
