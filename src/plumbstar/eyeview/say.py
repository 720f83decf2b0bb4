"""The picture in a sentence: what the object looks like, and the star by which to know the place.

Everything said is read off the picture's own geometry. How an object of each kind looks is common
practice, no source.
"""

from __future__ import annotations

import math
from itertools import combinations

from plumbstar.eyeview.model import EyePair, EyeStar, EyeView, Outline, Way
from plumbstar.sky.bodies import Body
from plumbstar.sky.jovian import Hidden
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.minor import MinorBody
from plumbstar.text import words

_AROUND = (
    "right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right",
)  # fmt: skip
_BESIDE = (
    "to the right", "to the upper right", "above", "to the upper left",
    "to the left", "to the lower left", "below", "to the lower right",
)  # fmt: skip
#: Length as a part of the field's diameter, up to which each word holds.
_PARTS = (
    (0.035, "a thirtieth"), (0.045, "a twenty-fifth"), (0.06, "a twentieth"), (0.08, "a fifteenth"),
    (0.11, "a tenth"), (0.14, "an eighth"), (0.18, "a sixth"), (0.225, "a fifth"),
    (0.29, "a quarter"), (0.41, "a third"), (0.58, "half"), (0.71, "two thirds"),
    (0.85, "three quarters"),
)  # fmt: skip
#: Kind -> (drawn out, round or unknown, small): how it looks to the eye.
_LOOKS = {
    "galaxy": ("a pale oval", "a pale round glow", "a small pale smudge"),
    "open cluster": ("a scatter of stars", "a scatter of stars", "a small knot of stars"),
    "globular cluster": ("a round misty ball", "a round misty ball", "a small misty ball"),
    "planetary nebula": ("an oval disc", "a grey disc", "a point softer than a star"),
    "nebula": ("a pale drawn-out patch", "a pale patch", "a small pale patch"),
    "reflection nebula": ("a pale drawn-out patch", "a pale patch", "a small pale patch"),
    "cluster with nebula": (
        "a scatter of stars in a pale haze", "a scatter of stars in a pale haze",
        "a small knot of stars in haze",
    ),
    "group of stars": ("a group of stars", "a group of stars", "a small group of stars"),
    "supernova remnant": ("a faint drawn-out haze", "a faint haze", "a small faint haze"),
    "dark nebula": ("a gap among the stars", "a gap among the stars", "a small gap"),
}  # fmt: skip
_ANY = ("a pale drawn-out patch", "a pale patch", "a small pale patch")
_SMALL = 0.03  # of the field's diameter: below this the eye takes it for a point at first
_EVEN_MAG = 0.5  # two stars closer in brightness than this look alike


def eighth(way: Way) -> int:
    """The nearest of eight ways, from right, anticlockwise."""
    return round(math.degrees(math.atan2(way[1], way[0])) / 45.0) % 8


def side(way: Way) -> str:
    """``"upper left"``, ``"top"``: which part of the rim a way leads to."""
    return _AROUND[eighth(way)]


def place(x: float, y: float) -> str:
    """Where something stands: ``"just below"`` the middle, ``"near the upper left edge"``."""
    far = math.hypot(x, y)
    k = eighth((x, y))
    if far < 0.04:
        return "in the middle"
    if far > 0.7:
        rim = _AROUND[k].replace("bottom", "lower").replace("top", "upper")
        return f"near the {rim} edge"
    return ("just " if far < 0.3 else "") + _BESIDE[k]


def part(fraction: float) -> str:
    """A length as part of the field's diameter: ``"a third of the field"``."""
    for limit, word in _PARTS:
        if fraction <= limit:
            return f"{word} of the field"
    return "nearly the whole field"


def slant(angle_deg: float) -> str:
    """How something drawn out lies; ``angle_deg`` anticlockwise from the right, 0 to 180."""
    k = round(angle_deg / 45.0) % 4
    return (
        "lying level",
        "slanting from lower left to upper right",
        "standing upright",
        "slanting from upper left to lower right",
    )[k]


def _looks(kind: str, outline: Outline | None) -> str:
    """The object in a phrase, with its size and how it lies."""
    drawn_out, round_, small = _LOOKS.get(kind, _ANY)
    if outline is None:
        return round_
    if outline.half_length < _SMALL:
        return small
    if outline.half_breadth > 0.87 * outline.half_length:
        if outline.half_length > 1.0:
            return f"{round_}, larger than the field"
        return f"{round_}, {part(outline.half_length)} across"
    lies = slant(outline.angle_deg)
    if outline.half_length > 1.0:
        return f"{drawn_out}, longer than the field, {lies}"
    return f"{drawn_out} {part(outline.half_length)} long, {lies}"


