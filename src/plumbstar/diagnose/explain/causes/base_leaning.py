"""The base was set down on a slope, further from level than the kit expects."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.diagnose.explain.causes.claim import Claimed
from plumbstar.diagnose.explain.causes.term import WideTerm, term_cause
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.diagnose.explain.sizes import lean
from plumbstar.mount.terms import INDEX

_KIND = "base_leaning"
_TERMS = ("lean_north", "lean_west")
#: Each component.
_LEAN_DEG = ((0.45, 4.0), (0.4, 8.0), (0.15, 20.0))


@dataclass(frozen=True)
class BaseLeaning(Claimed, WideTerm):
    def title(self, o: Observations, j: Judged) -> str:
        return "the base leans far from level"

    def claim(self, o: Observations, j: Judged) -> str:
        expected = math.degrees(o.prior.sigma[INDEX["lean_north"]])
        return f"The base would lean {lean(j)} (within ± {expected:.0f}° is usual)"

    def mend(self, o: Observations, j: Judged) -> str:
        return "Level the base with wedges under its feet; the fix allows for what is left."

    def deed(self, o: Observations, j: Judged) -> str:
        return "Level the base with wedges under its feet."

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "lay a spirit level on the base, two ways"

    def happened(self, o: Observations, j: Judged) -> str:
        return "The base stands on quite a slope. That is allowed for, but less is better."

    def try_next(self, o: Observations, j: Judged) -> str:
        return (
            "Put something flat under the low side of the base until a spirit level shows level, "
            "then start again with two stars."
        )


CAUSE = term_cause(_KIND, 0.02, _LEAN_DEG, BaseLeaning(_TERMS))
