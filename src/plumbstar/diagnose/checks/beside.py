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
#: What its owner does instead. The controller's zero takes the place of the reading: it wants of a
#: star what the encoders have lost since, and without a clock the sky's turn as well.
_INSTEAD = {
    "once-round": (
        "Instead, at night: centre a star, choose it as an object, and note what it wants. Swing "
        "once round, centre it again, and look: what has changed is what the turn lost, and "
        "without a clock up to 0.25° a minute besides, which is the sky’s."
    ),
    "there-and-back": (
        "Instead, at night: centre a star, choose it as an object, and note what it wants. Swing "
        "far away and back, centre it again, and look: what has changed is what the way lost, and "
        "without a clock up to 0.25° a minute besides, which is the sky’s."
    ),
    "backlash": (
        "Instead, at night: choose a star as an object, centre it from the left, then from the "
        "right, and compare what it wants; the same from above and from below. The difference is "
        "the play."
    ),
    "both-sides": "The pushes learn what it would tell from the objects that you find.",
}
#: The one that is of use beside such a controller only.
OF_NUMBER = "number-sign"


def beside(check: Check) -> Feasible:
    """What is left of it."""
    if check.id in _INSTEAD:
        return Feasible.CANNOT
    return Feasible.BY_GAUGE if check.id in _BY_GAUGE else Feasible.WHOLE


def beside_words(check: Check) -> str:
    """How it is done there, or that it cannot be; nothing where it is done as everywhere."""
    match beside(check):
        case Feasible.WHOLE:
            return ""
        case Feasible.CANNOT:
            shut = "not beside your controller, which does not show what its encoders read."
            return f"{shut} {_INSTEAD[check.id]}"
        case Feasible.BY_GAUGE:
            gauge = "Your controller shows no altitude: lay an angle gauge on the tube."
            if check.id != "stop-direction":
                return gauge
            number = "Or see with the same two stars whether the number moves the right way."
            return f"{gauge} {number}"
