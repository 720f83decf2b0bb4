"""Which checks can be done beside a closed controller, which keeps its readings to itself."""

from __future__ import annotations

from enum import Enum, auto

from plumbstar.diagnose.checks.check import Check


class Feasible(Enum):
    """What a closed controller leaves of a check."""

    #: It needs nothing that such a controller keeps to itself.
    WHOLE = auto()
    #: It needs an altitude, which an angle gauge laid on the tube shows.
    BY_GAUGE = auto()
    #: It compares what the encoders read, and that is not shown.
    CANNOT = auto()


_BY_GAUGE = frozenset({"stop-repeat", "stop-direction"})
_CANNOT = frozenset({"once-round", "there-and-back", "backlash", "both-sides"})
#: The one that is of use beside such a controller only.
OF_NUMBER = "number-sign"


def beside(check: Check) -> Feasible:
    """What is left of it."""
    if check.id in _CANNOT:
        return Feasible.CANNOT
    return Feasible.BY_GAUGE if check.id in _BY_GAUGE else Feasible.WHOLE


def beside_words(check: Check) -> str:
    """How it is done there, or that it cannot be; nothing where it is done as everywhere."""
    match beside(check):
        case Feasible.WHOLE:
            return ""
        case Feasible.CANNOT:
            return "not beside your controller, which does not show what its encoders read."
        case Feasible.BY_GAUGE:
            gauge = "Your controller shows no altitude: lay an angle gauge on the tube."
            if check.id != "stop-direction":
                return gauge
            number = "Or see with the same two stars whether the number moves the right way."
            return f"{gauge} {number}"
