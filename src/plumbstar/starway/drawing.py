"""The way to a star as SVG text: as the observer stands, up at the top, one hue."""

from __future__ import annotations

import itertools
import math
from html import escape
from typing import Literal

import numpy as np

from plumbstar.sky.angles import offset_rad, separation_rad
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import asterisms, catalogue
from plumbstar.sky.places import Directions, in_frame
from plumbstar.starway import say
from plumbstar.starway.way import HAND_DEG, StarWay
from plumbstar.units import Array

Dress = Literal["night", "day"]
#: ink, soft, ground
_COLOURS = {"night": ("#f00", "#a00", "#000"), "day": ("#000", "#555", "#fff")}
#: Stars to this are drawn, and never less than so much of the sky about the way, degrees.
_FAINTEST, _LEAST_DEG = 4.2, 13.0
_SIZE = 360.0


class _Sheet:
    """The flat picture about the middle of the way: right and up keep distance and direction."""

    def __init__(self, w: StarWay) -> None:
        star = np.radians(w.place)
        start = np.radians(w.begin.start) if w.begin is not None else star
        right, up = offset_rad(*star, *start) / 2.0
        self.middle = _moved(star, float(right), float(up))
        half = math.degrees(float(separation_rad(*star, *start))) / 2.0
        self.radius_deg = max(_LEAST_DEG, half + 7.0)
        self.scale = _SIZE / 2.0 / self.radius_deg

    def xy(self, az: Array | float, alt: Array | float) -> Array:
        """Where places (...), radians, lie on the sheet, (..., 2), right and down."""
        flat = np.degrees(offset_rad(*self.middle, az, alt)) * self.scale
        out: Array = flat * (1.0, -1.0)
        return out


def _moved(place: Array, right: float, up: float) -> tuple[float, float]:
    """The place so far from another along a great circle, radians."""
    far = math.hypot(right, up)
    if far < 1e-9:
        return float(place[0]), float(place[1])
    az, alt = float(place[0]), float(place[1])
    sin_alt = math.sin(alt) * math.cos(far) + math.cos(alt) * math.sin(far) * up / far
    x = math.sin(far) * right / far
    y = math.cos(alt) * math.cos(far) - math.sin(alt) * math.sin(far) * up / far
    return az + math.atan2(x, y), math.asin(max(-1.0, min(1.0, sin_alt)))


def svg(w: StarWay, dress: Dress = "night") -> str:
    """The drawing, one SVG element; its title is the way in words."""
    ink, soft, ground = _COLOURS[dress]
    sheet, half = _Sheet(w), _SIZE / 2.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-half:g} {-half:g} {_SIZE:g} '
        f'{_SIZE:g}" role="img" font-family="sans-serif" font-size="15" font-weight="600">',
        f"<title>{escape(say.in_words(w))}</title>",
        f'<rect x="{-half:g}" y="{-half:g}" width="{_SIZE:g}" height="{_SIZE:g}" fill="{ground}"/>',
        *_horizon(sheet, soft, ground),
        *_figures(w, sheet, soft),
        *_stars(w, sheet, ink),
        *_way(w, sheet, ink, ground),
        *_alike(w, sheet, ink, ground),
        f'<path d="M{-half + 10:g} {half - 12:g}v-8m0 4h{HAND_DEG * sheet.scale:.1f}m0 -4v8" '
        f'fill="none" stroke="{ink}" stroke-width="2"/>',
        _text(-half + 12, half - 26, "one hand", "start", ink, ground),
        "</svg>",
    ]
    return "".join(parts)


def _stars(w: StarWay, sheet: _Sheet, ink: str) -> list[str]:
    stars = catalogue.load()
    index = stars.brighter_than(_FAINTEST)
    az, alt = in_frame(frame(w.at, w.site), Directions.take(stars, index))
    near = np.degrees(separation_rad(*sheet.middle, az, alt)) < 1.5 * sheet.radius_deg
    near &= alt > 0.0
    out = []
    for (x, y), v in zip(sheet.xy(az[near], alt[near]), stars.v_mag[index][near], strict=True):
        if max(abs(x), abs(y)) < _SIZE / 2.0:
            out.append(
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{_radius(float(v)):.1f}" fill="{ink}"/>'
            )
    return out


def _radius(v: float) -> float:
    return max(1.0, 6.4 - 1.35 * v)


