"""What an offset of the shadow amounts to: direction, millimetres, severity."""

from __future__ import annotations

import math
from dataclasses import replace

from plumbstar.collimate.optics import axis_in_diameters, disc_diameter_mm, outside_beyond_mm
from plumbstar.collimate.result import Collimation
from plumbstar.collimate.spread import Spread
from plumbstar.turns import one_turn_deg

_INSIDE_95 = 5.9915  # 95 % point of a two-dimensional error in sigmas, squared: -2 ln 0.05


def with_offset(
    c: Collimation, right: float, down: float, noise: Spread, slant: Spread, tail: float = 1.0
) -> Collimation:
    """Put an offset (disc radii), its errors and everything that follows into the record.

    ``noise``: of the reading itself; ``slant``: of what a tilted phone may have done, with
    its ``tail`` (:class:`~.keystone.Keystone`).
    """
    s = math.hypot(right, down)
    total = noise + slant
    along, across = total.along(right, down), total.along(-down, right)
    direction = one_turn_deg(math.degrees(math.atan2(right, -down)))
    turn = direction - 30.0 * (c.up_clock % 12.0)
    seen = one_turn_deg(-turn if c.mirrored else turn)
    F, eps = c.focal_ratio, c.obstruction
    diameters = None if F is None else axis_in_diameters(s, F, eps)
    mm = None
    if F is not None and diameters is not None and c.defocus_mm is not None:
        mm = diameters * disc_diameter_mm(F, c.defocus_mm)
    c = replace(
        c,
        offset_fraction=s,
        offset_sigma=along,
        across_sigma=across,
        offset_right=right,
        offset_down=down,
        noise=noise,
        slant=slant,
        slant_tail=tail,
        direction_deg=direction,
        direction_sigma_deg=min(math.degrees(across / max(s, 1e-9)), 180.0),
        clock=direction / 30.0,
        seen_deg=seen,
        seen_clock=seen / 30.0,
        axis_diameters=diameters,
        axis_mm=mm,
        outside_beyond_mm=None if F is None else outside_beyond_mm(s, F, eps),
    )
    return replace(c, severity=_severity(c, (noise + slant.scaled(tail)).pull2(right, down)))


def _severity(c: Collimation, pull2: float) -> str:
    """centred, slight, clear or strong.

    With focal ratio and defocus, against :func:`~.optics.coma_free_radius_mm`: slight inside it,
    clear to three times as far, strong beyond. Otherwise by the offset alone, at 5 and 15 % of the
    disc's radius: common practice, no source. Three times is common practice too.
    """
    if pull2 < _INSIDE_95:
        return "centred"
    if c.axis_mm is not None and c.coma_free_mm is not None:
        ratio = c.axis_mm / c.coma_free_mm
        return "slight" if ratio <= 1 else "clear" if ratio <= 3 else "strong"
    return (
        "slight" if c.offset_fraction < 0.05 else "clear" if c.offset_fraction < 0.15 else "strong"
    )
