"""Plain words for numbers, the same on every screen and in every command."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

_COMPASS = (
    "north", "north-north-east", "north-east", "east-north-east",
    "east", "east-south-east", "south-east", "south-south-east",
    "south", "south-south-west", "south-west", "west-south-west",
    "west", "west-north-west", "north-west", "north-north-west",
)  # fmt: skip


class TermWords(NamedTuple):
    """How a term of the mount is spoken of.

    ``name`` is its one name on every screen, fit for the middle of a sentence; ``positive`` what a
    positive value means to a person; ``unit`` in which it is shown.
    """

    name: str
    positive: str
    unit: Literal["deg", "percent"] = "deg"


#: Every term of the mount in words, by the name that files and JSON use. The only such table.
TERM_WORDS = {
    "azimuth_zero": TermWords("azimuth zero", "the azimuth reads low by this"),
    "altitude_zero": TermWords("upright stop", "the altitude reads low by this"),
    "lean_north": TermWords("lean north", "the azimuth axis tips toward north"),
    "lean_west": TermWords("lean west", "the azimuth axis tips toward west"),
    "squareness": TermWords("squareness", "the right-hand bearing is low"),
    "cone": TermWords("cone", "the tube points right of square"),
    "droop": TermWords("droop", "the tube sags when level"),
    "azimuth_scale": TermWords("azimuth scale", "the azimuth reading turns too little", "percent"),
    "altitude_scale": TermWords(
        "altitude scale", "the altitude reading turns too little", "percent"
    ),
    "azimuth_runout_sin": TermWords(
        "azimuth circle off centre, east-west part", "the circle is off centre"
    ),
    "azimuth_runout_cos": TermWords(
        "azimuth circle off centre, north-south part", "the circle is off centre"
    ),
    "refraction": TermWords("refraction left over", "the altitude reads high, most so low down"),
}


def term(key: str) -> str:
    """The name of a term of the mount: "altitude_zero" is the "upright stop"."""
    return TERM_WORDS[key].name


def term_key(text: str) -> str:
    """The key of a term that a person named by its key or by its name, as "upright stop"."""

    def bare(name: str) -> str:
        return name.strip().casefold().replace("-", "_").replace(" ", "_")

    by_name = {bare(said.name): key for key, said in TERM_WORDS.items()}
    return by_name.get(bare(text), bare(text))


def upper_first(text: str) -> str:
    """For a sentence that begins with words made for the middle of one."""
    return text[:1].upper() + text[1:]


def clean(text: str) -> str:
    """One line of printable text: what a log, a CSV cell and a terminal can all carry."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def many(n: int, noun: str) -> str:
    """A count with its noun: "1 object", "12 objects"."""
    return f"{n} {noun}{'' if n == 1 else 's'}"


def joined(names: Sequence[str]) -> str:
    """One after another, the last with "and": "Capella, Rigel and Sirius"."""
    return " and ".join([", ".join(names[:-1]), *names[-1:]] if len(names) > 1 else names)


def spoken(name: str) -> str:
    """The name of a star or a body within a sentence: "the Moon", "the Sun"."""
    return f"the {name}" if name in ("Moon", "Sun") else name


def both(before: str, after: str) -> str:
    """Two sightings, one after the other, for after "between": "Capella and Rigel"; of one star
    "the two sightings of Capella"."""
    if before == after:
        return f"the two sightings of {spoken(before)}"
    return f"{spoken(before)} and {spoken(after)}"


def in_order(names: Sequence[str]) -> str:
    """One to be done after another: "Capella, then Rigel, then Sirius"."""
    return ", then ".join(names)


def compass(az_deg: float, points: int = 16) -> str:
    """The nearest of 8 or 16 compass points, in words."""
    step = 16 // points
    return _COMPASS[round(az_deg / (360 / points)) % points * step]


def where(az_deg: float, alt_deg: float) -> str:
    """Where to look: "high in the south-east", "almost overhead"."""
    if alt_deg < 0:
        return f"below the horizon in the {compass(az_deg, 8)}"
    if alt_deg > 80:
        return "almost overhead"
    height = "low" if alt_deg < 25 else "halfway up" if alt_deg < 50 else "high"
    return f"{height} in the {compass(az_deg, 8)}"


def colour(bv: float) -> str:
    """How a star of that B-V looks to most eyes (common practice, no source)."""
    if math.isnan(bv):
        return ""
    for limit, word in (
        (-0.05, "blue-white"),
        (0.30, "white"),
        (0.60, "cream"),
        (1.00, "yellow"),
        (1.40, "orange"),
    ):
        if bv < limit:
            return word
    return "deep orange"


def chance(p: float | None) -> str:
    """A chance, for the middle of a sentence: "95 in 100", "over 99 in 100", "under 1 in 100".

    Never none and never certain; "unknown" for None and nan. The one wording of a chance wherever
    a person reads it; a column of figures has plain numbers out of 100.
    """
    if p is None or math.isnan(p):
        return "unknown"
    # With both ends: what was rounded to three figures is exactly there often enough.
    if p >= 0.995:
        return "over 99 in 100"
    return "under 1 in 100" if p <= 0.005 else f"{100.0 * p:.0f} in 100"


def about_chance(p: float) -> str:
    """A chance that is a rough one: "about 55 in 100"; at the ends "over" and "under" say it."""
    return chance(p) if p >= 0.995 or p <= 0.005 else f"about {chance(p)}"


def lit(fraction: float) -> str:
    """How much of a body's disc is lit: "55% lit"."""
    return f"{fraction:.0%} lit"


def degrees(value: float, sigma: float | None = None) -> str:
    """A signed angle for a table, with its sigma when given."""
    text = f"{value:+.2f}°"
    return text if sigma is None else f"{text} ± {sigma_words(sigma)}°"


def push_on(az_deg: float, alt_deg: float, between: str = " and ") -> str:
    """As a hand is told, right and up positive: "0.4° left and 0.2° up"; empty for nothing."""
    parts = []
    if abs(az_deg) >= 0.05:
        parts.append(f"{abs(az_deg):.1f}° {'right' if az_deg > 0 else 'left'}")
    if abs(alt_deg) >= 0.05:
        parts.append(f"{abs(alt_deg):.1f}° {'up' if alt_deg > 0 else 'down'}")
    return between.join(parts)


def with_unit(value: float, unit: str, digits: int = 2) -> str:
    """A number with its unit: "0.05°" for "deg", "1.20 mm"."""
    return f"{value:.{digits}f}{'°' if unit == 'deg' else f' {unit}' if unit else ''}"


def magnitude(v: float) -> str:
    """A magnitude, or a dash when it is not known."""
    return "–" if math.isnan(v) else f"{round(v, 1) + 0.0:.1f}"  # never "-0.0"


def sigma_words(sigma: float) -> str:
    """A sigma to two decimals; what is not nought is not written as 0.00."""
    return f"{max(sigma, 0.01) if sigma > 0 else 0.0:.2f}"


def sigma_with_unit(sigma: float, unit: str) -> str:
    """The same with its unit, as :func:`with_unit` writes it."""
    return with_unit(max(sigma, 0.01) if sigma > 0 else 0.0, unit)
