"""What is too small at the drawing's scale, drawn again in a corner: a pair, a planet's shape."""

from __future__ import annotations

import math

from plumbstar.eyeview.drawn_planet import shape
from plumbstar.eyeview.model import Disc, EyePair, EyeView, clock_deg
from plumbstar.eyeview.paper import SIZE, C, R, star_radius
from plumbstar.turns import half_turn_deg

_INSET, _APART = 50.0, 34.0  # its radius, and how far apart the two stand in it
_MIDDLE = 54.0  # of the inset, from both edges of the sheet
#: A planet's disc, and Saturn's ring, in the corner; a disc of that radius is clear as it is, and
#: one lit so far has no phase to show.
_DISC, _RING, _CLEAR, _FULL = 20.0, 40.0, 14.0, 0.93


def corner(view: EyeView, ink: str, soft: str, ground: str) -> list[str]:
    """The corner's drawing; nothing where the field shows it well enough."""
    if view.pair is not None:
        return _pair(view, view.pair, ink, soft, ground)
    if view.disc is not None and view.shows and not view.by_finder:
        return _planet(view, view.disc, ink, soft, ground)
    return []


def _pair(view: EyeView, pair: EyePair, ink: str, soft: str, ground: str) -> list[str]:
    a, b = (star_radius(m, view.limit_mag) for m in (pair.mag_a, pair.mag_b))
    apart = R * math.hypot(pair.x, pair.y)
    if apart > a + b + 3.0 or apart == 0.0:
        return []
    cx, cy = _middle(view)
    ux, uy = R * pair.x / apart, -R * pair.y / apart
    ax, ay = cx - 0.5 * _APART * ux, cy - 0.5 * _APART * uy
    bx, by = cx + 0.5 * _APART * ux, cy + 0.5 * _APART * uy
    # Both sizes keep their difference; dots where the fainter will hardly show.
    small, large = 3.0, min(9.0, 3.0 + 1.2 * max(0.0, pair.mag_b - pair.mag_a))
    look = (
        f'fill="{ink}"'
        if view.shows and pair.shows
        else f'fill="none" stroke="{soft}" stroke-width="1.2" stroke-dasharray="1.5 2"'
    )
    return [
        _edge(cx, cy, soft, ground),
        f'<circle class="eye-star" cx="{ax:.1f}" cy="{ay:.1f}" r="{large:.1f}" fill="{ink}"/>',
        f'<circle class="eye-star" cx="{bx:.1f}" cy="{by:.1f}" r="{small:.1f}" {look}/>',
        _larger(_APART / apart, cx, cy, ink, ground),
    ]


def _planet(view: EyeView, d: Disc, ink: str, soft: str, ground: str) -> list[str]:
    """Saturn with its ring, or a disc whose phase shows."""
    r = R * d.radius
    if r >= _CLEAR or (d.ring is None and d.lit > _FULL):
        return []
    large = _DISC if d.ring is None else _RING * d.radius / d.ring.half_length
    cx, cy = _middle(view)
    return [
        _edge(cx, cy, soft, ground),
        f'<g transform="translate({cx - C:g} {cy - C:g})">',
        *shape(d, large, ink, ground),
        "</g>",
        _larger(large / r, cx, cy, ink, ground),
    ]


def _middle(view: EyeView) -> tuple[float, float]:
    """In the upper corner that nothing points to."""
    ways = [w for w in (view.zenith, view.drift) if w is not None]
    left = min(abs(half_turn_deg(clock_deg(w) - 315.0)) for w in ways)
    right = min(abs(half_turn_deg(clock_deg(w) - 45.0)) for w in ways)
    return (_MIDDLE if left > right else SIZE - _MIDDLE), _MIDDLE


def _edge(cx: float, cy: float, soft: str, ground: str) -> str:
    return (
        f'<circle class="eye-inset" cx="{cx:g}" cy="{cy:g}" r="{_INSET:g}" fill="{ground}" '
        f'stroke="{soft}" stroke-width="1.5"/>'
    )


def _larger(times: float, cx: float, cy: float, ink: str, ground: str) -> str:
    return (
        f'<text class="eye-text" x="{cx:g}" y="{cy + _INSET - 7.0:g}" text-anchor="middle" '
        f'fill="{ink}" font-size="13" stroke="{ground}" stroke-width="3" paint-order="stroke">'
        f"{_times(times)}</text>"
    )


def _times(x: float) -> str:
    return f"{x:.1f}×" if x < 10.0 else f"{x:.0f}×"
