"""Possible slips of a circle or the base: reported, told, denied. A sighting settles them.

They lie on the desk. Which of them is still open is not kept: it follows from the sightings since.
"""

from __future__ import annotations

import math

import msgspec

from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.logbook.slips import Slip
from plumbstar.mount.slips import Axis
from plumbstar.web.evening.desk import DeskKeeper
from plumbstar.web.evening.sightings import Sightings

CIRCLES: tuple[Axis, ...] = ("azimuth", "altitude")
#: Slips kept for one outing.
MOST_SLIPS = 20


class Slips:
    """What was reported by the encoders or said by the observer, oldest first."""

    def __init__(self, keeper: DeskKeeper, sightings: Sightings) -> None:
        self._keeper, self._sightings = keeper, sightings
        self._began = -math.inf  # of the last report: a moment of the steady clock

    @property
    def all(self) -> tuple[Slip, ...]:
        """Every one of the outing, answered or not."""
        return self._keeper.desk.slips

    @property
    def open(self) -> Slip | None:
        """The last possible slip that no sighting has settled yet."""
        for slip in reversed(self.all):
            if slip.nothing_moved:
                continue
            return None if any(s.id > slip.after for s in self._sightings.used) else slip
        return None

    @property
    def denied(self) -> frozenset[int]:
        """After which sightings the observer knows that nothing moved."""
        return frozenset(s.after for s in self.all if s.told and s.nothing_moved)

    def _add(self, slip: Slip) -> None:
        self._keeper.change(slips=(*self.all, slip)[-MOST_SLIPS:])

    def reported(self, why: str, monotonic: float) -> bool:
        """The encoders report one, seen at that moment of the steady clock. False if it is the one
        that is open already. It blocks nothing."""
        if self.open is not None and self.open.why == why:
            return False
        named = tuple(axis for axis in CIRCLES if axis in why)
        self._began = monotonic
        self._add(Slip(self._sightings.last_made, named or CIRCLES, why))
        return True

    def base_moved(self) -> None:
        """The observer moved or knocked the base: it stands and leans anew from here on."""
        if not self._sightings.used:
            raise UserError("There is no sighting yet, so nothing is lost", "", "Sight a star")
        after = self._sightings.last_made
        self._add(Slip(after, ("azimuth", "base"), "the observer said so", told=True))

    def nothing_moved(self) -> None:
        """The observer is sure that the zeros still hold."""
        slip = self.open
        if slip is None:
            raise UserError("No possible slip is open", "", "There is nothing to answer")
        denied = msgspec.structs.replace(slip, nothing_moved=True)
        self._keeper.change(slips=tuple(denied if s is slip else s for s in self.all))

    def answer(self, after: int, moved: bool, seems: tuple[int | None, tuple[Axis, ...]]) -> None:
        """The observer's answer: something moved after that sighting, or nothing did. An answer
        given before may be changed. ``seems``: after which one something seems to have moved now,
        and what. Raises UserError for a place of which nothing was asked."""
        old = [s for s in self.all if s.told and s.after == after]
        if after == seems[0]:
            slip = Slip(after, seems[1], "the sightings tell so", not moved, told=True)
        elif old:
            slip = msgspec.structs.replace(old[-1], nothing_moved=not moved)
        else:
            raise UserError(
                "Nothing seems to have moved there any more",
                "",
                "Nothing was changed. Read the question again",
            )
        others = [s for s in self.all if s not in old]
        self._keeper.change(slips=(*others, slip)[-MOST_SLIPS:])

    def leave_open_for_late(self, sighting_id: int, reading: Reading) -> None:
        """That sighting's press was from before the last report and came late: it settles
        nothing."""
        if not self.all or reading.state == "typed":
            return
        if reading.at_monotonic < self._began and not reading.slip:
            late = msgspec.structs.replace(self.all[-1], after=sighting_id)
            self._keeper.change(slips=(*self.all[:-1], late))
