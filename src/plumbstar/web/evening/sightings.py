"""The outing's sightings: added, set aside, taken out, undone. What they are solved to is no
business of this part (solved.py)."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import msgspec

from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, LoggedSighting, Origin
from plumbstar.logbook.changes import Change, ChangeKind
from plumbstar.logbook.correct import Shifts
from plumbstar.logbook.places import log_name, placing
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening.outing import OutingInProgress


class Predicted(msgspec.Struct, frozen=True):
    """Where the fix had put a target that was then centred, degrees: a find as well."""

    az_reading_deg: float
    alt_reading_deg: float
    field_radius_deg: float


def up_at(target: Target, utc: Instant, site: Site) -> tuple[float, float]:
    """Where it stood, degrees. Raises UserError for what was well below the horizon."""
    az, alt = place_of(target, utc, site)
    if alt < -1.0:
        raise UserError(
            f"{target.label} is {-alt:.0f} degrees below the horizon",
            "",
            "Check which star it was, the site, and the computer's clock (UTC)",
        )
    return az, alt


class Sightings:
    """``all`` of the outing in progress, oldest first, those set aside among them."""

    def __init__(self, book: Logbook, current: OutingInProgress) -> None:
        self._book, self._current = book, current
        self.all: tuple[LoggedSighting, ...] = ()

    def read(self) -> None:
        """From the logbook; the outing's record, which counts them, with them."""
        self._current.read()
        outing = self._current.outing
        self.all = self._book.sightings(outing.id) if outing is not None else ()

    @property
    def used(self) -> tuple[LoggedSighting, ...]:
        """Those that the observer has not set aside."""
        return tuple(s for s in self.all if s.active)

    @property
    def used_ids(self) -> tuple[int, ...]:
        """What a fix is made of."""
        return tuple(s.id for s in self.used)

    @property
    def last_made(self) -> int:
        """The id of the outing's last sighting; 0 before the first."""
        # Deleted ones counted in: undo may bring one back, and it came before.
        outing = self._current.outing
        made = self._book.sightings(outing.id, deleted=True) if outing else ()
        return max((s.id for s in made), default=0)

    def known_press(self, press: str) -> int | None:
        """The id of the sighting that this press of a button made, if it came before."""
        # The logbook answers this itself when it adds; asked beforehand, an old press that comes
        # again needs no reading, which may be long gone.
        return self._book.sighting_of_request(press)

    def add(
        self,
        fact: Sighting,
        reading: Reading,
        typed: str,
        press: str,
        predicted: Predicted | None = None,
    ) -> int:
        """Save one; on disk when it returns its id. ``predicted`` makes it a find as well."""
        outing_id = self._current.need().id
        counts = (
            (reading.az_count, reading.alt_count)
            if reading.az_count is not None and reading.alt_count is not None
            else None
        )
        origin: Origin = "typed" if reading.state == "typed" else "encoders"
        if predicted is not None:
            where = predicted.az_reading_deg, predicted.alt_reading_deg
            sighting_id = self._book.add_found(
                *(outing_id, fact, origin, counts, where, predicted.field_radius_deg),
                request=press,
            )
        else:
            sighting_id = self._book.add_sighting(
                outing_id, fact, origin, counts, typed=typed[:80], request=press
            )
        self.read()
        return sighting_id

    # ---- corrections -----------------------------------------------------------------------

    def _mine(self, sighting_id: int) -> LoggedSighting:
        for s in self.all:
            if s.id == sighting_id:
                return s
        raise UserError(f"This outing has no sighting {sighting_id}", "", "Reload the page")

    def set_aside(self, sighting_id: int, reason: str) -> None:
        """Leave a sighting out of the fix, saying why."""
        self._book.set_aside(self._mine(sighting_id).id, reason[:200] or "by the observer")
        self.read()

    def set_all_aside(self, sighting_ids: Sequence[int], reason: str) -> None:
        """Leave several out at once, as one change."""
        mine = [self._mine(sighting_id) for sighting_id in sighting_ids]
        if mine:
            self._book.set_all_aside(mine, reason[:200] or "by the observer")
            self.read()

    def enter_as(self, those: Sequence[tuple[int, Target]], site: Site) -> None:
        """Save each one's reading and moment once more as of that target, and leave the old one
        out: one change. One that is set aside already was pressed twice."""
        told = []
        for sighting_id, target in those:
            old = self._mine(sighting_id)
            x = old.sighting
            if x.utc is None:
                raise UserError(
                    "That sighting has no time, so no star can be placed", "", "Set it aside"
                )
            az, alt = up_at(target, x.utc, site)
            now = dataclasses.replace(x, star=log_name(target), true_az_deg=az, true_alt_deg=alt)
            if old.active:
                told.append((old, now))
        if told:
            self._book.rename_sightings(told)
            self.read()

    def restore(self, sighting_id: int) -> None:
        """Use it again."""
        self._book.put_back(self._mine(sighting_id).id)
        self.read()

    def delete(self, sighting_id: int) -> None:
        """Take it out of the log; undo brings it back."""
        self._book.delete_sighting(self._mine(sighting_id).id)
        self.read()

    def correct_times(self, shifts: Shifts) -> None:
        """Correct the saved times, and with them where the stars stood."""
        outing = self._current.need()
        place = placing(outing.site) if outing.site is not None else None
        self._book.correct_times(outing.id, shifts, place)
        self.read()

    # ---- undo ------------------------------------------------------------------------------

    @property
    def undoable(self) -> Change | None:
        """What pressing undo would take back."""
        outing = self._current.outing
        if outing is None:
            return None
        for change in self._book.history(60):
            if change.outing_id == outing.id and not change.undone:
                return change if change.kind is not ChangeKind.OUTING_ENDED else None
        return None

    def undo(self) -> Change:
        """Take back the last thing done in this outing. Its start is not undone."""
        outing = self._current.need()
        change = self.undoable
        if change is None:
            raise UserError("There is nothing to undo in this outing", "", "Nothing was changed")
        self._book.undo(outing.id)
        # In logbooks from before add_found one press made two entries: one undo takes back both.
        partner = self.undoable
        if (
            change.kind is ChangeKind.FOUND
            and partner is not None
            and (partner.kind, partner.about) == (ChangeKind.SIGHTED, change.about)
        ):
            self._book.undo(outing.id)
        self.read()
        return change

    def redo(self) -> Change:
        """Bring back the last undo."""
        change = self._book.redo(self._current.need().id)
        if change is None:
            raise UserError(
                "There is nothing to bring back",
                "",
                "Nothing was changed",
            )
        self.read()
        return change
