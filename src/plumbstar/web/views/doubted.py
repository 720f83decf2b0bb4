"""The question about a press that cannot be what it says, in one line."""

from __future__ import annotations

import math

from plumbstar.contract.picture import DoubtRecord
from plumbstar.sky.local_time import local
from plumbstar.sky.times import Instant
from plumbstar.solve.credible import FarOff
from plumbstar.solve.say import far_off_sentence, up_words
from plumbstar.text.words import spoken
from plumbstar.web.evening.desk import DoubtedPress
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.plan import NAMELESS


def doubts_of(e: Evening) -> tuple[DoubtRecord, ...]:
    """Those not answered yet, oldest first."""
    zone = e.site.time_zone if e.site is not None else ""
    return tuple(_record(d, zone) for d in e.doubts.open)


def doubt_sentence(d: DoubtedPress) -> str:
    """What speaks against it, and the question."""
    if d.stop_untold:
        return _untold_sentence(d)
    if d.pushed_deg:
        return (
            f"Was {spoken(d.star)} in the middle? The tube was still being pushed at the tap: it "
            f"went {d.pushed_deg:.1f}° in the half second before. If not, drop it, bring it to "
            "the middle and let go, then tap."
        )
    az, alt = d.points
    far = FarOff(
        *(d.off_deg, d.bound_deg, d.altitude_only, None),
        *(math.nan if az is None else az, alt, d.stood_alt_deg),
    )
    return far_off_sentence(d.star, far, d.same_as, d.near)


def _untold_sentence(d: DoubtedPress) -> str:
    stood = (
        ", where no star is: they do not know"
        if d.target == NAMELESS
        else f", and {spoken(d.star)} stood {up_words(d.stood_alt_deg)}: it was another star, or "
        "the encoders do not know"
    )
    return (
        f"By the encoders the tube was {up_words(d.reading.degrees()[1])}{stood} where the upright "
        "stop is. The tap is kept: put the tube against its stop and say so, and the tap is read "
        "by that."
    )


def _record(d: DoubtedPress, zone: str) -> DoubtRecord:
    at = local(Instant.from_unix(d.unix), zone)
    return DoubtRecord(
        id=d.press,
        star=d.star,
        sentence=doubt_sentence(d),
        yes=""
        if d.stop_untold
        else f"Yes, {spoken(d.star)}, as of {at}"
        if d.near
        else f"Yes, save it as of {at}",
        near=f"It was {spoken(d.near)}" if d.near else "",
        typed=d.reading.state == "typed",
        exchanged=d.exchanged,
        stop_untold=d.stop_untold,
    )
