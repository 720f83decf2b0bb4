"""The azimuth circle sits off centre: its reading is wrong by a wave, once a turn."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.diagnose.explain.causes.claim import Claimed
from plumbstar.diagnose.explain.causes.term import WideTerm, term_cause
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.diagnose.explain.sizes import arc

_KIND = "runout"
_TERMS = ("azimuth_runout_sin", "azimuth_runout_cos")
#: Each component (sine, cosine).
_RUNOUT_DEG = ((0.45, 0.4), (0.4, 1.2), (0.15, 3.0))


@dataclass(frozen=True)
class Runout(Claimed, WideTerm):
    def title(self, o: Observations, j: Judged) -> str:
        return "the azimuth circle sits off centre"

    def claim(self, o: Observations, j: Judged) -> str:
        size = math.hypot(*(j.term_deg(name)[0] for name in _TERMS))
        return f"Once a turn the azimuth would read up to {arc(size)} wrong either way"

    def mend(self, o: Observations, j: Judged) -> str:
        return (
            "Centre the azimuth circle on its axis; or let the kit expect a circle that is off "
            "centre, and the fix allows for it."
        )

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "hold a pointer to the circle's edge while the mount turns: the gap must not change"

    def happened(self, o: Observations, j: Judged) -> str:
        return "The circle for left and right seems to sit off centre."

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Turn the base slowly round and see whether the circle wobbles against its pointer."


CAUSE = term_cause(_KIND, 0.02, _RUNOUT_DEG, Runout(_TERMS))
