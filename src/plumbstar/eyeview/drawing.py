"""The picture as SVG text: one hue, meaning by size, line and words.

Every shape has a class, by which a page can dress it in its own colours, and plain attributes, so
that the same text stands alone in a file or on paper.
"""

from __future__ import annotations

import math
from html import escape
from typing import Literal

from plumbstar.eyeview import say
from plumbstar.eyeview.model import Disc, EyeView, Outline, Way, clock_deg
from plumbstar.turns import half_turn_deg

Dress = Literal["night", "day"]

#: ink, soft, ground
_COLOURS = {"night": ("#f00", "#d10000", "#000"), "day": ("#000", "#333", "#fff")}
_SIZE, _R = 480.0, 186.0  # the whole drawing, and the field's radius in it
_C = _SIZE / 2.0


def svg(view: EyeView, dress: Dress = "night") -> str:
    """The drawing, one SVG element; its title is the sentence, for those who hear the page."""
    ink, soft, ground = _COLOURS[dress]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_SIZE:g} {_SIZE:g}" '
        f'class="eyeview" role="img" font-family="sans-serif" font-size="17" font-weight="600">',
        f"<title>{escape(view.label)}: {escape(say.sentence(view))}</title>",
        f'<rect class="eye-ground" width="{_SIZE:g}" height="{_SIZE:g}" fill="{ground}"/>',
        f'<clipPath id="eye-clip"><circle cx="{_C:g}" cy="{_C:g}" r="{_R:g}"/></clipPath>',
        '<g clip-path="url(#eye-clip)">',
    ]
    if view.outline is not None:
        parts.append(_ellipse(view.outline, soft, view.shows))
    for s in reversed(view.stars):
        parts.append(
            f'<circle class="eye-star" cx="{_x(s.x)}" cy="{_y(s.y)}" '
            f'r="{star_radius(s.v_mag, view.limit_mag):.2f}" fill="{ink}"/>'
        )
    if view.disc is not None:
        parts.append(_lit(view.disc, ink, ground))
    parts.append("</g>")
    parts.append(
        f'<circle class="eye-rim" cx="{_C:g}" cy="{_C:g}" r="{_R:g}" fill="none" '
        f'stroke="{ink}" stroke-width="2"/>'
    )
    parts += _marks(view, ink, soft, ground)
    if (view.outline is None and view.disc is None) or view.magnification == 1.0:
        parts.append(_cross(soft))
    parts += _names(view, ink, ground)
    parts.append(
        f'<text class="eye-text" x="4" y="{_SIZE - 8:g}" fill="{ink}">'
        f"{_width(view.field_deg)} across</text>"
    )
    if view.eyepiece:
        parts.append(
            f'<text class="eye-text" x="{_SIZE - 4:g}" y="{_SIZE - 8:g}" text-anchor="end" '
            f'fill="{ink}">{escape(view.eyepiece)}</text>'
        )
    parts.append("</svg>")
    return "\n".join(parts)


def thumbnail(view: EyeView, dress: Dress = "night") -> str:
    """The field alone, small, for a row of a list: its stars, what lies in it, and the rim."""
    ink, soft, ground = _COLOURS[dress]
    edge = _R + 4.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="{_C - edge:g} {_C - edge:g} {2 * edge:g} {2 * edge:g}">',
        f'<clipPath id="c"><circle cx="{_C:g}" cy="{_C:g}" r="{_R:g}"/></clipPath>',
        f'<circle cx="{_C:g}" cy="{_C:g}" r="{_R:g}" fill="{ground}"/><g clip-path="url(#c)">',
    ]
    if view.outline is not None:
        parts.append(_ellipse(view.outline, soft, view.shows).replace("0.18", "0.4"))
    for s in reversed(view.stars):
        # Twice as large: the whole is drawn at a seventh of the size.
        r = 2.0 * star_radius(s.v_mag, view.limit_mag)
        parts.append(f'<circle cx="{_x(s.x)}" cy="{_y(s.y)}" r="{r:.1f}" fill="{ink}"/>')
    if view.disc is not None:
        parts.append(_lit(view.disc, ink, ground))
    rim = (
        f'<circle cx="{_C:g}" cy="{_C:g}" r="{_R:g}" fill="none" stroke="{ink}" stroke-width="7"/>'
    )
    return "".join([*parts, "</g>", rim, "</svg>"])


def star_radius(v_mag: float, limit_mag: float) -> float:
    """How large a star is drawn: the faintest as a fine dot, each magnitude a step more."""
    return min(9.0, 1.3 + 0.95 * max(0.0, limit_mag - v_mag))


def _x(x: float) -> str:
    return f"{_C + _R * x:.1f}"


def _y(y: float) -> str:
    return f"{_C - _R * y:.1f}"


def _width(deg: float) -> str:
    return f"{deg:.1f}°" if deg >= 1.0 else f"{deg * 60.0:.0f}′"


