"""The picture as SVG text: one hue, meaning by size, line and words.

Every shape has a class, by which a page can dress it in its own colours, and plain attributes, so
that the same text stands alone in a file or on paper.
"""

from __future__ import annotations

import math
from html import escape
from typing import Literal

from plumbstar.eyeview import say
from plumbstar.eyeview.drawn_corner import corner
from plumbstar.eyeview.drawn_planet import planet
from plumbstar.eyeview.model import EyeStar, EyeView, Outline, Way, clock_deg
from plumbstar.eyeview.paper import SIZE, C, R, at_x, at_y, star_radius
from plumbstar.turns import half_turn_deg

Dress = Literal["night", "day"]

#: ink, soft, ground
_COLOURS = {"night": ("#f00", "#d10000", "#000"), "day": ("#000", "#333", "#fff")}


def svg(view: EyeView, dress: Dress = "night") -> str:
    """The drawing, one SVG element; its title is the sentence, for those who hear the page."""
    ink, soft, ground = _COLOURS[dress]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE:g} {SIZE:g}" '
        f'class="eyeview" role="img" font-family="sans-serif" font-size="17" font-weight="600">',
        f"<title>{escape(view.label)}: {escape(say.sentence(view))}</title>",
        f'<rect class="eye-ground" width="{SIZE:g}" height="{SIZE:g}" fill="{ground}"/>',
        f'<clipPath id="eye-clip"><circle cx="{C:g}" cy="{C:g}" r="{R:g}"/></clipPath>',
        '<g clip-path="url(#eye-clip)">',
    ]
    if view.outline is not None:
        shows = view.shows and not view.by_finder
        parts.append(_ellipse(view.outline, soft, shows))
        if shows and _brighter_within(view):
            parts += _glow(view.outline, soft, "eye-glow", 0.5)
    for s in reversed(_stars(view)):
        parts.append(
            f'<circle class="eye-star" cx="{at_x(s.x)}" cy="{at_y(s.y)}" '
            f'r="{star_radius(s.v_mag, view.limit_mag):.2f}" fill="{ink}"/>'
        )
    parts += planet(view, ink, soft, ground)
    parts.append("</g>")
    parts.append(
        f'<circle class="eye-rim" cx="{C:g}" cy="{C:g}" r="{R:g}" fill="none" '
        f'stroke="{ink}" stroke-width="2"/>'
    )
    parts += _marks(view, ink, soft, ground)
    if (view.outline is None and view.disc is None) or view.by_finder:
        parts.append(_cross(soft))
    parts += _names(view, ink, ground)
    parts += corner(view, ink, soft, ground)
    parts.append(
        f'<text class="eye-text" x="4" y="{SIZE - 8:g}" fill="{ink}">'
        f"{_width(view.field_deg)} across</text>"
    )
    if view.eyepiece:
        parts.append(
            f'<text class="eye-text" x="{SIZE - 4:g}" y="{SIZE - 8:g}" text-anchor="end" '
            f'fill="{ink}">{escape(view.eyepiece)}</text>'
        )
    parts.append("</svg>")
    return "\n".join(parts)


def thumbnail(view: EyeView, dress: Dress = "night") -> str:
    """The field alone, small, for a row of a list: its stars, what lies in it, and the rim."""
    ink, soft, ground = _COLOURS[dress]
    edge = R + 4.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="{C - edge:g} {C - edge:g} {2 * edge:g} {2 * edge:g}">',
        f'<clipPath id="c"><circle cx="{C:g}" cy="{C:g}" r="{R:g}"/></clipPath>',
        f'<circle cx="{C:g}" cy="{C:g}" r="{R:g}" fill="{ground}"/><g clip-path="url(#c)">',
    ]
    if view.outline is not None:
        within = view.shows and _brighter_within(view)
        flat = "0.2" if within else "0.4"
        parts.append(_ellipse(view.outline, soft, view.shows).replace("0.18", flat))
        if within:
            parts += _glow(view.outline, soft, "g", 0.8)
    for s in reversed(_stars(view)):
        # Twice as large: the whole is drawn at a seventh of the size.
        r = 2.0 * star_radius(s.v_mag, view.limit_mag)
        parts.append(f'<circle cx="{at_x(s.x)}" cy="{at_y(s.y)}" r="{r:.1f}" fill="{ink}"/>')
    parts += planet(view, ink, soft, ground, thick=2.0)
    rim = f'<circle cx="{C:g}" cy="{C:g}" r="{R:g}" fill="none" stroke="{ink}" stroke-width="7"/>'
    return "".join([*parts, "</g>", rim, "</svg>"])


def _stars(view: EyeView) -> list[EyeStar]:
    """The stars, brightest first; of two that will hardly part, the brighter alone."""
    pair = view.pair
    if pair is None or view.shows:
        return list(view.stars)
    return [s for s in view.stars if math.hypot(s.x - pair.x, s.y - pair.y) > 1e-6]


def _width(deg: float) -> str:
    return f"{deg:.1f}°" if deg >= 1.0 else f"{deg * 60.0:.0f}′"


