"""The way to a star in words: for whoever cannot see the drawing, and under it."""

from __future__ import annotations

import math

from plumbstar.choose.say import look_alike
from plumbstar.starway.way import HAND_DEG, From, StarWay
from plumbstar.text import words
from plumbstar.text.words import upper_first
from plumbstar.turns import one_turn_deg

_COUNT = {
    0.5: "half a hand", 1.0: "one hand", 1.5: "a hand and a half", 2.0: "two hands",
    2.5: "two hands and a half", 3.0: "three hands", 3.5: "three hands and a half",
    4.0: "four hands", 4.5: "four hands and a half", 5.0: "five hands",
    5.5: "five hands and a half",
}  # fmt: skip
_UP_COUNT = ("", "one hand", "two hands", "three hands", "four hands", "five hands", "six hands")
#: Higher than this it is said to be nearly overhead, degrees.
_OVERHEAD_DEG = 67.0


def hands(deg: float) -> str:
    """ "two hands": an angle in hand's breadths, to half a one."""
    if deg < 3.5:
        return "three fingers" if deg > 2.0 else "just beside it"
    return _COUNT[min(max(round(deg / HAND_DEG * 2) / 2, 0.5), 5.5)]


def direction(right_deg: float, up_deg: float) -> str:
    """ "up and right", as the observer sees it."""
    turn = one_turn_deg(math.degrees(math.atan2(right_deg, up_deg)))
    names = ("up", "up and right", "right", "down and right", "down", "down and left", "left",
             "up and left")  # fmt: skip
    return names[round(turn / 45.0) % 8]


def way(w: StarWay) -> str:
    """The way from the landmark; empty where none helps."""
    return "" if w.begin is None else _from(w, w.begin)


def _from(w: StarWay, b: From) -> str:
    name, mark = w.star.label, b.landmark.name
    where = direction(*b.seen(w.place))
    if b.member:
        said = f"{name} is one of {mark.rstrip(',')}: look at its {_side(where)} end"
        if b.distance_deg < 2.0:
            said = f"{name} is the middle one of {mark.rstrip(',')}"
    elif b.line:
        said = f"follow {b.line} on, {where}, for {hands(b.distance_deg)}: there is {name}"
    else:
        near = f"the near end of {mark}" if b.near_end else mark
        far = hands(b.distance_deg)
        said = f"from {near} go {where}, {far}: there is {name}"
        if b.distance_deg <= 2.0:
            said = f"{name} is {far}: {mark}"
    dark = "" if b.shows else "when it is darker, "
    return f"{upper_first(dark + said)}."


def _side(where: str) -> str:
    sides = {"up": "top", "down": "bottom", "left": "left", "right": "right"}
    words_ = [sides[part] for part in where.split(" and ")]
    return " ".join(words_)


def place(w: StarWay) -> str:
    """Where it stands over the horizon, and how it looks."""
    az, alt = w.place
    toward = words.compass(az, 8)
    if alt > _OVERHEAD_DEG:
        stands = f"nearly overhead, toward {toward}"
    elif alt < 5.0:
        stands = f"just over the horizon in the {toward}"
    else:
        count = _UP_COUNT[max(1, min(6, round(alt / HAND_DEG)))]
        stands = f"in the {toward}, {count} above the horizon"
    tint = words.colour(w.star.bv)
    looks = "the brightest star thereabouts" if w.brightest else ""
    more = ", ".join(x for x in (looks, tint) if x)
    return f"It stands {stands}{': ' + more if more else ''}."


def confusing(w: StarWay) -> tuple[str, ...]:
    """A sentence for each star that it may be taken for."""
    return tuple(look_alike(a, w.star) for a in w.alike)


def in_words(w: StarWay) -> str:
    """All of it, for who hears the page."""
    return " ".join(x for x in (way(w), place(w), *confusing(w)) if x)


#: Said once beside a drawing. Common practice, no source.
HAND = "A hand is a fist’s breadth at arm’s length, 10°."
