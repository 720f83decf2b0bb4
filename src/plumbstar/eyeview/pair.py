"""A listed double star in the field: where the fainter stands, and both drawn.

Star lists hold close pairs as one star, or leave the fainter out. So both are put in from the list
of doubles, the brighter in the middle; a star that the lists have where the fainter should be is
the fainter, and stays where they have it.
"""

from __future__ import annotations

import math
from dataclasses import replace

from plumbstar.eyeview.model import EyePair, EyeStar
from plumbstar.eyeview.placing import Placing
from plumbstar.sky.lists import doubles
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.places import Target

#: A listed star is the fainter one when it stands so near its place (arcsec, or a part of the
#: separation) and is as bright within so many magnitudes. Judgement.
_NEAR_ARCSEC, _NEAR_PART, _ALIKE_MAG = 3.0, 0.25, 1.5
_ARCSEC = math.radians(1.0 / 3600.0)


def two_stars(picture: Placing, target: Target, year: float, reach_mag: float) -> EyePair | None:
    """The pair that a target is, as it stands in that year; None if it is none."""
    listed = doubles.of(target) if isinstance(target, Star) else target
    if not isinstance(listed, Double):
        return None
    d = listed.at(year)
    if math.isnan(d.separation_arcsec) or math.isnan(d.position_angle_deg):
        return None
    x, y = picture.toward(math.radians(d.position_angle_deg))
    far = d.separation_arcsec * _ARCSEC / picture.radius
    return EyePair(
        d.mag_a, d.mag_b, d.separation_arcsec, d.position_angle_deg, d.year, d.colours,
        far * x, far * y, picture.alt < 0.0 or d.mag_b <= reach_mag,
    )  # fmt: skip


def with_companion(
    pair: EyePair, stars: tuple[EyeStar, ...], radius_rad: float
) -> tuple[EyePair, tuple[EyeStar, ...]]:
    """The stars of the field with both of the pair, each once, brightest first."""
    arcsec = _ARCSEC / radius_rad
    own = [s for s in stars if math.hypot(s.x, s.y) < 2.0 * arcsec]
    colour, name = (own[0].colour, own[0].name) if own else ("", "")
    near = max(_NEAR_ARCSEC, _NEAR_PART * pair.separation_arcsec) * arcsec
    rest = [s for s in stars if s not in own]
    there = [
        s for s in rest
        if math.hypot(s.x - pair.x, s.y - pair.y) < near and abs(s.v_mag - pair.mag_b) < _ALIKE_MAG
    ]  # fmt: skip
    out = [*rest, EyeStar(0.0, 0.0, pair.mag_a, colour, name)]
    if there:
        first = min(there, key=lambda s: math.hypot(s.x - pair.x, s.y - pair.y))
        pair = replace(pair, x=first.x, y=first.y, shows=True)
    elif pair.shows and math.hypot(pair.x, pair.y) <= 1.0:
        out.append(EyeStar(pair.x, pair.y, pair.mag_b))
    return pair, tuple(sorted(out, key=lambda s: s.v_mag))
