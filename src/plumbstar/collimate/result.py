"""What one picture of a defocused star says: the record that the judgement fills in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto

from plumbstar.collimate.camera import StarPlace
from plumbstar.collimate.spread import NONE, Spread


@dataclass(frozen=True)
class FittedCircle:
    """A fitted circle, pixels. Sigmas are 1 sigma, the centre's on each axis."""

    x_px: float
    y_px: float
    radius_px: float
    centre_sigma_px: float
    radius_sigma_px: float


class Refusal(Enum):
    """Why a picture cannot be judged."""

    TOO_FEW_PIXELS = auto()
    ALL_WHITE = auto()
    NOTHING_STANDS_OUT = auto()
    NO_DISC = auto()
    SMALL = auto()
    OUTSIDE = auto()
    NOT_ROUND = auto()
    NOT_ALONE = auto()
    SHADOW_BURNT = auto()
    IN_FOCUS = auto()
    NO_SHADOW = auto()
    TWO_SHADOWS = auto()
    SHADOW_NOT_ROUND = auto()
    SHADOW_TINY = auto()
    SHADOW_WIDE = auto()
    DARKER_THAN_SKY = auto()
    NO_SKY = auto()
    UNCERTAIN = auto()


@dataclass(frozen=True)
class Collimation:
    """What one picture (or a pair, see :func:`~.pair.combine`) says.

    ``offset_fraction`` is the distance from the disc's middle to the shadow's middle over the
    disc's radius; ``offset_sigma`` its 1 sigma, ``across_sigma`` that of the component at right
    angles to it; ``offset_right`` and ``offset_down`` the two components. ``noise`` is the
    covariance of the reading itself, ``slant`` of what is left open by a phone that looks in at a
    slant (:mod:`~.keystone`); ``offset_sigma`` holds both. Whether the shadow is called
    centred goes by ``slant_tail`` times the latter: its tails are longer than a Gaussian's.
    ``direction_deg`` is clockwise from up in the picture and ``clock`` the same in hours;
    ``seen_deg`` and ``seen_clock`` are as the observer stands, after the turn and
    mirror given. ``burnt`` is the part of the disc that is plain white.

    ``axis_diameters`` is how far the coma-free point lies from the star, in diameters of the disc;
    ``axis_mm`` the same in mm (needs the defocus); ``coma_free_mm`` the radius of the
    diffraction-limited field; ``outside_beyond_mm`` the defocus beyond which this offset means the
    star lies outside that field. All of these hold if the whole offset is coma.
    ``refusal`` says why it cannot be judged, and ``reason`` says that in words.
    ``sides`` is 2 for a pair, and then ``fixed_right``, ``fixed_down`` hold the part of the offset
    that is no coma, in disc radii, as it stands in the racked-out picture. ``by_eye``: there was no
    picture (:mod:`~.by_eye`), the circles are None and ``seen_clock`` is the eyepiece's.
    ``star``: where it was said to stand in the eyepiece.
    """

    can_judge: bool
    reason: str
    verdict: str
    turn: str = ""
    caveats: tuple[str, ...] = ()
    severity: str = "unknown"
    outer: FittedCircle | None = None
    inner: FittedCircle | None = None
    offset_fraction: float = math.nan
    offset_sigma: float = math.nan
    across_sigma: float = math.nan
    offset_right: float = math.nan
    offset_down: float = math.nan
    noise: Spread = NONE
    slant: Spread = NONE
    slant_tail: float = 1.0
    direction_deg: float = math.nan
    direction_sigma_deg: float = math.nan
    clock: float = math.nan
    seen_deg: float = math.nan
    seen_clock: float = math.nan
    obstruction: float = math.nan
    burnt: float = 0.0
    focal_ratio: float | None = None
    defocus_mm: float | None = None
    coma_free_mm: float | None = None
    axis_diameters: float | None = None
    axis_mm: float | None = None
    outside_beyond_mm: float | None = None
    up_clock: float = 12.0
    mirrored: bool = False
    sides: int = 1
    by_eye: bool = False
    star: StarPlace = StarPlace.UNTOLD
    refusal: Refusal | None = None
    fixed_right: float | None = None
    fixed_down: float | None = None
