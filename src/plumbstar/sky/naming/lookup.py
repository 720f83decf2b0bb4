"""Find anything by what a person types: star, deep-sky object, body, or coordinates."""

from __future__ import annotations

import contextlib
import math
import re

from plumbstar.errors import UserError
from plumbstar.sky import bodies
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue, deepsky
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.naming import minor_bodies, own_source
from plumbstar.sky.naming.names import either, fold, letters, near_rank, nearest
from plumbstar.sky.naming.nicknames import known_as
from plumbstar.sky.places import Target
from plumbstar.text.advice import Advice, Do

#: No name and no coordinates are longer: no time is spent on what is.
LONGEST = 200

_SIGNS = str.maketrans({"−": "-", "–": "-", "º": "°", "’": "'", "′": "'", "”": '"', "″": '"'})
_NUMBER = r"\d+(?:\.\d*)?"
_RA_HOURS = rf"({_NUMBER})\s*h(?:\s*({_NUMBER})\s*m(?:\s*({_NUMBER})\s*s?)?)?"
_RA_COLON = rf"(\d+):({_NUMBER})(?::({_NUMBER}))?"
_MINUTES = rf"({_NUMBER})\s*(?:[m':]\s*(?:({_NUMBER})\s*[s\"]?)?)?"
_DEC = rf"([+-]?)\s*({_NUMBER})\s*(?:[d°:]\s*(?:{_MINUTES})?)?"


def parse_coordinates(text: str) -> DeepSky | None:
    """Read ICRS J2000 coordinates as a plain place; None when the text is not coordinates.

    ``"05h35m17s -05d23m"``, ``"5:35:17 -5:23"``, or two numbers in degrees, ``"83.82 -5.39"``.
    Raises :class:`UserError` when they are coordinates but out of range.
    """
    t = " ".join(text.translate(_SIGNS).strip().split())
    hours = re.fullmatch(rf"(?:{_RA_HOURS}|{_RA_COLON})[\s,]*{_DEC}", t, re.IGNORECASE)
    if hours:
        g = hours.groups()
        h, m, s = (float(x or 0.0) for x in (g[:3] if g[0] is not None else g[3:6]))
        sign, d, dm, ds = g[6:]
        ra = 15.0 * (h + m / 60.0 + s / 3600.0)
        dec = (-1.0 if sign == "-" else 1.0) * (
            float(d) + float(dm or 0.0) / 60.0 + float(ds or 0.0) / 3600.0
        )
        parts_ok = m < 60.0 and s < 60.0 and float(dm or 0.0) < 60.0 and float(ds or 0.0) < 60.0
    else:
        degrees = re.fullmatch(rf"({_NUMBER})°?(?:\s*,\s*|\s+)([+-]?{_NUMBER})°?", t)
        if degrees is None:
            return None
        ra, dec = float(degrees[1]), float(degrees[2])
        parts_ok = True
    if not (parts_ok and 0.0 <= ra < 360.0 and -90.0 <= dec <= 90.0):
        raise UserError(
            f"the coordinates '{text}'",
            "right ascension 0 to 24 h (or 0 to 360 degrees) and declination -90 to 90",
            "For example 05h35m17s -05d23m, or 83.82 -5.39 in degrees",
        )
    label = coordinates_label(ra, dec)
    return DeepSky(
        key=f"{ra:.5f} {dec:+.5f}",
        name="",
        label=label,
        kind="place in the sky",
        constellation="",
        ra_deg=ra,
        dec_deg=dec,
        v_mag=math.nan,
        size_arcmin=math.nan,
    )


def coordinates_label(ra_deg: float, dec_deg: float) -> str:
    """``"05h35m17s -05°23'00\\""``: rounded to a second of time and of arc."""
    seconds = round(ra_deg * 240.0) % 86400
    arc = round(abs(dec_deg) * 3600.0)
    sign = "-" if dec_deg < 0 else "+"
    return (
        f"{seconds // 3600:02d}h{seconds // 60 % 60:02d}m{seconds % 60:02d}s "
        f"{sign}{arc // 3600:02d}°{arc // 60 % 60:02d}'{arc % 60:02d}\""
    )