def _object(view: EyeView) -> str:
    target = view.target
    if view.pair is not None:
        return _pair_of(view.pair)
    if isinstance(target, Star):
        own = next((s for s in view.stars if math.hypot(s.x, s.y) < 1e-6), None)
        colour = f"{own.colour} " if own is not None and own.colour else ""
        return f"{_a(colour + 'star')} of magnitude {words.magnitude(target.v_mag)}"
    if isinstance(target, MinorBody):
        return _minor(view, target)
    if isinstance(target, Body):
        return _disc(view, target)
    if target.kind == "place in the sky":
        return "nothing is listed at this place"
    return _looks(target.kind, view.outline)


def _pair_of(p: EyePair) -> str:
    """Both stars, how far apart, and which way the fainter lies."""
    lies = _fainter(p)
    beyond = "" if p.shows else ", fainter than this telescope shows"
    colours = f", {p.colours}" if p.colours and p.shows else ""
    return (
        f"two stars of magnitudes {words.magnitude(p.mag_a)} and {words.magnitude(p.mag_b)}"
        f"{colours}, {lies}{beyond}"
    )


def _fainter(p: EyePair) -> str:
    digits = 1 if p.separation_arcsec < 100.0 else 0
    way = side((p.x, p.y))
    return (
        f"the fainter {p.separation_arcsec:.{digits}f}″ toward the {way}, "
        f"at position angle {p.position_angle_deg:.0f}°"
    )


def _minor(view: EyeView, target: MinorBody) -> str:
    """A glow, or the point in the middle; and how it gives itself away: by its motion."""
    m = view.moves
    assert m is not None  # made with every view of one
    by = (
        f"{m.arcsec_per_hour:.0f}″" if m.arcsec_per_hour < 100 else f"{m.arcsec_per_hour / 60:.1f}′"
    )
    moves = f"moving by {by} an hour toward the {side(m.way)}"
    if target.sort == "comet":
        tail = "" if m.tail is None else f", its tail, if one shows, toward the {side(m.tail)}"
        return f"a pale round glow without an edge, {moves}{tail}"
    return f"a point like a star, the one in the middle, {moves}"


