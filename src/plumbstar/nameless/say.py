"""The names that were found, in words."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.nameless.deciding import ColourAsked, PartAsked
from plumbstar.nameless.solved import FoundName, NamedFix
from plumbstar.text.words import chance, joined

#: So sure on average one more star decides; less of a turn than this, degrees, is none.
_DECIDES, _STAY_DEG = 0.96, 20.0


def which(names: Sequence[FoundName | None]) -> tuple[str, ...]:
    """A sentence for each star that was not named, by its place among the sightings."""
    return tuple(_one(_ordinal(k), n) for k, n in enumerate(names, 1) if n is not None)


def _one(nth: str, n: FoundName) -> str:
    others = " or ".join(f"{star} ({chance(p)})" for star, p in n.others[:2] if p >= 0.02)
    if n.star is None:
        may = f"; it may be {others}" if others else ""
        return f"The {nth} star fits no bright star: left out{may}."
    if n.sure:
        return f"The {nth} star was {n.star}, {chance(n.probability)}."
    may = f", or {others}" if others else ""
    p = n.probability
    was = "may have been" if p < 0.5 else "was probably" if p < 0.9 else "was"
    return f"The {nth} star {was} {n.star} ({chance(n.probability)}){may}."


def part(p: PartAsked, circle_reads: str = "the azimuth circle reads") -> str:
    """Where one more star would decide. ``circle_reads``: how what tells the azimuth is called."""
    height = "higher than halfway up" if p.upper else "lower than halfway up"
    circle = f"about {p.low_deg:.0f} to {p.high_deg:.0f}"
    what = "decides" if p.sure > _DECIDES else "tells most"
    if abs(p.turn_deg) < _STAY_DEG:
        way = f"keep the tube turned about as it is ({circle_reads} {circle})"
    else:
        way = f"turn the tube {turned(p.turn_deg)}, until {circle_reads} {circle}"
    return f"One more star {what}: {way}, and take the brightest star there that stands {height}."


def turned(turn_deg: float) -> str:
    """ "a quarter turn to the right" from where it is."""
    size, side = abs(turn_deg), "to the right" if turn_deg > 0 else "to the left"
    if size > 160:
        return "half round"
    if size <= 45:
        return f"a little {side}"
    more = "less than " if size <= 75 else "more than " if size > 105 else ""
    return f"{more}a quarter turn {side}"


def question(asked: ColourAsked, place: int | None = None) -> str:
    """The plain question that would decide as well. ``place``: the star's among those without a
    name, where these alone are counted."""
    nth = _ordinal((asked.entry if place is None else place) + 1)
    orange, white = " or ".join(asked.orange), " or ".join(asked.white)
    would = (
        f" Then it is {orange}, else {white}."
        if asked.orange and asked.white
        else f" Then it is {orange}."
        if asked.orange
        else ""
    )
    return f"Is the {nth} star deep orange?{would}"


def which_brighter(first: int, second: int) -> tuple[str, tuple[str, str]]:
    """The question by their places among those without a name, and what each is then called."""
    a, b = _ordinal(first + 1), _ordinal(second + 1)
    return f"Which looked brighter, the {a} star or the {b}?", (f"The {a}", f"The {b}")


def lines(named: NamedFix) -> tuple[str, ...]:
    """All that is to be said for a terminal."""
    out = list(which(named.names))
    if named.next is not None:
        if named.next.part is not None:
            out.append(part(named.next.part))
        if named.next.asked is not None:
            out.append(f"{question(named.next.asked)} Write '? orange' or '? white' as its star.")
        if not named.sure:
            out.append("The chances allow for every naming that fits.")
    return tuple(out)


def _ordinal(n: int) -> str:
    words = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
    return words[n - 1] if n <= len(words) else f"{n}th"


def sentence(named: NamedFix) -> str:
    """All nameless stars in one line, for a screen."""
    told = [n for n in named.names if n is not None]
    stars = [n.star or "none that fits" for n in told]
    least = min(n.probability for n in told)
    were = "That was" if len(told) == 1 else "Those were"
    return f"{were} {joined(stars)}, {chance(least)}."
