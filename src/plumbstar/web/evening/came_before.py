"""Presses of an outing that is over: one that is sent again must not begin another.

Those that became sightings, finds, looks, skies and sketches the logbook knows by their names. What
only lies in an outing's state is looked up there: presses beside a controller, stars without a
name, and presses that were doubted and dropped.
"""

from __future__ import annotations

from plumbstar.logbook import Logbook
from plumbstar.logbook.shown import load_display
from plumbstar.logbook.slips import DESK
from plumbstar.web.evening.desk import load

#: A phone sends again what it has kept for half a night: no outing before these is of that night.
_OUTINGS = 3


def came_in_an_outing_before(book: Logbook, press: str) -> bool:
    """Whether that press lies in the state of one of the last outings that are over."""
    for outing_id in book.outings_over(_OUTINGS):
        state = book.state(outing_id)
        desk = load(state.get(DESK))
        if (
            press in desk.dropped
            or any(p.press == press for p in desk.nameless)
            or any(e.press == press for e in load_display(state))
        ):
            return True
    return False
