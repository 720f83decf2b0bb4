"""Two pictures, one from each side of focus: coma parted from what is fixed in the pupil."""

from __future__ import annotations

import math
from dataclasses import replace

from plumbstar.collimate.by_eye import BIAS
from plumbstar.collimate.meaning import with_offset
from plumbstar.collimate.result import Collimation
from plumbstar.collimate.say import describe
from plumbstar.collimate.spread import Spread
from plumbstar.errors import UserError

#: How unlike two discs are that are set by eye, racked out and in by as much: 1 sigma of the
#: logarithm of their ratio. Common practice, no source.
_UNLIKE = 0.25


def combine(racked_out: Collimation, racked_in: Collimation) -> Collimation:
    """Part coma from a shadow that is off-centre for another reason, from both sides of focus.

    Coma carries the shadow the same way on both sides by the same length; everything that is fixed
    in the pupil (an offset secondary, the silhouette's slide over a tilted primary) turns over with
    the disc. In lengths, with disc radii R: s_out R_out = c + x R_out and s_in R_in = c - x R_in,
    so c = R_out R_in (s_out + s_in) / (R_out + R_in). The result is stated for the racked-out disc.
    Both pictures must be taken with the same zoom, the phone held the same way, and the star
    centred. Raises UserError if either cannot be judged, or the discs are too unlike.

    Of two set by eye nobody knows the discs' sizes: they are taken as alike, to :data:`_UNLIKE` of
    their ratio, and what one eye was off by on both sides (:data:`~.by_eye.BIAS`) does not average.
    """
    for name, c in (("racked out", racked_out), ("racked in", racked_in)):
        if not c.can_judge:
            raise UserError(
                f"The picture {name} cannot be judged: {c.reason.rstrip('.')}",
                "",
                "Take that one again",
            )
    ro, ri = _radii(racked_out, racked_in)
    if not 1 / 3 <= ro / ri <= 3:
        raise UserError(
            f"The star is {2 * ro:.0f} pixels across in one picture and {2 * ri:.0f} in the other",
            "",
            "They must be nearly alike. Rack in by as much as you racked out, with the same zoom",
        )
    a, b = ri / (ro + ri), ri / (ro + ri)
    right = a * racked_out.offset_right + b * racked_in.offset_right
    down = a * racked_out.offset_down + b * racked_in.offset_down
    noise = racked_out.noise.scaled(a) + racked_in.noise.scaled(b)
    if racked_out.by_eye:
        # The derivative of R_in / (R_out + R_in) by the ratio's logarithm, where they are alike.
        ratio = 0.25 * _UNLIKE
        noise = noise.stretched(
            ratio * (racked_out.offset_right + racked_in.offset_right),
            ratio * (racked_out.offset_down + racked_in.offset_down),
        )
        noise = noise + Spread.even(BIAS * math.sqrt(0.5))
    # One hand holds the phone twice alike: the slant's error is taken as the same in both.
    slant = (racked_out.slant.scaled(a + b) + racked_in.slant.scaled(a + b)).scaled(math.sqrt(0.5))
    both = replace(
        racked_out,
        sides=2,
        burnt=max(racked_out.burnt, racked_in.burnt),
        fixed_right=racked_out.offset_right - right,
        fixed_down=racked_out.offset_down - down,
    )
    tail = max(racked_out.slant_tail, racked_in.slant_tail)
    return describe(with_offset(both, right, down, noise, slant, tail))


def _radii(racked_out: Collimation, racked_in: Collimation) -> tuple[float, float]:
    """Of the two discs, in one unit."""
    if racked_out.outer is None or racked_in.outer is None:
        return 1.0, 1.0
    return racked_out.outer.radius_px, racked_in.outer.radius_px
