"""Possible slips of a circle or the base: reported, told, denied. A sighting settles them.

They lie on the desk. Which of them is still open is not kept: it follows from the sightings since.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.logbook.slips import Slip, denied
from plumbstar.mount.slips import CIRCLES, Axis, CountSlip, SlipCause
from plumbstar.web.evening.desk import DeskKeeper
from plumbstar.web.evening.sightings import Sightings

#: Slips kept for one outing.
MOST_SLIPS = 20


class Slips:
    """What was reported by the encoders or said by the observer, oldest first."""

    def __init__(self, keeper: DeskKeeper, sightings: Sightings) -> None:
        self._keeper, self._sightings = keeper, sightings
        self._said_at = -math.inf  # when the observer last spoke: a moment of the steady clock

    @property
    def all(self) -> tuple[Slip, ...]:
        """Every one of the outing, answered or not."""
        return self._keeper.desk.slips

    def _is_open(self, slip: Slip) -> bool:
        return not (slip.nothing_moved or slip.seen) and all(
            s.id <= slip.after for s in self._sightings.used
        )

    @property
    def open(self) -> Slip | None:
        """The last possible slip that no sighting has settled yet."""
        return next((slip for slip in reversed(self.all) if self._is_open(slip)), None)

    @property
    def base_after(self) -> int | None:
        """The id of the last sighting before the base was moved last; None while it stands."""
        moved = [s for s in self.all if "base" in s.axes and not s.nothing_moved]
        return moved[-1].after if moved else None

    @property
    def sighted_since_base(self) -> frozenset[str]:
        """The stars centred since then; none while the base stands."""
        after = self.base_after
        if after is None:
            return frozenset()
        return frozenset(s.sighting.star for s in self._sightings.used if s.id > after)

    @property
    def last_number(self) -> int:
        """The number of the last slip that the counts told of; 0 before the first."""
        return max((s.number for s in self.all), default=0)

    @property
    def settled_number(self) -> int:
        """The highest number up to which none that the counts told of is open."""
        still_open = [s.number for s in self.all if s.number and self._is_open(s)]
        return min(still_open) - 1 if still_open else self.last_number

    @property
    def denied(self) -> frozenset[int]:
        """After which sightings the observer knows that nothing moved."""
        return denied(self.all)

    def _with(self, slip: Slip) -> tuple[Slip, ...]:
        return (*self.all, slip)[-MOST_SLIPS:]

    def reported(self, slips: Sequence[CountSlip]) -> bool:
        """The encoders report these; False if all are known by their numbers. It blocks nothing.

        Where one circle's count cannot be trusted the other's is doubted with it: they share a
        board, a cable and its power.
        """
        new = [s for s in slips if s.number > self.last_number]
        for s in new:
            after = self._sightings.last_made
            slip = Slip(after, CIRCLES, causes=s.causes, number=s.number)
            self._keeper.learn(slips=self._with(slip))  # on a full disk it is a slip, too
        return bool(new)

    def base_moved(self, monotonic: float) -> None:
        """The observer moved or knocked the base, and said so at that moment of the steady clock:
        it stands and leans anew from here on."""
        if not self._sightings.used:
            raise UserError("There is no sighting yet, so nothing is lost", "", "Sight a star")
        after = self._sightings.last_made
        axes: tuple[Axis, ...] = ("azimuth", "base")
        slip = Slip(after, axes, told=True, causes=(SlipCause("said", axes),))
        self._keeper.change(slips=self._with(slip))
        self._said_at = monotonic

    def seen(self, sighting_id: int, off_deg: float) -> None:
        """That sighting was just saved. It could not be what it says, and is, as the observer
        answered: so something moved before it, unnoticed."""
        before = [s.id for s in self._sightings.used if s.id < sighting_id]
        cause = SlipCause("seen", CIRCLES, off_deg)
        after = max(before, default=0)
        slip = Slip(after, CIRCLES, told=True, causes=(cause,), seen=sighting_id)
        self._keeper.learn(slips=self._with(slip))  # the sighting is on disk: what it tells holds

    def nothing_moved(self) -> None:
        """The observer is sure that the zeros still hold."""
        slip = self.open
        if slip is None:
            raise UserError("No possible slip is open", "", "There is nothing to answer")
        answered = msgspec.structs.replace(slip, nothing_moved=True)
        self._keeper.change(slips=tuple(answered if s is slip else s for s in self.all))

    def answer(self, after: int, moved: bool, seems: tuple[int | None, tuple[Axis, ...]]) -> None:
        """The observer's answer: something moved after that sighting, or nothing did. An answer
        given before may be changed. ``seems``: after which one something seems to have moved now,
        and what. Raises UserError for a place of which nothing was asked."""
        old = [s for s in self.all if s.told and s.after == after]
        if after == seems[0]:
            causes = (SlipCause("sightings", seems[1]),)
            slip = Slip(after, seems[1], nothing_moved=not moved, told=True, causes=causes)
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
        """That sighting was just saved. A slip later than its reading is not settled by it: the
        press came late."""
        if reading.state == "typed":
            return
        late = [
            slip
            for slip in self.all
            if slip.number > reading.slips_before
            or (reading.at_monotonic < self._said_at and slip is self._last_said)
        ]
        if late:
            moved = [
                msgspec.structs.replace(s, after=sighting_id) if s in late else s for s in self.all
            ]
            self._keeper.learn(slips=tuple(moved))

    @property
    def _last_said(self) -> Slip | None:
        return next((s for s in reversed(self.all) if "base" in s.axes), None)
