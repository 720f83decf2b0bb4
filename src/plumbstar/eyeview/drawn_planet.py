"""The Moon or a planet as SVG: its lit part, Saturn's ring, Jupiter's moons and their shadows."""

from __future__ import annotations

import math
from itertools import pairwise

from plumbstar.eyeview.model import Disc, EyeMoon, EyeView, Outline, Way
from plumbstar.eyeview.paper import C, R, at_x, at_y, star_radius
from plumbstar.eyeview.planets import RING_INNER
from plumbstar.sky.jovian import Hidden

#: A disc is drawn no smaller than this, so that it is not taken for a star.
_LEAST, _LEAST_WITH_MOONS = 4.0, 3.0
#: Moons get their letters where there is room for them, so far apart; shadows from that radius on.
_ROOM, _SHOWS_SHADOWS = 17.0, 8.0


def planet(view: EyeView, ink: str, soft: str, ground: str, thick: float = 1.0) -> list[str]:
    """All of it; where it will hardly show, a dotted ring at its place. ``thick``: how much larger
    moons are drawn, for a small picture."""
    d = view.disc
    if d is None:
        return []
    r = max(_LEAST_WITH_MOONS if view.moons else _LEAST, R * d.radius)
    if not view.shows:
        return [
            f'<circle class="eye-outline" cx="{C:g}" cy="{C:g}" r="{r + 4.0:.1f}" fill="none" '
            f'stroke="{soft}" stroke-width="1.5" stroke-dasharray="1.5 4"/>'
        ]
    out = shape(d, r, ink, ground)
    out += [
        f'<circle class="eye-shadow" cx="{at_x(m.shadow[0])}" cy="{at_y(m.shadow[1])}" '
        f'r="{max(1.5, 0.025 * r):.1f}" fill="{ground}"/>'
        for m in view.moons
        if m.shadow is not None and r >= _SHOWS_SHADOWS
    ]
    seen = [m for m in view.moons if m.hidden is Hidden.NOT]
    out += [
        f'<circle class="eye-star eye-moon" cx="{at_x(m.x)}" cy="{at_y(m.y)}" '
        f'r="{thick * min(2.2, star_radius(m.v_mag, view.limit_mag)):.1f}" fill="{ink}"/>'
        for m in seen
    ]
    if thick == 1.0 and _roomy(seen, r):
        out += [_letter(m, view.equator, ink, ground) for m in seen]
    return out


def shape(d: Disc, r: float, ink: str, ground: str) -> list[str]:
    """A disc of that radius in the sheet's middle, with Saturn's ring behind and before it."""
    ring, lit = d.ring, _lit(d, r, ink, ground)
    if ring is None:
        return [lit]
    scale, far = r / d.radius, (-d.ring_near[0], -d.ring_near[1])
    return [_ring(ring, scale, far, ink, ""), lit, _ring(ring, scale, d.ring_near, ink, ground)]


def _roomy(seen: list[EyeMoon], r: float) -> bool:
    along = sorted([0.0, *(R * m.along for m in seen)])
    return r < 40.0 and all(b - a > _ROOM for a, b in pairwise(along))


def _letter(m: EyeMoon, equator: Way, ink: str, ground: str) -> str:
    # Beside the line of the moons, below it or to its right.
    x, y = (-equator[1], equator[0])
    if y > 0.3 or (y > -0.3 and x < 0.0):
        x, y = -x, -y
    step = 15.0 / R
    return (
        f'<text class="eye-text eye-name" x="{at_x(m.x + step * x)}" y="{at_y(m.y + step * y)}" '
        f'dy="0.35em" text-anchor="middle" fill="{ink}" font-size="13" stroke="{ground}" '
        f'stroke-width="3" paint-order="stroke">{m.name[0]}</text>'
    )


def _lit(d: Disc, r: float, ink: str, ground: str) -> str:
    """The disc and its bright part: a half circle and half an ellipse, sunward."""
    bulge = r * (2.0 * d.lit - 1.0)  # of the edge between light and dark, positive when gibbous
    turn = math.degrees(math.atan2(-d.sunward[1], d.sunward[0]))
    sweep = 1 if bulge > 0 else 0
    return (
        f'<circle class="eye-dark" cx="{C:g}" cy="{C:g}" r="{r:.1f}" fill="{ground}" '
        f'stroke="{ink}" stroke-width="1"/>'
        f'<path class="eye-lit" transform="translate({C:g} {C:g}) rotate({turn:.1f})" '
        f'd="M0 {-r:.1f} A{r:.1f} {r:.1f} 0 0 1 0 {r:.1f} '
        f'A{abs(bulge):.1f} {r:.1f} 0 0 {sweep} 0 {-r:.1f} Z" fill="{ink}"/>'
    )


def _ring(o: Outline, scale: float, side: Way, ink: str, edge: str) -> str:
    """Half of Saturn's bright ring, on one side of its length, enlarged with the disc where that
    would be too small to see. ``edge`` parts the near half from the disc behind it."""
    a, b = scale * o.half_length, scale * o.half_breadth
    turn = math.radians(o.angle_deg)
    upper = -side[0] * math.sin(turn) + side[1] * math.cos(turn) > 0.0
    there, back = (1, 0) if upper else (0, 1)
    inner_a, inner_b = RING_INNER * a, RING_INNER * b
    line = f'stroke="{edge or ink}" stroke-width="{1.0 if edge else 0.5:g}"'
    return (
        f'<path class="eye-ring" transform="translate({C:g} {C:g}) rotate({-o.angle_deg:.1f})" '
        f'd="M{-a:.1f} 0 A{a:.1f} {b:.2f} 0 0 {there} {a:.1f} 0 L{inner_a:.1f} 0 '
        f'A{inner_a:.1f} {inner_b:.2f} 0 0 {back} {-inner_a:.1f} 0 Z" fill="{ink}" {line}/>'
    )
