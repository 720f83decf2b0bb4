"""Remarks on outings, and the mends of a kit."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import LogbookFile, Step
from plumbstar.logbook.kept import Settings
from plumbstar.logbook.outings import OutingEntries
from plumbstar.logbook.records import (
    Changed,
    Mend,
    Note,
    NotSaved,
    Pieces,
    clean,
    shifted,
    stamp,
    timed_by,
    when,
)
from plumbstar.sky.times import Instant


class Notes:
    """Remarks on an outing. ``deleted=True`` also lists what is marked deleted."""

    def __init__(self, file: LogbookFile, outings: OutingEntries) -> None:
        self._file = file
        self._outings = outings

    def add(self, outing_id: int, text: str, utc: Instant, *, undoable: bool = True) -> int:
        """Save a remark; line breaks are kept. Raises :class:`UserError` when it is empty.

        ``undoable=False`` for what the program itself notes: undo is for what the observer did.
        """
        text = "\n".join(clean(line) for line in text.splitlines()).strip()
        if not text:
            raise NotSaved("an empty note", "some words", "Write them after the outing's number")
        with self._file.changing(ChangeKind.NOTED, outing_id=outing_id) as steps:
            self._outings.need_open(outing_id)
            return self._file.add(
                steps if undoable else [],
                "notes",
                "(outing_id, utc, text, clock_boot, clock_zero) VALUES (?, ?, ?, ?, ?)",
                (outing_id, stamp(utc), text, *self._file.timed_by()),
            )

    def of(self, outing_id: int, *, deleted: bool = False) -> tuple[Note, ...]:
        """The remarks on an outing."""
        rows = self._file.rows(
            "SELECT id, outing_id, utc, text, deleted, shift_s, clock_boot, clock_zero FROM notes"
            " WHERE outing_id = ? AND (? OR deleted IS NULL) ORDER BY id",
            (outing_id, deleted),
        )
        return tuple(
            Note(
                *(r[0], r[1], shifted(r[2], r[5]), r[3], when(r[4])),
                *(r[5] or 0.0, timed_by(r[6], r[7])),
            )
            for r in rows
        )


#: The setting that holds the newest presses that told of a mend, each with the mend's id.
_PRESSES, _MOST_PRESSES = "mend_presses", 20
_INSERT = "(kit_name, utc, terms, text) VALUES (?, ?, ?, ?)"


class Mends:
    """What was changed on a kit, so that it is learnt anew."""

    def __init__(self, file: LogbookFile, settings: Settings) -> None:
        self._file, self._settings = file, settings

    def add(
        self,
        kit_name: str,
        terms: Sequence[str],
        text: str,
        utc: Instant,
        put: Pieces = (),
        box: Pieces = (),
        *,
        request: str | None = None,
    ) -> int:
        """Record that the kit was changed, so that ``terms`` are learnt anew from ``utc`` on.

        ``put`` and ``box``: see :class:`Mend`. A ``request`` already seen returns the id it had,
        taken back since or not: a page may send the same press twice.
        """
        about = f"'{clean(text)}' of {clean(kit_name)}"
        with self._file.changing(ChangeKind.MENDED, about) as steps:
            values = (
                *(clean(kit_name), stamp(utc)),
                *(Changed(tuple(terms), put, box).written(), clean(text)),
            )
            made = self._settings.get(_PRESSES, [])
            if request is not None and (known := self.of_request(request)) is not None:
                return known
            mend_id = self._file.add(steps, "mends", _INSERT, values)
            if request is not None:
                self._settings.put(_PRESSES, [*made, (request, mend_id)][-_MOST_PRESSES:])
            return mend_id

    def of_request(self, request: str) -> int | None:
        """The id of the mend that this request told of (taken back since or not), or None."""
        made = {str(press): int(mend) for press, mend in self._settings.get(_PRESSES, [])}
        return made.get(request)

    def bring_in(self, steps: list[Step], mends: Sequence[Mend]) -> None:
        """From elsewhere, inside a change: those that are here already, or were and were taken
        back, are passed over."""
        for m in mends:
            changed = Changed(m.terms, m.put, m.box).written()
            values = (clean(m.kit_name), stamp(m.utc), changed, clean(m.text))
            same = "kit_name = ? AND utc = ? AND terms = ? AND text = ?"
            if not self._file.rows(f"SELECT id FROM mends WHERE {same}", values):
                self._file.add(steps, "mends", _INSERT, values)

    def of(self, kit_name: str) -> tuple[Mend, ...]:
        """The mends of a kit, oldest first."""
        return tuple(m for m in self.all() if m.kit_name == clean(kit_name))

    def all(self) -> tuple[Mend, ...]:
        """The mends of all kits, oldest first."""
        rows = self._file.rows(
            "SELECT id, kit_name, utc, terms, text, deleted FROM mends"
            " WHERE deleted IS NULL ORDER BY utc, id"
        )
        found = ((r, Changed.read(r[3])) for r in rows)
        return tuple(
            Mend(r[0], r[1], Instant.parse(r[2]), c.terms, r[4], None, c.put, c.box)
            for r, c in found
        )
