"""The altitude bearings are not square to the azimuth axis."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.diagnose.explain.causes.term import LEVEL_ON_THE_BEARINGS, SidedTerm, term_cause
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.text import words

#: Beyond the prior.
_SQUARENESS_DEG = ((0.45, 0.5), (0.4, 1.5), (0.15, 4.0))


@dataclass(frozen=True)
class Squareness(SidedTerm):
    def title(self, o: Observations, j: Judged) -> str:
        return f"the altitude bearings are not square to the azimuth axis ({words.term(self.term)})"

    def off(self, amount: str, side: str) -> str:
        return f"The {side}-hand bearing would be {amount} low"

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Raise the {self.side(j)}-hand altitude bearing a little."

    def hand_check(self, o: Observations, j: Judged) -> str:
        return (
            f"{LEVEL_ON_THE_BEARINGS} is the bearings; one that changes sides is only the base's "
            "lean"
        )

    def happened(self, o: Observations, j: Judged) -> str:
        return "One side of the tube's mounting sits lower than the other."

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Lay a spirit level across the two supports of the tube and pad the lower one."


CAUSE = term_cause("squareness", 0.03, _SQUARENESS_DEG, Squareness(("squareness",)))
