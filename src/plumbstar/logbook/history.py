"""The undo history: what was changed, taken back, and brought back."""

from __future__ import annotations

import sqlite3
from contextlib import suppress

import msgspec

from plumbstar.logbook.changes import Change, ChangeKind
from plumbstar.logbook.file import UNDOABLE, LogbookFile, Row, Step
from plumbstar.logbook.seals import WITHIN
from plumbstar.sky.times import Instant

CHANGES = "SELECT id, at, outing_id, kind, about, what, undone, number, steps FROM changes"


def change_from(r: Row, undone: bool) -> Change:
    kind = ChangeKind(r[3]) if r[3] else ChangeKind.OTHER
    return Change(r[0], Instant.parse(r[1]), r[2], kind, r[4] or "", r[7], r[5], undone)


class UndoHistory:
    """The changes of one file."""

    def __init__(self, file: LogbookFile) -> None:
        self._file = file

    def last(self, limit: int = 50) -> tuple[Change, ...]:
        """The last changes, newest first."""
        rows = self._file.rows(f"{CHANGES} ORDER BY id DESC LIMIT ?", (limit,))
        return tuple(change_from(r, r[6] is not None) for r in rows)

    def undo(self, outing_id: int | None = None) -> Change | None:
        """Take back the last change (of that outing, or of all). None when there is none left.

        Taking back an addition marks it deleted: :meth:`redo` brings it back.
        """
        where = "undone IS NULL AND (? IS NULL OR outing_id = ?) ORDER BY id DESC"
        return self._replay(where, outing_id, back=True)

    def undo_mend(self, mend_id: int) -> Change | None:
        """Take back that mend, whatever was done since: nothing else hangs on it. None where it
        was taken back before, or came with an import."""
        key = self.of_mend(mend_id)
        return self._replay("id = ? AND ? IS NOT NULL", key, back=True) if key else None

    def of_mend(self, mend_id: int) -> int | None:
        """The change that recorded it, while that can be taken back."""
        rows = self._file.rows(
            "SELECT id, steps FROM changes WHERE kind = ? AND undone IS NULL ORDER BY id DESC",
            (ChangeKind.MENDED.value,),
        )
        for key, text in rows:
            for table, row, *_rest in msgspec.json.decode(text, type=list[Step]):
                if (table, row) == ("mends", mend_id):
                    return int(key)
        return None

    def redo(self, outing_id: int | None = None) -> Change | None:
        """Take back the last undo, if nothing new was done since; else None."""
        where = (
            "undone > (SELECT max(made) FROM changes WHERE ?1 IS NULL OR outing_id = ?1)"
            " AND (?1 IS NULL OR outing_id = ?2) ORDER BY undone DESC"
        )
        return self._replay(where, outing_id, back=False)

    def _replay(self, where: str, outing_id: int | None, back: bool) -> Change | None:
        with self._file.changing() as _:
            row = self._file.db.execute(
                f"{CHANGES} WHERE {where} LIMIT 1",
                (outing_id, outing_id),
            ).fetchone()
            if row is None:
                return None
            steps: list[Step] = msgspec.json.decode(row[8], type=list[Step])
            for table, key, column, before, after in reversed(steps) if back else steps:
                self._file.put(table, key, column, before if back else after)
            # n + 1: the value the counter will have when this transaction is committed.
            undone = "(SELECT n + 1 FROM counter)" if back else "NULL"
            self._file.db.execute(f"UPDATE changes SET undone = {undone} WHERE id = ?", (row[0],))
        return change_from(row, back)

    def purge(self) -> dict[str, int]:
        """Remove for good what is marked deleted; returns how many of each. Cannot be undone.

        The undo history keeps only what can still be undone.
        """
        gone: dict[str, int] = {}
        with self._file.changing() as _:
            for table in (*WITHIN, "mends", "outings"):
                cursor = self._file.db.execute(f"DELETE FROM {table} WHERE deleted IS NOT NULL")
                gone[table] = cursor.rowcount
            for key, text in self._file.db.execute("SELECT id, steps FROM changes").fetchall():
                for table, row, *_rest in msgspec.json.decode(text, type=list[Step]):
                    assert table in UNDOABLE
                    if not self._file.db.execute(
                        f"SELECT 1 FROM {table} WHERE id = ?", (row,)
                    ).fetchone():
                        self._file.db.execute("DELETE FROM changes WHERE id = ?", (key,))
                        break
        with self._file.lock, suppress(sqlite3.Error):  # only gives the room back
            self._file.db.execute("VACUUM")
            self._file.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return gone
