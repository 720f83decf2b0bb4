"""The sightings of a logbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from plumbstar.errors import UserError
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import LogbookFile, Row, Step
from plumbstar.logbook.outings import OutingEntries
from plumbstar.logbook.records import (
    ORIGINS,
    LoggedSighting,
    NotSaved,
    Origin,
    clean,
    stamp,
    timed_by,
    when,
)
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import joined, many

SIGHTINGS = (
    "SELECT id, outing_id, number, star, true_az_deg, true_alt_deg, reading_az_deg,"
    " reading_alt_deg, utc, eyepiece, typed, origin, az_count, alt_count, active, reason, saved,"
    " deleted, shift_s, shift_az_deg, shift_alt_deg, clock_boot, clock_zero FROM sightings"
)


def sighting_from(r: Row) -> LoggedSighting:
    s = Sighting(r[3], r[4], r[5], r[6], r[7], when(r[8]), r[9])
    a, b, saved, deleted = r[:3], r[10:14], Instant.parse(r[16]), when(r[17])
    right, as_saved = s, None
    if r[18] and s.utc is not None:
        right = replace(s, utc=s.utc.plus_seconds(r[18]), true_az_deg=r[19], true_alt_deg=r[20])
        as_saved = s
    return LoggedSighting(
        *(a[0], a[1], a[2], right, b[0], b[1], b[2], b[3], bool(r[14]), r[15], saved, deleted),
        *(r[18] or 0.0, as_saved, timed_by(r[21], r[22])),
    )


class SightingEntries:
    """Adds, lists and marks them. ``deleted=True`` also lists what is marked deleted."""

    def __init__(self, file: LogbookFile, outings: OutingEntries) -> None:
        self._file = file
        self._outings = outings

    def add(
        self,
        outing_id: int,
        sighting: Sighting,
        origin: Origin,
        counts: tuple[int, int] | None = None,
        *,
        typed: str = "",
        request: str | None = None,
    ) -> int:
        """Save one sighting; it is on disk when this returns its id.

        ``counts`` are the raw (azimuth, altitude) counts; ``typed`` the star as typed, if not as
        in ``sighting.star``. A ``request`` already seen returns the id it had: a page may send
        the same press twice. The time is kept to the nanosecond, names without control characters.
        Raises :class:`NotSaved`.
        """
        with self._file.changing(ChangeKind.SIGHTED, clean(sighting.star), outing_id) as steps:
            if (made := self.of_request(request)) is not None:
                return made
            return self.insert(
                steps, outing_id, sighting, origin, counts, typed or sighting.star, request
            )

    def insert(
        self,
        steps: list[Step],
        outing_id: int,
        s: Sighting,
        origin: str,
        counts: tuple[int | None, int | None] | None,
        typed: str,
        request: str | None = None,
        active: bool = True,
        reason: str = "",
    ) -> int:
        """A new row inside a change; returns its id."""
        self._outings.need_open(outing_id)
        if origin not in ORIGINS:
            raise NotSaved(f"a sighting's origin '{origin}'", ", ".join(ORIGINS), "Use one of them")
        return self._file.add(
            steps,
            "sightings",
            "(outing_id, number, typed, star, utc, az_count, alt_count,"
            " reading_az_deg, reading_alt_deg, true_az_deg, true_alt_deg, eyepiece, origin,"
            " active, reason, saved, request, clock_boot, clock_zero) VALUES (?1, (SELECT"
            " coalesce(max(number), 0) + 1 FROM sightings WHERE outing_id = ?1),"
            " ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                outing_id,
                clean(typed),
                clean(s.star),
                stamp(s.utc) if s.utc is not None else None,
                *(counts or (None, None)),
                *(s.az_reading_deg, s.alt_reading_deg, s.true_az_deg, s.true_alt_deg),
                clean(s.eyepiece),
                *(origin, active, clean(reason), stamp(self._file.now()), request),
                *(self._file.timed_by() if origin != "imported" else (None, None)),
            ),
        )

    def of(
        self, outing_id: int, *, active: bool | None = None, deleted: bool = False
    ) -> tuple[LoggedSighting, ...]:
        """Those of an outing as they were made; ``active=True`` leaves out those set aside."""
        rows = self._file.rows(
            f"{SIGHTINGS} WHERE outing_id = ? AND (? OR deleted IS NULL)"
            " AND (? IS NULL OR active = ?) ORDER BY number",
            (outing_id, deleted, active, active),
        )
        return tuple(sighting_from(r) for r in rows)

    def numbered(self, outing_id: int, number: int) -> LoggedSighting:
        """The one that ``log show`` numbers so, deleted or not. Raises :class:`UserError`."""
        which = "WHERE outing_id = ? AND number = ?"
        rows = self._file.rows(f"{SIGHTINGS} {which}", (outing_id, number))
        if not rows:
            raise UserError(
                f"sighting {number} of outing {outing_id}",
                "one that is there",
                Advice(Do.LIST_SIGHTINGS, str(outing_id)),
            )
        return sighting_from(rows[0])

    def of_request(self, request: str | None) -> int | None:
        """The id of the sighting that this request made (deleted since or not), or None."""
        return self._file.made_by(request, "sightings")

    def set_aside(self, sighting_id: int, reason: str) -> None:
        """Leave it out of the fix, saying why; it stays in the log."""
        self._mark(sighting_id, ChangeKind.SIGHTING_SET_ASIDE, active=0, reason=clean(reason))

    def set_all_aside(self, sightings: Sequence[LoggedSighting], reason: str) -> None:
        """Several sightings of one outing at once: one line of the undo history."""
        outing_id, about = sightings[0].outing_id, many(len(sightings), "sighting")
        with self._file.changing(ChangeKind.SIGHTINGS_SET_ASIDE, about, outing_id) as steps:
            for s in sightings:
                self._leave_out(steps, s, reason)

    def _leave_out(self, steps: list[Step], s: LoggedSighting, reason: str) -> None:
        self._file.set(steps, "sightings", s.id, "active", 0)
        self._file.set(steps, "sightings", s.id, "reason", clean(reason))

    def rename(self, those: Sequence[tuple[LoggedSighting, Sighting]]) -> None:
        """Sightings of one outing that were of other stars: each set aside, and entered once more
        as what it was; one line of the undo history."""
        outing_id = those[0][0].outing_id
        about = clean(joined([now.star for _, now in those]))
        with self._file.changing(ChangeKind.SIGHTINGS_RENAMED, about, outing_id) as steps:
            for old, now in those:
                self._leave_out(steps, old, f"it was {now.star}")
                origin = "typed" if old.origin == "typed" else "encoders"
                self.insert(steps, outing_id, now, origin, None, now.star)

    def read_near(self, az_deg: float, alt_deg: float, within_deg: float) -> frozenset[int]:
        """The outings in which such a pair of readings was sighted, whatever the star."""
        rows = self._file.rows(
            "SELECT DISTINCT outing_id FROM sightings WHERE deleted IS NULL"
            " AND abs(reading_az_deg - ?) < ? AND abs(reading_alt_deg - ?) < ?",
            (az_deg, within_deg, alt_deg, within_deg),
        )
        return frozenset(int(r[0]) for r in rows)

    def put_back(self, sighting_id: int) -> None:
        """Use a sighting again that was set aside."""
        self._mark(sighting_id, ChangeKind.SIGHTING_PUT_BACK, active=1, reason="")

    def delete(self, sighting_id: int) -> None:
        """Mark it deleted; :meth:`UndoHistory.undo` or :meth:`restore` bring it back."""
        self._mark(sighting_id, ChangeKind.SIGHTING_DELETED, deleted=stamp(self._file.now()))

    def restore(self, sighting_id: int) -> None:
        """Take the mark off again."""
        self._mark(sighting_id, ChangeKind.SIGHTING_BROUGHT_BACK, deleted=None)

    def _mark(self, sighting_id: int, kind: ChangeKind, **cells: Any) -> None:
        rows = self._file.rows(f"{SIGHTINGS} WHERE id = ?", (sighting_id,))
        if not rows:
            raise NotSaved(f"no sighting {sighting_id}", "one that is there", "Reload the page")
        s = sighting_from(rows[0])
        with self._file.changing(kind, s.sighting.star, s.outing_id, s.number) as steps:
            for column, value in cells.items():
                self._file.set(steps, "sightings", sighting_id, column, value)