def find_target(text: str) -> Target:
    """The one thing that ``text`` names: body, coordinates, star, or deep-sky object.

    Raises :class:`UserError`, with suggestions, when nothing or several fit.
    """
    if len(text) > LONGEST:
        raise UserError(
            f"Nothing is known as '{text[:40]}…', {len(text)} characters",
            f"a name or coordinates of up to {LONGEST} characters",
            "For example Vega, alf Lyr, M 31, Jupiter, or 05h35m17s -05d23m",
        )
    asked, text = text, known_as(text)
    body = bodies.match(text)
    if body is not None:
        return body
    place = parse_coordinates(text)
    if place is not None:
        return place
    thing = deepsky.load().match(text)
    stars = catalogue.load()
    if thing is not None and stars.is_unknown(text):
        return thing
    if thing is None and stars.is_unknown(text):
        own = own_source.listed()
        mine = own.match(text) if own is not None else None
        if mine is not None:
            return mine
        minor = minor_bodies.listed().match(text)
        if minor is not None:
            return minor
        if _COMET_NAME.match(text.strip()):
            raise UserError(
                f"No elements are here for the comet '{asked}'", "a file that has it",
                Advice(Do.PUT_IN_ELEMENTS),
            )  # fmt: skip
        near = _suggestions(text)
        raise UserError(
            f"Nothing is known as '{asked}'",
            "a star, a Messier, NGC or IC number, a planet, or coordinates",
            f"Did you mean {either(near)}?"
            if near
            else "For example Vega, alf Lyr, M 31, Jupiter, or 05h35m17s -05d23m",
        )
    return stars.find(text)


#: "C/2023 A3", "12P": so a comet is named, and nothing else.
_COMET_NAME = re.compile(r"^([CPDXAI]/-?\d{1,4} [A-Z]|\d{1,3}[PDI]\b)", re.IGNORECASE)
_BODY_LETTERS = {fold(name): letters(fold(name)) for name in bodies.NAMES}


def _suggestions(text: str) -> list[str]:
    """What ``text`` may have been a slip for; nothing much further off than the best."""
    found = ranked_targets(text, 8)
    near = [(rank, t) for rank, t in found if rank >= 3.0]
    best = near[0][0] if near else 0.0
    # One slip is likelier than a name that was broken off, and that than more slips.
    keep = [t for rank, t in near if rank <= near_rank(1.0)]
    keep += [t for rank, t in found if rank < 3.0]
    keep += [t for rank, t in near if rank <= best + 0.1]
    return list(dict.fromkeys(t.label for t in keep))[:5]


def search_targets(text: str, n: int = 10) -> list[Target]:
    """Up to ``n`` things for a search box, best first: exact, beginnings, then near misses."""
    return [target for _, target in ranked_targets(text, n)]


def ranked_targets(text: str, n: int = 10) -> list[tuple[float, Target]]:
    """As :func:`search_targets`, with ranks as in ``Catalogue.search_ranked``."""
    if len(text) > LONGEST:
        return []
    asked, text = text, known_as(text)
    key = fold(text)
    if not key:
        return []
    # (rank, order within it, what it is); see Catalogue.search_ranked. Near misses of all kinds go
    # together by how far off they are, and then by brightness.
    ranked: list[tuple[float, float, Target]] = []
    slips = nearest(text, _BODY_LETTERS)
    for name in bodies.NAMES:
        if fold(name).startswith(key):
            ranked.append((0 if fold(name) == key else 1, 0, Body(name)))
        elif fold(name) in slips:
            ranked.append((near_rank(slips[fold(name)]), -30.0, Body(name)))
    stars = catalogue.load()
    for k, (i, rank) in enumerate(stars.search_ranked(text, n)):
        ranked.append((rank, float(stars.v_mag[i]) if rank > 3 else 1 + 2 * k, stars[i]))
    for k, (o, rank) in enumerate(deepsky.load().search_ranked(text, n)):
        mag = o.b_mag if math.isnan(o.v_mag) else o.v_mag
        if rank <= 3:
            ranked.append((rank, 2 + 2 * k, o))
        else:
            ranked.append((rank, 30.0 if math.isnan(mag) else mag, o))
    with contextlib.suppress(UserError):  # a list that cannot be read is no matter for a search box
        own = own_source.listed()
        if own is not None:
            ranked += [(rank, 0, o) for o, rank in own.search_ranked(text, n)]
    with contextlib.suppress(UserError):
        ranked += [(rank, 10.0, b) for b, rank in minor_bodies.listed().search_ranked(text, n)]
    try:
        place = parse_coordinates(text)
    except UserError:
        place = None  # half-typed coordinates in a search box are no mistake
    found = [(rank, t) for rank, _, t in sorted(ranked, key=lambda r: r[:2])]
    if text != asked and any(rank == 0 for rank, _ in found):  # a nickname is no number's beginning
        found = [(rank, t) for rank, t in found if rank == 0]
    return ([(0.0, place), *found] if place is not None else found)[:n]
