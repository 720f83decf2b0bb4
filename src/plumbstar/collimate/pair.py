"""Two pictures, one from each side of focus: coma parted from what is fixed in the pupil."""

from __future__ import annotations

import math
from dataclasses import replace

from plumbstar.collimate.meaning import with_offset
from plumbstar.collimate.result import Collimation
from plumbstar.collimate.say import describe
from plumbstar.errors import UserError


def combine(racked_out: Collimation, racked_in: Collimation) -> Collimation:
    """Part coma from a shadow that is off-centre for another reason, from both sides of focus.

    Coma carries the shadow the same way on both sides by the same length; everything that is fixed
    in the pupil (an offset secondary, the silhouette's slide over a tilted primary) turns over with
    the disc. In lengths, with disc radii R: s_out R_out = c + x R_out and s_in R_in = c - x R_in,
    so c = R_out R_in (s_out + s_in) / (R_out + R_in). The result is stated for the racked-out disc.
    Both pictures must be taken with the same zoom, the phone held the same way, and the star
    centred. Raises UserError if either cannot be judged, or the discs are too unlike.
    """
    for name, c in (("racked out", racked_out), ("racked in", racked_in)):
        if not c.can_judge:
            raise UserError(
                f"The picture {name} cannot be judged: {c.reason.rstrip('.')}",
                "",
                "Take that one again",
            )
    assert racked_out.outer is not None
    assert racked_in.outer is not None
    ro, ri = racked_out.outer.radius_px, racked_in.outer.radius_px
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