def _figures(w: StarWay, sheet: _Sheet, soft: str) -> list[str]:
    """Lines of the figures as far as they are on the sheet and up."""
    f = frame(w.at, w.site)
    out = []
    for figure in asterisms.load():
        for chain in figure.chains:
            az, alt = in_frame(f, Directions.of(list(chain)))
            apart = np.degrees(separation_rad(*sheet.middle, az, alt))
            points = sheet.xy(az, alt)
            for (i, a), (j, b) in itertools.pairwise(enumerate(points)):
                if max(apart[i], apart[j]) < 1.6 * sheet.radius_deg and min(alt[i], alt[j]) > 0:
                    out.append(
                        f'<path d="M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}" '
                        f'stroke="{soft}" stroke-width="1.5"/>'
                    )
    return out


def _horizon(sheet: _Sheet, soft: str, ground: str) -> list[str]:
    if math.degrees(sheet.middle[1]) > 1.5 * sheet.radius_deg:
        return []
    az = sheet.middle[0] + np.radians(np.linspace(-90.0, 90.0, 61))
    points = [(x, y) for x, y in sheet.xy(az, np.zeros_like(az)) if abs(x) < _SIZE]
    if len(points) < 2 or min(y for _, y in points) > _SIZE / 2.0:
        return []
    line = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    under = next((y for x, y in points if abs(x) < 20.0), points[len(points) // 2][1])
    label = _text(0.0, under - 6.0, "the horizon", "middle", soft, ground)
    return [f'<path d="M{line}" fill="none" stroke="{soft}" stroke-width="3"/>', label]


def _way(w: StarWay, sheet: _Sheet, ink: str, ground: str) -> list[str]:
    """The ring about the star and its name; the arrow, and what it begins from."""
    x, y = (float(v) for v in sheet.xy(*np.radians(w.place)))
    side, lift, anchor = (-20.0, 5.0, "end") if x > 0 else (20.0, 5.0, "start")
    if w.begin is not None and abs(w.begin.right_deg) > abs(w.begin.up_deg):
        side, lift, anchor = 0.0, -24.0, "middle"  # the arrow comes from the side
    out = [
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="15" fill="none" stroke="{ink}" stroke-width="3"/>',
        _text(x + side, y + lift, w.star.label, anchor, ink, ground, 18),
    ]
    b = w.begin
    if b is None:
        return out
    x0, y0 = (float(v) for v in sheet.xy(*np.radians(b.start)))
    far = math.hypot(x - x0, y - y0)
    if far > 50.0 and not b.member:
        u, v = (x - x0) / far, (y - y0) / far
        ax, ay, bx, by = x0 + 14 * u, y0 + 14 * v, x - 20 * u, y - 20 * v
        out.append(
            f'<path d="M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}M{bx - 10 * u + 6 * v:.1f} '
            f"{by - 10 * v - 6 * u:.1f}L{bx:.1f} {by:.1f}L{bx - 10 * u - 6 * v:.1f} "
            f'{by - 10 * v + 6 * u:.1f}" fill="none" stroke="{ink}" stroke-width="2.5" '
            'stroke-dasharray="7 5"/>'
        )
    name = b.landmark.name.partition(",")[0].removeprefix("the tight little group of ")
    left = x0 > 20.0
    beside = 0.0 if abs(x - x0) > abs(y - y0) else -26.0 if left else 26.0  # never on the arrow
    edge = max(-_SIZE / 2 + 10.0, min(_SIZE / 2 - 10.0, x0 + beside))
    low = max(-_SIZE / 2 + 20.0, min(_SIZE / 2 - 44.0, y0 + (6.0 if beside else 34.0)))
    out.append(_text(edge, low, name, "end" if left else "start", ink, ground))
    return out


def _alike(w: StarWay, sheet: _Sheet, ink: str, ground: str) -> list[str]:
    """A letter beside each star that it may be taken for."""
    out = []
    for k, a in enumerate(w.alike):
        at = _moved(np.radians(w.place), math.radians(a.right_deg), math.radians(a.up_deg))
        x, y = (float(v) for v in sheet.xy(*at))
        if max(abs(x), abs(y)) < _SIZE / 2.0 - 12.0:
            out.append(_text(x + 10.0, y - 8.0, "ABC"[k], "start", ink, ground))
    return out


def _text(x: float, y: float, text: str, anchor: str, ink: str, ground: str, size: int = 15) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" fill="{ink}" '
        f'stroke="{ground}" stroke-width="4" paint-order="stroke">{escape(text)}</text>'
    )