def _a(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def _disc(view: EyeView, body: Body) -> str:
    d = view.disc
    assert d is not None  # the Sun is no target for a telescope
    if body.name == "Moon":
        lit = f"the Moon, {words.lit(d.lit)}"
        size = "larger than the field" if d.radius > 1.0 else f"{part(d.radius)} across"
        shape = "" if d.lit > 0.97 else f", the bright side to the {side(d.sunward)}"
        return f"{lit}, {size}{shape}"
    seconds = d.radius * view.field_deg * 3600.0
    shape = "a small round disc" if d.lit > 0.9 else f"a small disc {words.lit(d.lit)}"
    lit_side = "" if d.lit > 0.9 else f", the bright side to the {side(d.sunward)}"
    size = part(d.radius) if d.radius > _SMALL else "tiny in this field"
    ring = ""
    if d.ring is not None:
        thin = d.ring.half_breadth < 0.1 * d.ring.half_length
        face = "north" if d.ring_tilt_deg > 0.0 else "south"
        open_ = f"open by {abs(d.ring_tilt_deg):.0f}° with its {face} side to us"
        lies = slant(d.ring.angle_deg)
        ring = f", with a ring {'seen almost edge on' if thin else open_}, {lies}"
    return f"{shape}, {seconds:.0f}″ across, {size}{lit_side}{ring}"


def _moons(view: EyeView) -> str:
    """Jupiter's moons in the order they stand, and what hides those that are not seen."""
    if not view.moons or not view.shows:
        return ""
    x, y = view.equator
    sign = -1.0 if x < -0.1 or (abs(x) <= 0.1 and y > 0.0) else 1.0  # from the left, or from above
    seen = [(sign * m.along, m.name) for m in view.moons if m.hidden is Hidden.NOT]
    row = [name for _, name in sorted([*seen, (0.0, "the planet")])]
    start, end = (-sign * x, -sign * y), (sign * x, sign * y)
    out = []
    if seen:
        out.append(f"From {side(start)} to {side(end)}: {', '.join(row)}.")
    for m in view.moons:
        if m.hidden is not Hidden.NOT:
            out.append(f"{m.name} is {_HIDDEN[m.hidden]}.")
        if m.shadow is not None:
            out.append(f"The shadow of {m.name} lies on the disc.")
    return " ".join(out)


_HIDDEN = {
    Hidden.IN_FRONT: "in front of the disc, hardly to be seen",
    Hidden.BEHIND: "behind the planet",
    Hidden.IN_SHADOW: "in the planet’s shadow, out of sight",
}


def _landmark(view: EyeView) -> str:
    """The star or pair by which the place is known."""
    target = view.target
    own = 0.02 if view.by_finder else 1e-6  # so near the middle it is a part of the target there
    others = [s for s in view.stars if math.hypot(s.x, s.y) > own]
    if view.pair is not None:
        p = view.pair
        others = [s for s in others if math.hypot(s.x - p.x, s.y - p.y) > 1e-6]
    crowd = target.kind in ("open cluster", "cluster with nebula", "group of stars")
    inside = view.outline.half_length if view.outline is not None and crowd else 0.0
    others = [s for s in others if math.hypot(s.x, s.y) > inside] or others
    other = "other star" if isinstance(target, Star) or view.pair is not None else "star"
    if not others:
        return f"no {other} to magnitude {view.limit_mag:.1f} in the field"
    pair = _pair(others)
    if pair is not None:
        a, b = pair
        where = place((a.x + b.x) / 2, (a.y + b.y) / 2)
        bright = words.magnitude((a.v_mag + b.v_mag) / 2)
        return f"a pair of stars of equal brightness {where}, of magnitude {bright}"
    first = others[0]
    # A number from a list is no name that helps at the eyepiece.
    name = f", {first.name}," if first.name and not first.name.startswith("HIP") else ""
    colour = f" {first.colour}" if first.colour else ""
    one = f"one{' other' if other != 'star' else ''}{colour} star{name}"
    which = one if len(others) == 1 else f"the brightest {other}{name}"
    what = f"of magnitude {words.magnitude(first.v_mag)}"
    if len(others) > 1 and colour:
        what = f"{first.colour}, {what}" if name else f"{first.colour} and {what}"
        which = which if name else f"{which},"
    return f"{which} {what}, {place(first.x, first.y)}"


def _pair(stars: list[EyeStar]) -> tuple[EyeStar, EyeStar] | None:
    """Two of the brightest four, alike and close, and not close to another as bright."""
    best = None
    for a, b in combinations(stars[:4], 2):
        apart = math.hypot(a.x - b.x, a.y - b.y)
        if not 0.02 < apart < 0.3 or abs(a.v_mag - b.v_mag) > _EVEN_MAG:
            continue
        if best is None or apart < best[0]:
            best = (apart, a, b)
    return None if best is None else (best[1], best[2])


def sentence(view: EyeView) -> str:
    """The picture in a sentence; of what is judged unlikely to show, where it would be."""
    if not view.shows and view.pair is not None:
        return f"The two will hardly part now: {_fainter(view.pair)}; {_landmark(view)}."
    if not view.shows:
        dots = (
            "the dots are where it lies"
            if view.outline is not None or view.disc is not None
            else "only its place is drawn"
        )
        return f"It will hardly show now: {dots}; {_landmark(view)}."
    if view.by_finder and view.disc is None and not isinstance(view.target, Star):
        return f"{view.label} belongs in the middle; {_landmark(view)}."
    said = f"{words.upper_first(_object(view))}; {_landmark(view)}."
    return " ".join(x for x in (said, _moons(view)) if x)


def notes(view: EyeView) -> tuple[str, ...]:
    """What else to know of it."""
    out = []
    if view.alt_deg < 0.0:
        out.append("It is below the horizon at that moment.")
    if view.list_is_limit and not view.by_finder:
        out.append(
            f"Stars are drawn to magnitude {view.limit_mag:g}, where the star list ends; the "
            f"telescope shows fainter ones, to about {view.telescope_limit_mag:.1f}."
        )
    if view.moves is not None and view.outline is not None:
        out.append("How wide a comet's head is, is a guess.")
    if view.size_unknown:
        out.append("Its size is not in the list, so no outline is drawn.")
    return tuple(out)


def ways(view: EyeView) -> str:
    """Where north and east lie, which way is up, and where things drift to."""
    out = f"North is at the {side(view.north)}, east at the {side(view.east)}"
    if view.mirrored:
        out += ", as in a mirror"
    out += f"; the zenith lies toward the {side(view.zenith)}."
    if view.drift is not None and not view.by_finder:
        minutes = view.minutes_to_edge
        long = f"{minutes * 60:.0f} s" if minutes < 2 else f"{minutes:.0f} min"
        drift = f"things drift to the {side(view.drift)}: {long} to the edge."
        out += f" If the telescope is not moved, {drift}"
    return out
