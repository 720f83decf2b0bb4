"""Ring and shadow as somebody set them by eye, judged like a picture.

A circle drawn on a screen is dragged until it stands in another as the shadow does in the star's
disc; that is done a few times, each from another starting place. The mean is the offset. Its error:

- of one setting, on each axis: the scatter of the settings, blended with what an eye is thought
  capable of (a scaled inverse chi-squared prior that counts as :data:`_WORTH` values; Gelman and
  others, Bayesian Data Analysis, section 2.6, from memory), so that three settings which happen to
  agree are not taken for perfect;
- of all settings alike: what one glance, kept in mind, was off by, and a head beside the eyepiece;
  no repetition takes that away;
- of the direction: a phone that is not quite upright beside the eyepiece.

Nobody was measured. The widths are those of an eye that tells two widths of the ring apart when
they differ by a twenty-fifth (design/by_eye.py draws such eyes, finer and coarser ones among them,
and prints how often the truth lies within; the twenty-fifth and the turn are common practice, no
source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.collimate.given import check_numbers
from plumbstar.collimate.meaning import with_offset
from plumbstar.collimate.no_star import NARROWEST, WIDEST
from plumbstar.collimate.optics import coma_free_radius_mm
from plumbstar.collimate.result import Collimation
from plumbstar.collimate.say import describe
from plumbstar.collimate.spread import Spread
from plumbstar.errors import UserError

#: 1 sigma on each axis, disc radii: of one setting, of all alike; and of the phone's turn, radians.
ONE_SETTING, BIAS, TURN = 0.027, 0.018, math.radians(6.0)
_WORTH = 2.0
FEWEST, MOST = 3, 9


@dataclass(frozen=True)
class Setting:
    """The shadow's middle from the disc's, and its radius, all in disc radii."""

    right: float
    down: float
    shadow: float


def judge_by_eye(
    settings: Sequence[Setting],
    focal_ratio: float | None = None,
    *,
    defocus_mm: float | None = None,
) -> Collimation:
    """What three to nine settings mean, the phone held upright as the eye looks in.

    Raises UserError for too few settings or such that are no shadow in a disc.
    """
    if not FEWEST <= len(settings) <= MOST:
        raise UserError(
            f"{len(settings)} settings by eye",
            f"{FEWEST} to {MOST}",
            "Set the shadow again: only the spread of several tells how sure they are",
        )
    check_numbers(focal_ratio, defocus_mm, 12.0)
    for s in settings:
        if not (NARROWEST <= s.shadow <= WIDEST and math.hypot(s.right, s.down) + s.shadow < 1.0):
            raise UserError(
                f"a shadow {100 * s.shadow:.0f} % as wide as the disc, "
                f"{100 * math.hypot(s.right, s.down):.0f} % off its middle",
                f"{100 * NARROWEST:.0f} to {100 * WIDEST:.0f} % as wide, and inside the disc",
                "Set it again",
            )
    at = np.array([(s.right, s.down) for s in settings])
    right, down = (float(v) for v in at.mean(axis=0))
    free = 2 * (len(settings) - 1)
    scatter = float(((at - at.mean(axis=0)) ** 2).sum())
    one2 = (_WORTH * ONE_SETTING**2 + scatter) / (_WORTH + free - 2.0)  # the posterior's mean
    noise = Spread.even(math.sqrt(one2 / len(settings) + BIAS**2))
    noise = noise.stretched(-down * TURN, right * TURN)
    eps = float(np.mean([s.shadow for s in settings]))
    base = Collimation(
        True,
        "",
        "",
        by_eye=True,
        obstruction=eps,
        focal_ratio=focal_ratio,
        defocus_mm=defocus_mm,
        coma_free_mm=None if focal_ratio is None else coma_free_radius_mm(focal_ratio),
    )
    return describe(with_offset(base, right, down, noise, Spread()))
