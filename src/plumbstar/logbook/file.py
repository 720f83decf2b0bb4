"""One open logbook file: changed all-or-nothing, and every change on disk before it is told."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any, Self

import msgspec

from plumbstar.errors import UserError
from plumbstar.logbook import schema, seals
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.connecting import path_of
from plumbstar.logbook.contents import nothing_there, trouble_beside_copy
from plumbstar.logbook.opening import open_file, prepare, refusal
from plumbstar.logbook.records import TimedBy, stamp
from plumbstar.logbook.trouble import ENVIRONMENT, LogbookTrouble, Trouble, told
from plumbstar.sky.times import Instant
from plumbstar.text import files
from plumbstar.text.advice import Advice, Do

# What undo may write: it fills table and column names into SQL, so they come from here only.
# The solar filter's flag is missing on purpose: an undo must never say that a filter is on.
UNDOABLE: dict[str, frozenset[str]] = {
    # A name with a point is a key of the JSON that the column holds.
    "outings": frozenset({"deleted", "ended", "shift_s", "end_shift_s", "state.controller_times"}),
    "sightings": frozenset(
        {"deleted", "active", "reason", "shift_s", "shift_az_deg", "shift_alt_deg"}
    ),
    "finds": frozenset({"deleted", "shift_s"}),
    "notes": frozenset({"deleted", "shift_s"}),
    "looks": frozenset({"deleted", "shift_s", "seen", "words"}),
    "skies": frozenset({"deleted", "shift_s"}),
    "sketches": frozenset({"deleted", "shift_s"}),
    "mends": frozenset({"deleted"}),
    "skylines": frozenset({"body"}),
}

Step = tuple[str, int, str, Any, Any]  # table, row, column, before, after
Row = tuple[Any, ...]


def to_json(value: Any) -> str:
    """JSON text; numpy arrays as lists, instants as ISO 8601, non-finite numbers as null."""

    def other(x: Any) -> Any:
        if hasattr(x, "tolist"):
            return x.tolist()
        raise UserError(f"a {type(x).__name__}", "something JSON can hold", "Convert it first")

    return msgspec.json.encode(value, enc_hook=other).decode()


def _ask_about_the_copy(path: Path) -> None:
    """No new logbook is begun unasked beside a copy that holds something."""
    trouble = trouble_beside_copy(path)
    if trouble is not None:
        raise trouble


class LogbookFile:
    """One open logbook file. Threads may share it; so may processes, each with its own.

    Every change is one transaction, on disk (synchronous=FULL) before the call returns, or else
    :class:`~plumbstar.logbook.records.NotSaved` is raised and nothing of it is in the file.
    """

    def __init__(
        self, db: sqlite3.Connection, path: str, readonly: bool, clock: Callable[[], float]
    ) -> None:
        self.db = db
        self._readonly = readonly
        self._clock = clock
        self.lock = threading.RLock()
        self._commits = 0  # made by this object since it was opened
        #: By which clock new entries are timed, asked at each; None where nobody can say.
        self.basis: Callable[[], TimedBy | None] = lambda: None
        self.path = path
        self._inode = self._look()

    @classmethod
    def open(
        cls,
        path: Path | str | None = None,
        *,
        create: bool = True,
        clock: Callable[[], float] = time.time,
        before: Callable[[schema.Migration, sqlite3.Connection], None] = schema.nothing,
    ) -> Self:
        """Open the logbook at ``path`` (default :func:`default_path`), making it if need be.

        ``":memory:"`` keeps it in memory only. ``clock`` gives seconds since 1970 and stamps the
        undo history; ``before`` looks at an older file (schema.py). Raises :class:`UserError` for
        a missing file (``create=False``), a damaged one, another program's, a newer schema, or a
        directory that cannot be written; the file is untouched in every one of these.
        """
        try:
            if str(path) == ":memory:":
                db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
                seals.register(db)
                readonly, where = False, Path(":memory:")
            else:
                where = path_of(path)
                if where.is_dir():
                    raise UserError(
                        f"the directory {where} as logbook",
                        "a file",
                        f"Try {where}/logbook.sqlite3",
                    )
                if nothing_there(where):
                    _ask_about_the_copy(where)
                if not where.exists():
                    if not create:
                        raise UserError(
                            f"no logbook at {where}",
                            "a file that exists",
                            Advice(Do.CHECK_WHICH_LOGBOOK, ENVIRONMENT),
                        )
                    where.parent.mkdir(parents=True, exist_ok=True)
                db, readonly = open_file(where, _ask_about_the_copy)
            db.execute("PRAGMA foreign_keys = ON")
            if not readonly:
                prepare(db)
                schema.migrate(db, stamp(Instant.from_unix(clock())), before=before)
            return cls(db, str(where), readonly, clock)
        except sqlite3.Error as e:
            raise refusal(e, str(where), saving=False) from None
        except OSError as e:
            raise LogbookTrouble(
                Trouble.CANNOT_OPEN,
                f"The logbook {where} cannot be opened ({e})",
                Advice(Do.NAME_ANOTHER_LOGBOOK, ENVIRONMENT),
            ) from None

    @property
    def readonly(self) -> bool:
        """Whether it can only be read."""
        return self._readonly

    def in_place(self) -> bool:
        """Whether the open file is still the one at the path."""
        return self._look() == self._inode

    def close(self) -> None:
        """Close the file. What was saved is saved already."""
        with self.lock:
            self.db.close()

    def _look(self) -> tuple[int, int] | None:
        if self.path == ":memory:":
            return None
        try:
            s = os.stat(self.path)
        except OSError:
            return (0, 0)
        return (s.st_dev, s.st_ino)

    def now(self) -> Instant:
        """The clock's time."""
        return Instant.from_unix(self._clock())

    def version(self) -> int:
        """A number that every change raises, the same in all processes; some microseconds."""
        return int(self.rows("SELECT n FROM counter")[0][0])

    def elsewhere(self) -> int:
        """A number that moves only when somebody other than this object changes the logbook."""
        with self.lock:
            return self.version() - self._commits

    def rows(self, sql: str, values: tuple[Any, ...] = ()) -> list[Row]:
        with self.lock:
            try:
                return self.db.execute(sql, values).fetchall()
            except sqlite3.Error as e:
                raise refusal(e, self.path, saving=False) from None
            except OverflowError:  # SQLite's whole numbers have 64 bits
                raise UserError(
                    "a number too large for the logbook", "the number of an entry", "Check it"
                ) from None

    def made_by(self, request: str | None, table: str) -> int | None:
        """The row of that table that this press made, marked deleted since or not; None without."""
        if request is None:
            return None
        rows = self.rows(f"SELECT id FROM {table} WHERE request = ?", (request,))
        return int(rows[0][0]) if rows else None

    @contextmanager
    def changing(
        self,
        kind: ChangeKind | None = None,
        about: str = "",
        outing_id: int | None = None,
        number: int | None = None,
    ) -> Iterator[list[Step]]:
        """One transaction. Steps put in the yielded list become one line of the undo history.

        ``kind``, ``about`` and ``number`` say what it is (changes.py); without steps they are not
        needed.
        """
        with self.lock:
            if self._readonly:
                raise told(Trouble.READ_ONLY, self.path, saving=True)
            # Writing on into a file that was moved or deleted would save to nowhere.
            if not self.in_place():
                raise told(Trouble.MOVED, self.path, saving=True)
            steps: list[Step] = []
            try:
                self.db.execute("BEGIN IMMEDIATE")
                yield steps
                self.db.execute("UPDATE counter SET n = n + 1")
                if steps:
                    self.db.execute(
                        "INSERT INTO changes"
                        " (at, outing_id, what, kind, about, number, steps, made)"
                        " SELECT ?, ?, '', ?, ?, ?, ?, n FROM counter",
                        (stamp(self.now()), outing_id, kind, about, number, to_json(steps)),
                    )
                self.db.execute("COMMIT")
                self._commits += 1
            except BaseException as e:
                if self.db.in_transaction:
                    with suppress(sqlite3.Error):
                        self.db.execute("ROLLBACK")
                if isinstance(e, sqlite3.Error):
                    raise refusal(e, self.path, saving=True) from None
                raise

    def set(self, steps: list[Step], table: str, row: int, column: str, value: Any) -> None:
        """Write one undoable cell inside :meth:`changing`."""
        assert column in UNDOABLE[table]
        steps.append((table, row, column, self._cell(table, row, column), value))
        self.put(table, row, column, value)

    def _cell(self, table: str, row: int, column: str) -> Any:
        column, _, key = column.partition(".")
        (value,) = self.db.execute(f"SELECT {column} FROM {table} WHERE id = ?", (row,)).fetchone()
        return msgspec.json.decode(value).get(key) if key else value

    def put(self, table: str, row: int, column: str, value: Any) -> None:
        """Write one cell inside :meth:`changing`, as undo does; it must be one of ``UNDOABLE``."""
        assert column in UNDOABLE[table]
        column, _, key = column.partition(".")
        if key:
            held = msgspec.json.decode(self._cell(table, row, column))
            kept = {k: v for k, v in held.items() if k != key}
            value = to_json(kept if value is None else {**kept, key: value})
        self.db.execute(f"UPDATE {table} SET {column} = ? WHERE id = ?", (value, row))

    def add(self, steps: list[Step], table: str, sql: str, values: tuple[Any, ...]) -> int:
        """A new row inside :meth:`changing`; returns its id. Undoing it marks it deleted.

        ``sql`` is what stands after the table's name, columns first.
        """
        row = self.db.execute(f"INSERT INTO {table} {sql}", values).lastrowid
        assert row is not None
        steps.append((table, row, "deleted", stamp(self.now()), None))
        return row

    def timed_by(self) -> tuple[str | None, float | None]:
        """The clock that times new entries, as the tables keep it."""
        clock = self.basis()
        return (clock.boot, clock.zero) if clock is not None else (None, None)

    def copy_to(self, target: Path) -> None:
        """A whole copy in one file, safe while others write. Refuses to overwrite.

        Raises :class:`UserError` for a file that is there, or a place that cannot be written; then
        nothing is left of the copy.
        """
        try:
            with self.lock, closing(sqlite3.connect(":memory:")) as copy:
                self.db.backup(copy)
                whole = copy.serialize()
        except sqlite3.Error as e:
            raise refusal(e, self.path, saving=False) from None
        files.write(target, whole, "the copy", replace=False)
