"""An evening as a page to keep: the sky with its path and finds, what was seen and written, and
what was learnt of the telescope. One file that opens without any server. It names the site as the
observer does, and never gives its coordinates."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from plumbstar.card.markup import Markup, element, joined
from plumbstar.errors import UserError
from plumbstar.logbook import Find, LoggedLook, Outing
from plumbstar.logbook.looks import Sketch
from plumbstar.logbook.words import SEEN_WORDS
from plumbstar.sky.local_time import abbreviation, local, offset_s
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets import light_age
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.chart import figures_of, stars_of
from plumbstar.web.views.sketches import path_of

_R = 150.0
_FOOT = "Where each object stood when it was found; overhead is in the middle. From Plumbstar."
_STYLE = """
html { background: #000; color: #f00; font: 500 17px/1.45 sans-serif }
body { max-width: 44rem; margin: 0 auto; padding: 1rem }
h1 { font-size: 1.9rem; line-height: 1.15; margin: .3rem 0 }
h2 { font-size: 1.1rem; border-bottom: 1px solid #6b0000; padding-bottom: .3rem; margin-top: 2rem }
ol { list-style: none; padding: 0 }
li { border-bottom: 1px solid #6b0000; padding: .5rem 0 }
li b { font-size: 1.15rem }
small { display: block; color: #d10000 }
svg { display: block; width: 100%; height: auto }
text { fill: #f00; font: 600 11px sans-serif; text-anchor: middle }
.s { fill: #f00 }
.l { stroke: #6b0000; stroke-width: .8 }
.p { stroke: #f00; stroke-width: 1.5; fill: none; stroke-dasharray: 5 3 }
.r { stroke: #f00; fill: none; stroke-width: 2 }
.f { fill: #000; stroke: #f00; stroke-width: 2 }
.c { font-size: 14px }
.k { max-width: 18rem; margin: .6rem 0 }
.k circle { fill: none; stroke: #6b0000; stroke-width: 8 }
.k path { fill: none; stroke: #f00; stroke-width: 14; stroke-linecap: round }
.h { display: block; max-width: 18rem; margin: .6rem 0; background: #f00 }
.h img { display: block; width: 100%; filter: grayscale(1); mix-blend-mode: multiply }
"""
#: Black on white: on paper, and on the page of whoever wears the dress of the day.
_DAY = """
html { background: #fff; color: #000 }
h2, li { border-color: #8a8a8a }
small { color: #333 }
.s, text { fill: #000 }
.l { stroke: #8a8a8a }
.p, .r, .f, .k path { stroke: #000 }
.k circle { stroke: #8a8a8a }
.f { fill: #fff }
.h { background: none }
"""
Dress = Literal["night", "day"]


@dataclass(frozen=True)
class Seen:
    """An object that was found, or looked at: where it stood then, degrees; ``target`` None where
    no list has it; ``looks`` and ``drawn``: what the observer told of it, and drew."""

    name: str
    utc: Instant
    eyepiece: str
    target: Target | None
    az_deg: float
    alt_deg: float
    found: bool = True
    looks: tuple[LoggedLook, ...] = ()
    drawn: tuple[Sketch, ...] = ()


@dataclass(frozen=True)
class Kept:
    """All that the page tells of an outing. ``stars``: those sighted; ``missed``: looked for in
    vain; ``notes``: as they were written, with their moments; ``fix``: its last sentence."""

    outing: Outing
    site: Site
    zone: str
    stars: tuple[str, ...]
    seen: tuple[Seen, ...]
    missed: tuple[str, ...]
    notes: tuple[tuple[Instant, str], ...]
    fix: str
    learnt: str


def kept_of(e: Evening, outing_id: int, learnt: str) -> Kept:
    """That outing. Raises :class:`UserError` for one without a site, or deleted."""
    o = e.book.outing(outing_id)
    if o.deleted is not None or o.site is None:
        raise UserError(f"Of outing {outing_id} nothing can be drawn", "", "Choose another")
    finds, fixes = e.book.finds(outing_id), e.book.fixes(outing_id)
    stars = [s.sighting.star for s in e.book.sightings(outing_id) if s.active]
    found = [f for f in finds if f.found]
    names = {f.target for f in found}
    looks, drawn = e.book.looks(outing_id), e.book.sketches(outing_id)
    zone = o.site.time_zone or (e.site.time_zone if e.site is not None else "")
    return Kept(
        o,
        o.site,
        zone,
        tuple(dict.fromkeys(s for s in stars if s not in names)),
        _all_seen(found, looks, drawn, o.site),
        tuple(dict.fromkeys(f.target for f in finds if not f.found and f.target not in names)),
        tuple((n.utc, n.text) for n in e.book.notes(outing_id)),
        str(fixes[-1].body.get("sentence", "")) if fixes else "",
        learnt,
    )


def _all_seen(
    found: Sequence[Find], looks: Sequence[LoggedLook], drawn: Sequence[Sketch], site: Site
) -> tuple[Seen, ...]:
    """Each find with what was told of it, at its last; then what was told of others."""
    last = {f.target: f.id for f in found}
    out = []
    for f in found:
        at_last = last[f.target] == f.id
        mine = [x for x in looks if at_last and x.target == f.target]
        out.append(_seen(f.target, f.utc, f.eyepiece, mine, drawn if at_last else (), site))
    first: dict[str, Instant] = {}
    for name, utc in [*((x.target, x.utc) for x in looks), *((x.target, x.utc) for x in drawn)]:
        first.setdefault(name, utc)
    for name, utc in first.items():
        if name not in last:
            mine = [x for x in looks if x.target == name]
            out.append(_seen(name, utc, mine[0].eyepiece if mine else "", mine, drawn, site, False))
    return tuple(out)


def _seen(
    name: str, utc: Instant, eyepiece: str, looks: Sequence[LoggedLook],
    drawn: Sequence[Sketch], site: Site, found: bool = True,
) -> Seen:  # fmt: skip
    try:
        target = find_target(name)
        az, alt = place_of(target, utc, site)
    except UserError:  # an object of one's own that was taken off the list since
        target, az, alt = None, math.nan, math.nan
    mine = tuple(s for s in drawn if s.target == name)
    return Seen(name, utc, eyepiece, target, az, alt, found, tuple(looks), mine)


def page(k: Kept, dress: Dress = "night") -> str:
    """The page: HTML, red on black for a screen at night, black on white by day and on paper."""
    o = k.outing
    day = o.started.plus_seconds(offset_s(o.started, k.zone)).iso()[:10]
    finds = sum(s.found for s in k.seen)
    count = f"{words.many(finds, 'object')} found" if finds else "No object found"
    end = o.ended if o.ended is not None else (k.seen[-1].utc if k.seen else o.started)
    hours = f"{local(o.started, k.zone)} to {local(end, k.zone)} {abbreviation(end, k.zone)}"
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", ", ".join(filter(None, (k.site.name, day)))),
        element("style", Markup(_STYLE + (_DAY if dress == "day" else f"@media print {{{_DAY}}}"))),
    )
    body = element(
        "body",
        element("p", f"{day}, {hours}. {o.kit_name}."),
        element("h1", ", ".join(filter(None, (count, k.site.name)))),
        _sky(k),
        _section("What was seen", _lines(k)),
        _section("Looked for in vain", [element("li", m) for m in k.missed]),
        _section("Notes", [_note(t, n, k.zone) for t, n in k.notes]),
        element("h2", "The telescope"),
        element("p", f"Stars sighted: {words.joined(k.stars)}.") if k.stars else None,
        element("p", f"The pages’ last word that evening: “{k.fix}”") if k.fix else None,
        element("p", k.learnt) if k.learnt else None,
        element("p", element("small", _FOOT)),
    )
    return f"<!doctype html>\n{element('html', head, body, lang='en')}\n"


def _section(title: str, lines: list[Markup]) -> Markup | None:
    return joined(element("h2", title), element("ol", *lines)) if lines else None


def _lines(k: Kept) -> list[Markup]:
    """In their order, numbered as in the drawing."""
    numbers = {id(s): i for i, s in enumerate(_placed(k), 1)}
    return [_line(s, k, numbers.get(id(s))) for s in k.seen]


def _placed(k: Kept) -> list[Seen]:
    """Those that are drawn."""
    return [s for s in k.seen if s.found and s.target is not None and s.alt_deg > 0.0]


def _line(s: Seen, k: Kept, number: int | None) -> Markup:
    said = (
        light_age.sentence(light_age.old_light(s.target, s.utc, k.site), s.utc) if s.target else ""
    )
    at = f"{local(s.utc, k.zone)}{f', {s.eyepiece}' if s.eyepiece else ''}. "
    name = element("b", s.target.label if s.target else s.name)
    return element("li", f"{number}. " if number else "", name, element("small", at, said),
                   *_told(s.looks), *map(_drawing, s.drawn))  # fmt: skip


def _told(looks: Sequence[LoggedLook]) -> list[Markup]:
    """How it was seen at last, and all that was written of it."""
    if not looks:
        return []
    written = [x.words for x in looks if x.words]
    how = words.upper_first(SEEN_WORDS[looks[-1].seen])
    return [element("div", " ".join([f"{how}.", *written]))]


def _drawing(s: Sketch) -> Markup:
    """A sketch in its circle, or a photograph of one, in the page itself."""
    if s.kind != "strokes":
        data = f"data:image/{s.kind};base64,{base64.b64encode(s.picture).decode()}"
        return element("span", element("img", src=data, alt=f"Sketch of {s.target}"), class_="h")
    return element(
        "svg", element("title", f"Sketch of {s.target}"), element("circle", r="1000"),
        element("path", d=path_of(s.strokes)),
        class_="k", viewBox="-1060 -1060 2120 2120", role="img",
        xmlns="http://www.w3.org/2000/svg",
    )  # fmt: skip


def _note(t: Instant, text: str, zone: str) -> Markup:
    return element("li", text, element("small", local(t, zone)))


def _spot(az_deg: float, alt_deg: float, facing_deg: float) -> tuple[float, float]:
    """As on the pages' map: whither one looks is at the foot. Overhead is in the middle."""
    r, a = _R * (90.0 - alt_deg) / 90.0, math.radians(az_deg - facing_deg)
    return r * math.sin(a), r * math.cos(a)


def _sky(k: Kept) -> Markup:
    """The sky at the middle of the evening, with the finds where they stood, in their order."""
    placed = _placed(k)
    moment = placed[len(placed) // 2].utc if placed else k.outing.started
    to = 180.0 if k.site.lat_deg >= 0.0 else 0.0  # the noon side of the sky
    parts = [element("circle", class_="r", r=f"{_R:g}")]
    for figure in figures_of(moment, k.site):
        for az0, alt0, az1, alt1 in figure.lines_deg:
            (x1, y1), (x2, y2) = _spot(az0, alt0, to), _spot(az1, alt1, to)
            ends = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
            parts.append(element("line", class_="l", **{n: f"{v:.1f}" for n, v in ends.items()}))
    for star in stars_of(moment, k.site):
        x, y = _spot(star.az_deg, star.alt_deg, to)
        parts.append(
            element("circle", class_="s", cx=f"{x:.1f}", cy=f"{y:.1f}",
                    r=f"{max(0.7, 2.8 - 0.7 * star.v_mag):.1f}")
        )  # fmt: skip
    spots = [_spot(s.az_deg, s.alt_deg, to) for s in placed]
    if len(spots) > 1:
        line = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
        parts.append(element("polyline", class_="p", points=line))
    for i, (x, y) in enumerate(spots, 1):
        parts.append(element("circle", class_="f", cx=f"{x:.1f}", cy=f"{y:.1f}", r="8"))
        parts.append(element("text", str(i), x=f"{x:.1f}", y=f"{y + 4:.1f}"))
    for name, az in (("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)):
        x, y = _spot(az, -9.0, to)
        parts.append(element("text", name, class_="c", x=f"{x:.1f}", y=f"{y + 5:.1f}"))
    title = element(
        "title",
        "The path over the sky: " + (words.joined([s.name for s in placed]) or "nothing found"),
    )
    return element("svg", title, *parts, viewBox="-178 -178 356 356", role="img",
                   xmlns="http://www.w3.org/2000/svg")  # fmt: skip
