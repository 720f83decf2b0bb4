"""Round things with a round dark middle that are no star: cups, rings on a table, buttons."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.collimate.circles import FoundRings
from plumbstar.collimate.edges import Edge
from plumbstar.collimate.pixels import Grey, blur
from plumbstar.collimate.result import Refusal
from plumbstar.units import Bools

#: Shadow over disc. Secondaries block 0.12 to 0.5 of the aperture (common practice, no source);
#: near focus waves make a shadow of 0.25 look like one of 0.4 (docs/collimate.md).
NARROWEST, WIDEST = 0.10, 0.55
#: The shadow may not be darker than the sky by this part of the ring's light: a star's shadow lets
#: no less light through than the sky beside it gives. Drawn stars: never below 0.
_DARKER = 0.03
#: Unevenness of what is round the disc, over the ring's light: drawn
#: skies had 0.005 at the most, tables 0.009 and more, without what the pixels' noise makes.
_ROUGH, _ROUGH_NOISE = 0.008, 0.25


def no_star(f: FoundRings, shadow: Edge) -> Refusal | None:
    """Why disc and shadow cannot be those of a star out of focus, or None."""
    part = shadow.r / f.outer.r
    if part < NARROWEST:
        return Refusal.SHADOW_TINY
    if part > WIDEST:
        return Refusal.SHADOW_WIDE
    g = f.work  # the ring is 1, the sky 0
    yy, xx = np.mgrid[0 : g.shape[0], 0 : g.shape[1]]
    rho = np.hypot(xx - f.outer.x, yy - f.outer.y) / f.outer.r
    beside: Bools = (rho > 1.25) & (rho < 1.75)
    if beside.sum() < 50:
        return None
    noise = _noise(g, beside)
    core = np.hypot(xx - shadow.x, yy - shadow.y) < max(0.5 * shadow.r, 1.0)
    if core.any() and float(np.median(g[core])) < -(_DARKER + noise):
        return Refusal.DARKER_THAN_SKY
    # Between two blurs: a slope, the glow's edge and a few stars drop out, a table's grain stays.
    rough = _grain(np.where(rho < 1.25, np.float32(0.0), g), f.outer.r, beside & (rho > 1.35))
    return Refusal.NO_SKY if rough > _ROUGH + _ROUGH_NOISE * noise else None


def _grain(g: Grey, r: float, where: Bools) -> float:
    """1 sigma of what is neither pixels' noise nor a slope, there."""
    uneven: Grey = blur(g, 0.06 * r) - blur(g, 0.15 * r)
    return 1.4826 * float(np.median(np.abs(uneven[where]))) if where.any() else 0.0


def _noise(g: Grey, where: Bools) -> float:
    """1 sigma of a pixel there, from neighbours' differences."""
    pairs = where[:, 1:] & where[:, :-1]
    d = (g[:, 1:] - g[:, :-1])[pairs]
    return float(1.4826 * np.median(np.abs(d)) / math.sqrt(2)) if d.size else 0.0