def _ellipse(o: Outline, soft: str, shows: bool) -> str:
    """A pale patch; dots alone where the object is judged unlikely to show."""
    a = 0.0 if math.isnan(o.angle_deg) else o.angle_deg
    # Less than a few dots across it would vanish: then a ring marks the place.
    rx, ry = (max(6.0, R * h) for h in (o.half_length, o.half_breadth))
    x, y = at_x(o.x), at_y(o.y)
    return (
        f'<ellipse class="eye-outline" cx="{x}" cy="{y}" rx="{rx:.1f}" ry="{ry:.1f}" '
        f'transform="rotate({-a:.1f} {x} {y})" fill="{soft}" '
        f'fill-opacity="{0.18 if shows else 0:g}" stroke="{soft}" stroke-width="1.5" '
        f'stroke-dasharray="{"5 4" if shows else "1.5 8"}"/>'
    )


#: Galaxies and globular clusters brighten toward the middle, more or less; how much, no list here
#: tells (common practice, no source).
_BRIGHTER_WITHIN = frozenset({"galaxy", "globular cluster"})


def _brighter_within(view: EyeView) -> bool:
    return view.target.kind in _BRIGHTER_WITHIN


def _glow(o: Outline, soft: str, name: str, most: float) -> list[str]:
    """Light that grows to the middle, as opaque there as ``most`` and nothing at the outline."""
    a = 0.0 if math.isnan(o.angle_deg) else o.angle_deg
    rx, ry = (max(6.0, R * h) for h in (o.half_length, o.half_breadth))
    x, y = at_x(o.x), at_y(o.y)
    stops = "".join(
        f'<stop offset="{at:g}" stop-color="{soft}" stop-opacity="{most * part:.2f}"/>'
        for at, part in ((0.0, 1.0), (0.1, 0.7), (0.3, 0.32), (0.6, 0.1), (1.0, 0.0))
    )
    return [
        f'<radialGradient id="{name}">{stops}</radialGradient>',
        f'<ellipse cx="{x}" cy="{y}" rx="{rx:.1f}" ry="{ry:.1f}" '
        f'transform="rotate({-a:.1f} {x} {y})" fill="url(#{name})"/>',
    ]


def _cross(soft: str) -> str:
    """Four short lines about the middle, for what has no outline of its own."""
    lines = "".join(
        f"M{C + 14 * dx:g} {C + 14 * dy:g}L{C + 26 * dx:g} {C + 26 * dy:g}"
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))
    )
    return f'<path class="eye-cross" d="{lines}" stroke="{soft}" stroke-width="1.5" fill="none"/>'


def _marks(view: EyeView, ink: str, soft: str, ground: str) -> list[str]:
    """North and east within the rim; outside it, which way is up and which way the sky drifts."""
    out = []
    for way, letter in ((view.north, "N"), (view.east, "E")):
        end = (0.93 * way[0], 0.93 * way[1])
        out.append(
            f'<line class="eye-tick" x1="{at_x(way[0])}" y1="{at_y(way[1])}" x2="{at_x(end[0])}" '
            f'y2="{at_y(end[1])}" stroke="{ink}" stroke-width="3"/>'
        )
        out.append(_text(way, 0.86, letter, ink, ground))
    up = _text(view.zenith, 1.17, "up", ink, ground)
    out.append(_arrow(view.zenith, soft, filled=True))
    if view.drift is None:
        return [*out, up]
    gap = abs(half_turn_deg(clock_deg(view.drift) - clock_deg(view.zenith)))
    out.append(_arrow(view.drift, soft, filled=False))
    if gap < 24.0:  # one beside the other: the words would lie on each other
        return [*out, _text(view.zenith, 1.18, "up, drift", ink, ground)]
    return [*out, up, _text(view.drift, 1.18, "drift", ink, ground)]


def _arrow(way: Way, soft: str, filled: bool) -> str:
    """A small head outside the rim, pointing outward."""
    turn = clock_deg(way)
    y = C - R
    fill = soft if filled else "none"
    return (
        f'<path class="eye-arrow{" full" if filled else ""}" transform="rotate({turn:.1f} {C:g} '
        f'{C:g})" d="M{C - 7:g} {y - 4:g}L{C:g} {y - 17:g}L{C + 7:g} {y - 4:g}Z" '
        f'fill="{fill}" stroke="{soft}" stroke-width="1.5"/>'
    )


def _text(way: Way, at: float, words: str, ink: str, ground: str) -> str:
    return (
        f'<text class="eye-text" x="{at_x(at * way[0])}" y="{at_y(at * way[1])}" dy="0.35em" '
        f'text-anchor="middle" fill="{ink}" stroke="{ground}" stroke-width="4" '
        f'paint-order="stroke">{escape(words)}</text>'
    )


def _names(view: EyeView, ink: str, ground: str) -> list[str]:
    """The brightest few stars' names, in the wide picture only: there they are of use."""
    if not view.by_finder:
        return []
    out: list[str] = []
    named: list[EyeStar] = []
    for s in [s for s in view.stars if s.name and not s.name.startswith("HIP")][:5]:
        # A name on another would be no name.
        if any(abs(s.y - t.y) < 0.09 and abs(s.x - t.x) < 0.5 for t in named):
            continue
        named.append(s)
        left = s.x > 0.25  # toward the middle, so that no name runs out of the field
        step = star_radius(s.v_mag, view.limit_mag) + 5.0
        out.append(
            f'<text class="eye-text eye-name" x="{C + R * s.x + (-step if left else step):.1f}" '
            f'y="{at_y(s.y)}" dy="0.35em" text-anchor="{"end" if left else "start"}" fill="{ink}" '
            f'font-size="14" stroke="{ground}" stroke-width="3" paint-order="stroke">'
            f"{escape(s.name)}</text>"
        )
    return out
