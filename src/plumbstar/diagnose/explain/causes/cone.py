"""The tube is not square to its altitude bearings."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.diagnose.explain.causes.term import LEVEL_ON_THE_BEARINGS, SidedTerm, term_cause
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.text import words

#: Beyond the prior.
_CONE_DEG = ((0.45, 0.7), (0.4, 2.0), (0.15, 5.0))


@dataclass(frozen=True)
class Cone(SidedTerm):
    def title(self, o: Observations, j: Judged) -> str:
        return f"the tube is not square to its bearings ({words.term(self.term)})"

    def off(self, amount: str, side: str) -> str:
        return f"The tube would point {amount} {side} of square"

    def mend(self, o: Observations, j: Judged) -> str:
        side = "left" if self.side(j) == "right" else "right"
        return f"Shim the tube in its cradle, or turn the mirror's screws, to bring its aim {side}."

    def hand_check(self, o: Observations, j: Judged) -> str:
        return (
            f"{LEVEL_ON_THE_BEARINGS} means that the bearings are at fault; otherwise it is the "
            "tube"
        )

    def happened(self, o: Observations, j: Judged) -> str:
        return "The tube does not point quite square from its mounting: it looks to one side."

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Check that the tube sits straight in its cradle."


CAUSE = term_cause("cone", 0.03, _CONE_DEG, Cone(("cone",)))
