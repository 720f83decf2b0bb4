"""From a picture to the judgement, or to the reason why there is none."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plumbstar.collimate.camera import Camera
from plumbstar.collimate.circles import FoundRings, candidates, look_at
from plumbstar.collimate.edges import Edge
from plumbstar.collimate.given import check_numbers
from plumbstar.collimate.keystone import keystone
from plumbstar.collimate.meaning import with_offset
from plumbstar.collimate.no_star import no_star
from plumbstar.collimate.optics import coma_free_radius_mm
from plumbstar.collimate.pixels import Grey, as_grey, blur, label, noise_of, shrink
from plumbstar.collimate.result import Collimation, FittedCircle, Refusal
from plumbstar.collimate.say import describe, refuse
from plumbstar.collimate.spread import Spread

_MIN_RADIUS_PX = 12.0  # below it, tests/collimate/test_collimate.py's error bound is not met
#: Uneven light cannot be seen in what is burnt to plain white, and so not be divided out: that adds
#: (1 sigma, disc radii) a constant and so much of the square of the softer edge's width, once so
#: large a part is white (docs/collimate.md has the errors).
_BURNT_SIGMA, _BURNT_SOFT, _BURNT_PART = 0.002, 0.6, 0.3


def judge(
    image: NDArray[Any],
    focal_ratio: float | None = None,
    *,
    defocus_mm: float | None = None,
    up_clock: float = 12.0,
    mirrored: bool = False,
    camera: Camera | None = None,
) -> Collimation:
    """Find disc and shadow in a picture and say what their offset means.

    ``image`` is (height, width) or (height, width, 3), uint8 or float (0 to 1, or scaled by its
    maximum). ``focal_ratio`` and ``defocus_mm`` (how far the focuser stands from focus, either
    sign) are optional and add the comparison with the coma-free field. ``up_clock`` says which
    clock position in the picture is up for the observer at the eyepiece; ``mirrored`` that the
    picture is left-right reversed against the eyepiece's view. ``camera`` says what is known of how
    it was taken (nothing: the error is widened for a phone that looks in at a slant). A picture
    that cannot be judged gives ``can_judge`` False with the reason. Raises UserError for values
    that make no sense.
    """
    check_numbers(focal_ratio, defocus_mm, up_clock)
    asked = Collimation(
        False,
        "",
        "",
        focal_ratio=focal_ratio,
        defocus_mm=defocus_mm,
        up_clock=up_clock,
        mirrored=mirrored,
        star=(camera or Camera()).star,
        coma_free_mm=None if focal_ratio is None else coma_free_radius_mm(focal_ratio),
    )
    g = as_grey(image)
    h, w = g.shape
    if min(h, w) < 2 * _MIN_RADIUS_PX + 8:
        return refuse(asked, Refusal.TOO_FEW_PIXELS, width=w, height=h)
    k = max(1, math.ceil(max(h, w) / 480))
    small = blur(shrink(g, k), 1.0)
    sky, peak = float(np.percentile(small, 10)), float(small.max())
    noise = noise_of(small)
    if sky > 0.95:
        return refuse(asked, Refusal.ALL_WHITE)
    if peak - sky < max(0.04, 6 * noise):
        return refuse(asked, Refusal.NOTHING_STANDS_OUT)
    best: FoundRings | None = None
    best_score = 0.0
    for cx, cy, cr in candidates(small, sky, peak):
        f = look_at(g, (cx + 0.5) * k - 0.5, (cy + 0.5) * k - 0.5, cr * k)
        if f is None:
            continue
        score = f.outer.agree * min(1.0, f.outer.seen / 0.6)
        if f.inner is not None:
            score += 0.5 * f.inner.agree
        if score > best_score:
            best, best_score = f, score
        if score > 1.4 and f.outer.scatter < 0.02:
            break  # both circles round and whole: no other guess can do better
    if best is None:
        return refuse(asked, Refusal.NO_DISC)
    return _conclude(best, small, k, sky, asked, camera or Camera(), (w, h))


def _conclude(
    f: FoundRings,
    small: Grey,
    k_small: int,
    sky: float,
    asked: Collimation,
    camera: Camera,
    size: tuple[int, int],
) -> Collimation:
    """Every ground for refusing, then the numbers."""
    o = f.outer
    r_px = o.r * f.k
    if r_px < _MIN_RADIUS_PX:
        return refuse(asked, Refusal.SMALL, across=2 * r_px)
    if o.seen < 0.3:
        return refuse(asked, Refusal.OUTSIDE)
    if o.agree < 0.72 or o.scatter > 0.04:
        return refuse(asked, Refusal.NOT_ROUND)
    if _others(f, small, k_small, sky):
        return refuse(asked, Refusal.NOT_ALONE)
    i = f.inner
    if i is None or f.depth < 0.12 or i.contrast < max(0.07, 0.2 * f.depth):
        if f.flat > 0.6:
            return refuse(asked, Refusal.SHADOW_BURNT)
        return refuse(asked, Refusal.IN_FOCUS if f.middle > 1.4 else Refusal.NO_SHADOW)
    if f.rival > 0.3:
        return refuse(asked, Refusal.TWO_SHADOWS)
    eps = i.r / o.r
    off_x, off_y = (i.x - o.x) / o.r, (i.y - o.y) / o.r
    s = math.hypot(off_x, off_y)
    if i.agree < 0.6 or i.seen < 0.6 or s + eps > 1.02:
        return refuse(asked, Refusal.SHADOW_NOT_ROUND)
    if (why := no_star(f, i)) is not None:
        return refuse(asked, why, across=100 * eps)
    outer, inner = _whole(f, o), _whole(f, i)
    wide = max(o.width, i.width) / o.r
    burnt = (_BURNT_SIGMA + _BURNT_SOFT * wide**2) * min(1.0, f.flat / _BURNT_PART)
    sigma = math.hypot(outer.centre_sigma_px / r_px, inner.centre_sigma_px / r_px, burnt)
    if sigma > 0.08:
        found = replace(asked, outer=outer, inner=inner)
        return refuse(found, Refusal.UNCERTAIN, percent=100 * sigma)
    # The radius is the unit of the offset, so its error stretches the offset along itself.
    unit = outer.radius_sigma_px / r_px
    noise = Spread.even(sigma).stretched(off_x * unit, off_y * unit)
    slant = keystone(camera, size, (outer.x_px, outer.y_px), r_px, o.oval, o.oval_cov, eps)
    base = replace(asked, can_judge=True, outer=outer, inner=inner, obstruction=eps, burnt=f.flat)
    right, down = off_x - slant.right, off_y - slant.down
    return describe(with_offset(base, right, down, noise, slant.spread, slant.tail))


def _whole(f: FoundRings, e: Edge) -> FittedCircle:
    """From the working picture to the whole one, with the floors that simulation asked for.

    Beyond the rays' scatter: pixel grid, JPEG blocks and uneven light pull a blurred edge about
    together, most in the small shadow, so 0.015 pixel, 0.012 % of the disc's radius and 0.4 % of
    the shadow's edge width are added in quadrature. The softer the edges, the more do rim and
    shadow lie in one another's light, and a tone curve pulls the shadow off: 0.09 of its edge's
    width squared, in disc radii, more (tests/projected.py's blurs of 1 to 8 % ask for 0.16 to 0.2,
    those of tests/defocused.py for less than 0.1).
    A radius is the half-level line, and a camera's tone curve moves that by a part of the edge's
    width (in the median 1 % of it was measured for gamma 1, 12 % for gamma 0.45): 7 % is added. In
    a disc of few pixels the shadow is hardly wider than its own blurred edge: 10 / radius^2 pixels
    more (fitted likewise, to radii of 14 to 36).
    design/collimation_seen.py prints how often the truth then lies within.
    """
    soft = 0.0
    if e is f.inner:
        soft = 0.004 * e.width + 0.09 * e.width**2 / f.outer.r + 10.0 / f.outer.r**2
    centre2 = 0.5 * (e.cov[0, 0] + e.cov[1, 1]) + 0.015**2 + (0.00012 * f.outer.r) ** 2 + soft**2
    radius2 = e.cov[2, 2] + 0.015**2 + (0.07 * e.width) ** 2
    return FittedCircle(
        f.x0 + (e.x + 0.5) * f.k - 0.5,
        f.y0 + (e.y + 0.5) * f.k - 0.5,
        e.r * f.k,
        math.sqrt(centre2) * f.k,
        math.sqrt(radius2) * f.k,
    )


def _others(f: FoundRings, small: Grey, k: int, sky: float) -> bool:
    """Is there other bright ground, larger than a faint star's speck, beside the disc?"""
    o = f.outer
    x = (f.x0 + (o.x + 0.5) * f.k) / k - 0.5
    y = (f.y0 + (o.y + 0.5) * f.k) / k - 0.5
    r = o.r * f.k / k
    yy, xx = np.mgrid[0 : small.shape[0], 0 : small.shape[1]]
    rho = np.hypot(xx - x, yy - y) / r
    ring = float(np.median(small[(rho > 0.65) & (rho < 0.9)]))
    near = (rho > 1.25) & (rho < 1.6)  # the eyepiece's own glow is no star
    if near.any():
        sky = max(sky, float(np.median(small[near])))
    bright = (small > sky + 0.3 * (ring - sky)) & (rho > 1.2)
    labels, n = label(bright)
    return bool(n and np.bincount(labels.ravel())[1:].max() > 0.12 * math.pi * r * r)
