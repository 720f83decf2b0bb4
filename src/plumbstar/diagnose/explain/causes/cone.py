"""The tube is not square to its altitude bearings."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.causes.term import WideTerm, draw_term, wide_forms
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.diagnose.explain.sizes import arc, beyond_usual
from plumbstar.text import words

_KIND = "cone"
_TERM = "cone"
#: Beyond the prior.
_CONE_DEG = ((0.5, 0.7), (0.5, 2.0))


@dataclass(frozen=True)
class Cone(WideTerm):
    def title(self, o: Observations, j: Judged) -> str:
        return f"the tube is not square to its bearings ({words.term(_TERM)})"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        value = j.term_deg(_TERM)[0]
        side = "right" if value > 0 else "left"
        what = f"The tube would point {arc(value)} {side} of square"
        return beyond_usual(o, j, _TERM, what, nothing)

    def mend(self, o: Observations, j: Judged) -> str:
        side = "left" if j.term_deg(_TERM)[0] > 0 else "right"
        return f"Shim the tube in its cradle, or turn the mirror's screws, to bring its aim {side}."

    def hand_check(self, o: Observations, j: Judged) -> str:
        return (
            "lay a spirit level across the two altitude bearings, then turn the mount half round: "
            "a bubble off to the same side of the mount both times clears the tube and accuses the "
            "bearings; otherwise it is the tube"
        )

    def happened(self, o: Observations, j: Judged) -> str:
        return "The tube does not point quite square from its mounting: it looks to one side."

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Check that the tube sits straight in its cradle."


CAUSE = CauseKind(
    _KIND, 0.03, wide_forms(_KIND, _CONE_DEG, Cone((_TERM,))), draw_term(_KIND, _CONE_DEG, _TERM)
)