def _ellipse(o: Outline, soft: str, shows: bool) -> str:
    """A pale patch; dots alone where the object is judged unlikely to show."""
    a = 0.0 if math.isnan(o.angle_deg) else o.angle_deg
    # Less than a few dots across it would vanish: then a ring marks the place.
    rx, ry = (max(6.0, _R * h) for h in (o.half_length, o.half_breadth))
    return (
        f'<ellipse class="eye-outline" cx="{_x(o.x)}" cy="{_y(o.y)}" rx="{rx:.1f}" ry="{ry:.1f}" '
        f'transform="rotate({-a:.1f} {_x(o.x)} {_y(o.y)})" fill="{soft}" '
        f'fill-opacity="{0.18 if shows else 0:g}" stroke="{soft}" stroke-width="1.5" '
        f'stroke-dasharray="{"5 4" if shows else "1.5 8"}"/>'
    )


def _lit(d: Disc, ink: str, ground: str) -> str:
    """The disc and its bright part: a half circle and half an ellipse, sunward."""
    r = max(4.0, _R * d.radius)
    ring = "" if d.ring is None else _ring(d.ring, r / d.radius, ink)
    bulge = r * (2.0 * d.lit - 1.0)  # of the edge between light and dark, positive when gibbous
    turn = math.degrees(math.atan2(-d.sunward[1], d.sunward[0]))
    sweep = 1 if bulge > 0 else 0
    return (
        f'{ring}<circle class="eye-dark" cx="{_C:g}" cy="{_C:g}" r="{r:.1f}" fill="{ground}" '
        f'stroke="{ink}" stroke-width="1"/>'
        f'<path class="eye-lit" transform="translate({_C:g} {_C:g}) rotate({turn:.1f})" '
        f'd="M0 {-r:.1f} A{r:.1f} {r:.1f} 0 0 1 0 {r:.1f} '
        f'A{abs(bulge):.1f} {r:.1f} 0 0 {sweep} 0 {-r:.1f} Z" fill="{ink}"/>'
    )


def _ring(o: Outline, scale: float, ink: str) -> str:
    """Saturn's ring, enlarged with the disc where that would be too small to see."""
    return (
        f'<ellipse class="eye-ring" cx="{_C:g}" cy="{_C:g}" rx="{scale * o.half_length:.1f}" '
        f'ry="{scale * o.half_breadth:.1f}" transform="rotate({-o.angle_deg:.1f} {_C:g} {_C:g})" '
        f'fill="none" stroke="{ink}" stroke-width="1.5"/>'
    )


def _cross(soft: str) -> str:
    """Four short lines about the middle, for what has no outline of its own."""
    lines = "".join(
        f"M{_C + 14 * dx:g} {_C + 14 * dy:g}L{_C + 26 * dx:g} {_C + 26 * dy:g}"
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))
    )
    return f'<path class="eye-cross" d="{lines}" stroke="{soft}" stroke-width="1.5" fill="none"/>'


def _marks(view: EyeView, ink: str, soft: str, ground: str) -> list[str]:
    """North and east within the rim; outside it, which way is up and which way the sky drifts."""
    out = []
    for way, letter in ((view.north, "N"), (view.east, "E")):
        out.append(
            f'<line class="eye-tick" x1="{_x(way[0])}" y1="{_y(way[1])}" '
            f'x2="{_x(0.93 * way[0])}" y2="{_y(0.93 * way[1])}" stroke="{ink}" stroke-width="3"/>'
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
    y = _C - _R
    fill = soft if filled else "none"
    return (
        f'<path class="eye-arrow{" full" if filled else ""}" transform="rotate({turn:.1f} {_C:g} '
        f'{_C:g})" d="M{_C - 7:g} {y - 4:g}L{_C:g} {y - 17:g}L{_C + 7:g} {y - 4:g}Z" '
        f'fill="{fill}" stroke="{soft}" stroke-width="1.5"/>'
    )


def _text(way: Way, at: float, words: str, ink: str, ground: str) -> str:
    return (
        f'<text class="eye-text" x="{_x(at * way[0])}" y="{_y(at * way[1])}" dy="0.35em" '
        f'text-anchor="middle" fill="{ink}" stroke="{ground}" stroke-width="4" '
        f'paint-order="stroke">{escape(words)}</text>'
    )


def _names(view: EyeView, ink: str, ground: str) -> list[str]:
    """The brightest few stars' names, in the wide picture only: there they are of use."""
    if view.magnification != 1.0:
        return []
    out = []
    for s in [s for s in view.stars if s.name and not s.name.startswith("HIP")][:5]:
        left = s.x > 0.25  # toward the middle, so that no name runs out of the field
        step = star_radius(s.v_mag, view.limit_mag) + 5.0
        out.append(
            f'<text class="eye-text eye-name" x="{_C + _R * s.x + (-step if left else step):.1f}" '
            f'y="{_y(s.y)}" dy="0.35em" text-anchor="{"end" if left else "start"}" fill="{ink}" '
            f'font-size="14" stroke="{ground}" stroke-width="3" paint-order="stroke">'
            f"{escape(s.name)}</text>"
        )
    return out
