"""A star's surroundings as SVG text: one drawing for the phone and for paper.

Shapes carry classes for a page to dress and plain attributes for paper; there is no reference to
anything outside, nor any link within (clip paths and the like), so the page stays one file.
"""

from __future__ import annotations

import math
from html import escape

from plumbstar.card.model import Dot, Field

_R = 100.0  # the rim
_SIZE = 216.0


def svg(field: Field, *, alone: bool = False) -> str:
    """The drawing, zenith up, as seen by eye. ``alone`` adds what a file of its own needs."""
    scale = _R / field.radius_deg
    space = ' xmlns="http://www.w3.org/2000/svg"' if alone else ""
    half = _SIZE / 2.0
    parts = [
        f'<svg{space} viewBox="{-half:g} {-half:g} {_SIZE:g} {_SIZE:g}" class="stars" role="img" '
        f'aria-label="{escape(in_words(field))}">',
        f'<circle class="rim" r="{_R + 5:g}" fill="none" stroke="#000" stroke-width="1.5"/>',
    ]
    fainter = field.limit_mag - 4.5  # than what the sizes are made for
    for d in field.dots:
        x, y, r = d.right_deg * scale, -d.up_deg * scale, size(d.v_mag - fainter)
        parts.append(f'<circle class="star" cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" fill="#000"/>')
    parts.append('<circle class="ring" r="17" fill="none" stroke="#000" stroke-width="3"/>')
    parts += [_letter(d, scale) for d in field.dots if d.letter]
    # A short stroke at the rim: the zenith lies there.
    turn = math.degrees(math.atan2(*field.up))
    parts.append(
        f'<path class="up" transform="rotate({turn:.1f})" '
        f'd="M-5 {-_R + 7:g}L0 {-_R - 2:g}L5 {-_R + 7:g}Z" fill="#000"/>'
    )
    parts.append("</svg>")
    return "".join(parts)


def size(v_mag: float) -> float:
    """How large a star is drawn: each magnitude a clear step."""
    return max(1.8, 9.5 - 1.7 * v_mag)


def _letter(d: Dot, scale: float) -> str:
    """The look-alike's letter beside it, toward the middle so that it stays within the rim."""
    x, y = d.right_deg * scale, -d.up_deg * scale
    step = size(d.v_mag) + 4.0
    left = x > 55.0 or (x < 0.0 and x > -40.0 and abs(y) > 20.0)
    return (
        f'<text class="letter" x="{x + (-step if left else step):.1f}" y="{y + 8:.1f}" '
        f'text-anchor="{"end" if left else "start"}" fill="#000" font-size="24" '
        f'font-weight="bold">{escape(d.letter)}</text>'
    )


def in_words(field: Field) -> str:
    """For those who hear the page: the bright neighbours, by clock face."""
    bright = [d for d in field.dots if math.hypot(d.right_deg, d.up_deg) > 0.3][:4]
    told = "; ".join(
        f"{math.hypot(d.right_deg, d.up_deg):.0f}° off toward {_hour(d)} o'clock, magnitude "
        f"{d.v_mag:.1f}"
        for d in bright
    )
    return f"The sky round {field.name}, up at the top. {told or 'No bright star is near'}."


def _hour(d: Dot) -> int:
    return round(math.degrees(math.atan2(d.right_deg, d.up_deg)) / 30.0) % 12 or 12
