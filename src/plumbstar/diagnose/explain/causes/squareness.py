"""The altitude bearings are not square to the azimuth axis."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.causes.term import WideTerm, draw_term, wide_forms
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.diagnose.explain.sizes import arc, beyond_usual
from plumbstar.text import words

_KIND = "squareness"
_TERM = "squareness"
#: Beyond the prior.
_SQUARENESS_DEG = ((0.5, 0.5), (0.5, 1.5))


@dataclass(frozen=True)
class Squareness(WideTerm):
    def title(self, o: Observations, j: Judged) -> str:
        return f"the altitude bearings are not square to the azimuth axis ({words.term(_TERM)})"

    def _side(self, j: Judged) -> str:
        return "right" if j.term_deg(_TERM)[0] > 0 else "left"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        what = f"The {self._side(j)}-hand bearing would be {arc(j.term_deg(_TERM)[0])} low"
        return beyond_usual(o, j, _TERM, what, nothing)

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Raise the {self._side(j)}-hand altitude bearing a little."

    def hand_check(self, o: Observations, j: Judged) -> str:
        return (
            "lay a spirit level across the two altitude bearings, then turn the mount half round: "
            "a bubble off to the same side of the mount both times is the bearings; one that "
            "changes sides is only the base's lean"
        )

    def happened(self, o: Observations, j: Judged) -> str:
        return "One side of the tube's mounting sits lower than the other."

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Lay a spirit level across the two supports of the tube and pad the lower one."


CAUSE = CauseKind(
    _KIND,
    0.03,
    wide_forms(_KIND, _SQUARENESS_DEG, Squareness((_TERM,))),
    draw_term(_KIND, _SQUARENESS_DEG, _TERM),
)
