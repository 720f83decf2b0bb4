"""How far a phone that looks in at a slant shifts the shadow in the disc.

A phone at the eyepiece sees the eyepiece's focal plane in perspective. Let t be the tangent of the
phone's tilt, a vector in the picture: the way its axis points, from the eyepiece's axis; f the
lens's focal length and R the disc's radius in pixels. Two circles about one middle then have
their middles apart by (R / f) (1 - eps^2) t in disc radii: a pinhole's exact image of them, less
terms in (R / f)^2 t^2 (derived in docs/collimate.md).

What gives t away, weighed together by Bayes over fixed draws:

- the disc's place in a whole picture: a star in the middle of the eyepiece stands d = -f t from the
  picture's middle; a star that is not, at the angle p in the eyepiece, at f (p - t);
- the rim's oval: r = R (1 + e_c cos 2a + e_s sin 2a) with the traceless part of
  -(t t / 2 + (d / f) t) as its tensor, which for p = 0 is a lengthening by 1 / cos toward the
  picture's middle. Air and astigmatism make ovals too, so it mostly tells what t is *not*;
- how people hold a phone.

What is left unsettled is the spread. It is a mixture with long tails (a wild tilt, a star that was
not centred), and a covariance of all of it holds nine truths of ten where 68 % are meant: so the
covariance is drawn in until 68 % of the weight lies within one sigma. How far 99 % reach is told
beside it, for nobody shall turn a screw for a tail. The widths below are common practice, no
source, unless said otherwise; docs/collimate.md tells what came of them in pictures that were made
another way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from plumbstar.collimate.camera import Camera, StarPlace, whole_shape
from plumbstar.collimate.spread import Spread
from plumbstar.units import Array

_DRAWS = 6000
#: The phone's tilt on each axis, radians: mostly, and in one case of ten.
_TILT, _TILT_WILD, _WILD = math.radians(3.0), math.radians(9.0), 1 / 10
#: The star from the eyepiece's axis, apparent, on each axis: a thirtieth of a field of 60 degrees,
#: a phone's stabiliser moves the lens by less; and where it is aside.
_STAR, _STAR_WILD = math.radians(2.0), math.radians(5.0)
#: So often is the star aside, by what was said of it. One aside with a phone that follows it leaves
#: no trace in the picture, so it must be believed often where nobody says.
_ASIDE = {StarPlace.MIDDLE: 0.1, StarPlace.UNTOLD: 0.5, StarPlace.ASIDE: 1.0}
#: The phone follows a star that is aside: that wild is the tilt on each axis then.
_FOLLOWS = math.radians(7.0)
#: A phone's lens over its picture's diagonal where the file does not tell: 24 to 28 mm lenses are
#: 0.55 to 0.65 of it, twofold zoom doubles that (from memory).
_LENS, _LENS_LN = 0.85, 0.40
_KNOWN_LENS_LN = 0.04
#: A whole picture's diagonal over that of a piece cut out of it by hand, and its logarithm's sigma.
_CUT, _CUT_LN = 1.8, 0.45
#: Chance that a picture of a whole one's shape is whole: without and with its camera's word.
_IS_WHOLE, _IS_WHOLE_TOLD = 0.75, 0.95
#: Ovals by air and glass, the coefficient's sigma: mostly, and in three of ten.
_OVAL, _OVAL_BAD, _BAD = 0.0015, 0.012, 0.3


@dataclass(frozen=True)
class Keystone:
    """What the slant adds to the shadow's offset, disc radii, and how sure that is.

    ``spread`` holds 68 % within one sigma; ``tail`` times it holds 99 % where a Gaussian's
    would hold 95.
    """

    right: float
    down: float
    spread: Spread
    tail: float = 1.0


@cache
def _draws(place: StarPlace) -> tuple[Array, Array, Array, Array, Array]:
    """(lens (n,), cut (n,), star (n, 2), tilt (n, 2), its usual size (n,)), the first two in
    sigmas; the same ones always, each with its mirror image, so that a picture without a slant is
    told to have none."""
    rng = np.random.default_rng(20)
    n = _DRAWS // 2
    lens, star, tilt = rng.normal(size=n), rng.normal(size=(n, 2)), rng.normal(size=(n, 2))
    aside = rng.random(n) < _ASIDE[place]
    usual = np.where(aside, _FOLLOWS, _TILT)
    tilt *= np.where(rng.random(n) < _WILD, _TILT_WILD, usual)[:, None]
    star *= np.where(aside, _STAR_WILD, _STAR)[:, None]
    cut = rng.normal(size=n)
    return (np.concatenate([lens, lens]), np.concatenate([cut, cut]),
            np.concatenate([star, -star]), np.concatenate([tilt, -tilt]),
            np.concatenate([usual, usual]))  # fmt: skip


def keystone(
    camera: Camera,
    size: tuple[int, int],
    middle: tuple[float, float],
    radius_px: float,
    oval: Array,
    oval_cov: Array,
    obstruction: float,
) -> Keystone:
    """The slant's share in the offset of the shadow.

    ``size`` (width, height) and ``middle`` (x, y) of the disc, pixels; ``oval`` (2,) the rim's
    cos and sin 2a coefficients over its radius, ``oval_cov`` (2, 2).
    """
    if camera.straight:
        return Keystone(0.0, 0.0, Spread())
    width, height = size
    told = camera.focal_px(width, height)
    ln_lens, ln_cut, star, tilt, usual = _draws(camera.star)
    untold = _LENS * math.hypot(width, height) * np.exp(_LENS_LN * ln_lens)
    cut_f = untold * _CUT * np.exp(_CUT_LN * ln_cut)
    f = untold if told is None else told * np.exp(_KNOWN_LENS_LN * ln_lens)
    from_middle = np.array([middle[0] - (width - 1) / 2, middle[1] - (height - 1) / 2])
    whole = 0.0
    if whole_shape(width, height):
        whole = _IS_WHOLE_TOLD if told is not None else _IS_WHOLE
    # Cut by hand: the place tells nothing, any place was as likely; the lens was made for more.
    cut_t = tilt
    cut_w = np.full(len(f), (1 - whole) / (width * height))
    cut_w = cut_w * _ovals(oval, oval_cov, cut_t, star - cut_t)
    # Whole: the place is star - tilt, so the tilt follows from the star's place.
    d = from_middle[None, :] / f[:, None]
    t = star - d
    held = (1 - _WILD) * _bell(t, usual) + _WILD * _bell(t, _TILT_WILD)
    w = whole * held / f**2 * _ovals(oval, oval_cov, t, d)
    weights = np.concatenate([w, cut_w])
    weights /= weights.sum()
    k = np.concatenate([t, cut_t]) / np.concatenate([f, cut_f])[:, None]
    k *= radius_px * (1 - obstruction**2)
    mean = weights @ k
    spread, tail = _spread_and_tail(k - mean, weights)
    return Keystone(float(mean[0]), float(mean[1]), spread, tail)


def _spread_and_tail(off: Array, weights: Array) -> tuple[Spread, float]:
    """Of weighted points (n, 2) about nought, as :class:`Keystone` has them."""
    cov = (off * weights[:, None]).T @ off
    far2 = np.einsum("ni,ij,nj->n", off, np.linalg.inv(cov), off)
    order = np.argsort(far2)
    held = np.cumsum(weights[order])
    # As many sigmas, squared, hold so many of a two-dimensional Gaussian.
    one, two = (
        float(far2[order][np.searchsorted(held, part)]) / (-2.0 * math.log(1.0 - as_of))
        for part, as_of in ((0.6827, 0.6827), (0.99, 0.95))
    )
    return Spread.of(cov * one), max(1.0, math.sqrt(two / one))


def _bell(v: Array, sigma: float | Array) -> Array:
    """A round Gaussian's density in two dimensions, for v (n, 2); sigma (n,) or one for all."""
    out: Array = np.exp(-0.5 * (v**2).sum(axis=1) / sigma**2) / (2 * math.pi * sigma**2)
    return out


def _ovals(oval: Array, oval_cov: Array, t: Array, d: Array) -> Array:
    """Likelihood of the rim's oval for tilts ``t`` and places ``d`` in the picture, (n, 2) each."""
    both = 0.5 * t[:, None, :] * t[:, :, None]
    both += 0.5 * (d[:, None, :] * t[:, :, None] + t[:, None, :] * d[:, :, None])
    made = np.stack([0.5 * (both[:, 1, 1] - both[:, 0, 0]), -both[:, 0, 1]], axis=1)
    off = oval - made
    out = np.zeros(len(t))
    for part, sigma in ((1 - _BAD, _OVAL), (_BAD, _OVAL_BAD)):
        c = oval_cov + sigma**2 * np.eye(2)
        q = np.einsum("ni,ij,nj->n", off, np.linalg.inv(c), off)
        out += part * np.exp(-0.5 * q) / math.sqrt(float(np.linalg.det(c)))
    return np.maximum(out, 1e-30)
