"""Which star was most likely taken for one of the two, by the number alone."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.controller.named_pair import pair_seen, wrong_star_candidates
from plumbstar.controller.one import MistakenStar, judge
from plumbstar.controller.outlook import Asked
from plumbstar.controller.pair import SIGNS, ShownNumber
from plumbstar.mount.priors import Noise
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

#: One star is named with at least this share of all that may have been taken for it. Common
#: practice, no source.
STANDS_OUT = 0.3


def likeliest_star(
    number_deg: float,
    stars: Sequence[tuple[Target, Instant]],
    which: int,
    site: Site,
    asked: Asked,
) -> MistakenStar | None:
    """Which star was most likely taken for the first (``which`` 0) or the second, by the number
    alone; None where none stands out. ``asked``: the evening, for what is believed of the mount."""
    first, second = stars
    pair = pair_seen(first, second, site)
    sign = SIGNS[1] if asked.sign == -1 else SIGNS[0]
    found = judge(
        ShownNumber(number_deg, pair, ""), asked.priors,
        Noise(asked.centring, 0.0, 0.0), clock=asked.clock, sign=sign,
        candidates=wrong_star_candidates(first, second, site),
    )  # fmt: skip
    mine = [w for w in found.wrong_stars if w.meant == stars[which][0].label]
    likely = max(mine, key=lambda w: w.probability, default=None)
    if likely is None or likely.probability < STANDS_OUT * sum(w.probability for w in mine):
        return None
    return likely
