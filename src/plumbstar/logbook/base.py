"""The file itself: opening it safely, changing it all-or-nothing, undoing what was changed."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any, Self
from urllib.parse import quote

import msgspec
import platformdirs

from plumbstar.errors import UserError
from plumbstar.logbook import schema
from plumbstar.logbook.records import Change, Clock, LogbookRefused, stamp
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import many

ENVIRONMENT = "PLUMBSTAR_LOGBOOK"
BUSY_SECONDS = 10.0

# What undo may write: it fills table and column names into SQL, so they come from here only.
# The solar filter's flag is missing on purpose: an undo must never say that a filter is on.
_UNDOABLE: dict[str, frozenset[str]] = {
    "outings": frozenset({"deleted", "ended", "shift_s", "end_shift_s"}),
    "sightings": frozenset(
        {"deleted", "active", "reason", "shift_s", "shift_az_deg", "shift_alt_deg"}
    ),
    "finds": frozenset({"deleted", "shift_s"}),
    "notes": frozenset({"deleted", "shift_s"}),
    "mends": frozenset({"deleted"}),
    "skylines": frozenset({"body"}),
}

Step = tuple[str, int, str, Any, Any]  # table, row, column, before, after
Row = tuple[Any, ...]


def default_path(environ: Mapping[str, str] = os.environ) -> Path:
    """``PLUMBSTAR_LOGBOOK`` if set, else ``logbook.sqlite3`` in the user's data directory."""
    if environ.get(ENVIRONMENT):
        return Path(environ[ENVIRONMENT]).expanduser()
    return Path(platformdirs.user_data_dir("plumbstar", appauthor=False)) / "logbook.sqlite3"


def path_of(named: str | Path | None) -> Path:
    """The logbook that was named, else the usual one."""
    return Path(named).expanduser() if named else default_path()


def good_copy(path: Path | str) -> Path:
    """Where the last good copy of that logbook lies, if there is one (rescue.py)."""
    return Path(f"{path}-good")


def _way_back(path: str) -> Advice:
    """What to do about a damaged logbook: which copy there is, and what takes it."""
    where = path if Path(path) != default_path() else ""
    good = good_copy(path)
    try:
        with closing(connect(good, "mode=ro")) as db:
            inspect(db, good)
            outings = db.execute("SELECT count(*) FROM outings WHERE deleted IS NULL").fetchone()[0]
        of = Instant.from_unix(good.stat().st_mtime).iso()[:16].replace("T", " ")
    except (sqlite3.Error, OSError, UserError):
        there = "It was left as it is. There is no good copy beside it."
        return Advice(Do.SAVE_WHAT_CAN_BE_READ, where, there)
    there = (
        f"It was left as it is. The last good copy, {good}, is of {of} UTC and holds "
        f"{many(outings, 'outing')}."
    )
    return Advice(Do.BRING_BACK_THE_GOOD_COPY, where, there)


def to_json(value: Any) -> str:
    """JSON text; numpy arrays as lists, instants as ISO 8601, non-finite numbers as null."""

    def other(x: Any) -> Any:
        if hasattr(x, "tolist"):
            return x.tolist()
        raise UserError(f"a {type(x).__name__}", "something JSON can hold", "Convert it first")

    return msgspec.json.encode(value, enc_hook=other).decode()


def refusal(e: sqlite3.Error, path: str, saving: bool) -> UserError:
    """SQLite's failure in the user's words (codes: sqlite.org/rescode.html)."""
    said: tuple[str, str, str | Advice]
    code = (getattr(e, "sqlite_errorcode", None) or 0) & 0xFF
    kind: type[UserError] = LogbookRefused if saving else UserError
    lost = "Nothing was saved. " if saving else ""
    copy = "Keep a copy of the file, with the -wal and -shm files beside it if there are any"
    if code == sqlite3.SQLITE_FULL:
        said = ("the disk is full", "room for a few kilobytes", "Free some space and try again")
    elif code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        said = (
            "the disk or the file is read-only",
            "a place that can be written",
            Advice(Do.MAKE_THE_LOGBOOK_WRITABLE, ENVIRONMENT),
        )
    elif code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        said = (
            f"the file is damaged or is no logbook ({' '.join(str(e).split())})",
            "a whole SQLite file written by this program",
            _way_back(path),
        )
    elif code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        said = (
            f"another program has held the file for over {BUSY_SECONDS:g} s",
            "a moment in which it is free",
            "Try again, or close the other program",
        )
    elif code == sqlite3.SQLITE_CANTOPEN:
        said = (
            "the file cannot be opened",
            "a file that can be read and a directory that can be written",
            Advice(Do.NAME_ANOTHER_LOGBOOK, ENVIRONMENT),
        )
    elif code == sqlite3.SQLITE_IOERR:
        said = (f"the disk refused ({e})", "a disk that works and has room", "Check the disk")
    else:
        said = (f"SQLite: {e}", "no error", f"{copy}, and report this")
    return kind(f"{lost}The logbook {path}: {said[0]}", said[1], said[2])


def connect(path: Path, options: str) -> sqlite3.Connection:
    """A connection in autocommit mode; ``options`` as sqlite.org/uri.html has them."""
    return sqlite3.connect(
        f"file:{quote(str(path.absolute()))}?{options}",
        uri=True,
        timeout=BUSY_SECONDS,
        isolation_level=None,
        check_same_thread=False,
    )


def inspect(db: sqlite3.Connection, path: Path) -> None:
    """Refuse a damaged file, another program's file, and a newer schema; writes nothing."""
    try:
        verdict = [str(r[0]) for r in db.execute("PRAGMA quick_check(1)")]
    except UnicodeDecodeError:  # SQLite's message quotes what it found, and that is no text
        verdict = ["its table of contents cannot be read"]
    if verdict != ["ok"]:
        e = sqlite3.DatabaseError(verdict[0])
        e.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        raise e
    owner = db.execute("PRAGMA application_id").fetchone()[0]
    tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables and owner != schema.APPLICATION_ID:
        raise UserError(
            f"the file {path}, which belongs to another program",
            "a Plumbstar logbook",
            "It was left as it is. Name another path",
        )
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if version > schema.newest():
        raise UserError(
            f"the logbook {path} in schema {version}",
            f"schema {schema.newest()} or older: a newer Plumbstar wrote it",
            Advice(Do.UPDATE_OR_NAME_ANOTHER_LOGBOOK),
        )


def _looked_at(path: Path, options: str) -> sqlite3.Connection:
    db = connect(path, options)
    try:
        inspect(db, path)
    except BaseException:
        db.close()
        raise
    return db


def _open(path: Path) -> tuple[sqlite3.Connection, bool]:
    """A connection to an existing or new file, and whether it may only be read."""
    wal = Path(f"{path}-wal")
    # Looked at read-only first, so that a file we refuse is not changed by looking.
    if path.exists() and path.stat().st_size:
        try:
            look = _looked_at(path, "mode=ro")
        except sqlite3.OperationalError as e:
            # A read-only disk without the -wal and -shm files beside it. `immutable` reads the
            # file alone, so it is right only when no journal is waiting to be folded in.
            waiting = wal.exists() and wal.stat().st_size
            writable = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
            busy = (e.sqlite_errorcode & 0xFF) == sqlite3.SQLITE_BUSY
            if writable and (e.sqlite_errorcode & 0xFF) == sqlite3.SQLITE_READONLY:
                # Cut off in its very first change, before there was a -wal: who only reads may
                # not take that change back (SQLITE_READONLY_ROLLBACK), who may write does.
                look = _looked_at(path, "mode=rw")
            elif writable or waiting or busy or not os.access(path, os.R_OK):
                raise
            else:
                look = _looked_at(path, "immutable=1")
        if not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):
            return look, True
        # Closed only after the writing connection is open: were it the last one, nothing is lost.
        db = connect(path, "mode=rw")
        look.close()
    else:
        db = connect(path, "mode=rwc")
    return db, False


class Book:
    """One open logbook file. Threads may share it; so may processes, each with its own.

    Every change is one transaction, on disk (synchronous=FULL) before the call returns, or else
    :class:`NotSaved` is raised and nothing of it is in the file.
    """

    def __init__(
        self, db: sqlite3.Connection, path: str, readonly: bool, clock: Callable[[], float]
    ) -> None:
        self._db = db
        self._readonly = readonly
        self._clock = clock
        self._lock = threading.RLock()
        self._commits = 0  # made by this object since it was opened
        #: By which clock new entries are timed, asked at each; None where nobody can say.
        self.basis: Callable[[], Clock | None] = lambda: None
        self.path = path
        self._inode = self._look()

    @classmethod
    def open(
        cls,
        path: Path | str | None = None,
        *,
        create: bool = True,
        clock: Callable[[], float] = time.time,
    ) -> Self:
        """Open the logbook at ``path`` (default :func:`default_path`), making it if need be.

        ``":memory:"`` keeps it in memory only. ``clock`` gives seconds since 1970 and stamps the
        undo history. Raises :class:`UserError` for a missing file (``create=False``), a damaged
        one, another program's, a newer schema, or a directory that cannot be written; the file
        is untouched in every one of these.
        """
        try:
            if str(path) == ":memory:":
                db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
                readonly, where = False, Path(":memory:")
            else:
                where = path_of(path)
                if where.is_dir():
                    raise UserError(
                        f"the directory {where} as logbook",
                        "a file",
                        f"Try {where}/logbook.sqlite3",
                    )
                if not where.exists():
                    if not create:
                        raise UserError(
                            f"no logbook at {where}",
                            "a file that exists",
                            Advice(Do.CHECK_WHICH_LOGBOOK, ENVIRONMENT),
                        )
                    where.parent.mkdir(parents=True, exist_ok=True)
                db, readonly = _open(where)
            db.execute("PRAGMA foreign_keys = ON")
            if not readonly:
                cls._prepare(db)
                schema.migrate(db, stamp(Instant.from_unix(clock())))
            return cls(db, str(where), readonly, clock)
        except sqlite3.Error as e:
            raise refusal(e, str(where), saving=False) from None
        except OSError as e:
            raise UserError(
                f"the logbook {where} ({e})",
                "a place that can be written",
                Advice(Do.NAME_ANOTHER_LOGBOOK, ENVIRONMENT),
            ) from None

    @staticmethod
    def _prepare(db: sqlite3.Connection) -> None:
        # The switch to WAL is not covered by the busy timeout when two processes race to make it.
        for attempt in range(50):
            try:
                mode = db.execute("PRAGMA journal_mode = WAL").fetchone()[0]
                break
            except sqlite3.OperationalError as e:
                if (e.sqlite_errorcode & 0xFF) != sqlite3.SQLITE_BUSY or attempt == 49:
                    raise
                time.sleep(0.05)
        # Some network disks cannot do WAL; EXTRA then also syncs the directory (sqlite.org/pragma).
        db.execute(f"PRAGMA synchronous = {'FULL' if mode == 'wal' else 'EXTRA'}")

    @property
    def readonly(self) -> bool:
        """Whether it can only be read."""
        return self._readonly

    def in_place(self) -> bool:
        """Whether the open file is still the one at the path."""
        return self._look() == self._inode

    def close(self) -> None:
        """Close the file. What was saved is saved already."""
        with self._lock:
            self._db.close()

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
        return int(self._rows("SELECT n FROM counter")[0][0])

    def elsewhere(self) -> int:
        """A number that moves only when somebody other than this object changes the logbook."""
        with self._lock:
            return self.version() - self._commits

    def _rows(self, sql: str, values: tuple[Any, ...] = ()) -> list[Row]:
        with self._lock:
            try:
                return self._db.execute(sql, values).fetchall()
            except sqlite3.Error as e:
                raise refusal(e, self.path, saving=False) from None
            except OverflowError:  # SQLite's whole numbers have 64 bits
                raise UserError(
                    "a number too large for the logbook", "the number of an entry", "Check it"
                ) from None

    @contextmanager
    def _changing(self, what: str = "", outing_id: int | None = None) -> Iterator[list[Step]]:
        """One transaction. Steps put in the yielded list become one line of the undo history."""
        with self._lock:
            if self._readonly:
                raise LogbookRefused(
                    f"Nothing was saved. The logbook {self.path} can only be read",
                    "a place that can be written",
                    Advice(Do.MAKE_THE_LOGBOOK_WRITABLE, ENVIRONMENT),
                )
            # Writing on into a file that was moved or deleted would save to nowhere.
            if not self.in_place():
                raise LogbookRefused(
                    f"Nothing was saved. The logbook {self.path} was moved, replaced or deleted "
                    "while it was open",
                    "the file where it was",
                    "Put it back, or start the program again to begin a new one",
                )
            steps: list[Step] = []
            try:
                self._db.execute("BEGIN IMMEDIATE")
                yield steps
                self._db.execute("UPDATE counter SET n = n + 1")
                if steps:
                    self._db.execute(
                        "INSERT INTO changes (at, outing_id, what, steps, made)"
                        " SELECT ?, ?, ?, ?, n FROM counter",
                        (stamp(self.now()), outing_id, what, to_json(steps)),
                    )
                self._db.execute("COMMIT")
                self._commits += 1
            except BaseException as e:
                if self._db.in_transaction:
                    with suppress(sqlite3.Error):
                        self._db.execute("ROLLBACK")
                if isinstance(e, sqlite3.Error):
                    raise refusal(e, self.path, saving=True) from None
                raise

    def _set(self, steps: list[Step], table: str, row: int, column: str, value: Any) -> None:
        """Write one undoable cell inside :meth:`_changing`."""
        assert column in _UNDOABLE[table]
        before = self._db.execute(f"SELECT {column} FROM {table} WHERE id = ?", (row,)).fetchone()
        self._db.execute(f"UPDATE {table} SET {column} = ? WHERE id = ?", (value, row))
        steps.append((table, row, column, before[0], value))

    def _add(self, steps: list[Step], table: str, sql: str, values: tuple[Any, ...]) -> int:
        """A new row inside :meth:`_changing`; returns its id. Undoing it marks it deleted.

        ``sql`` is what stands after the table's name, columns first.
        """
        row = self._db.execute(f"INSERT INTO {table} {sql}", values).lastrowid
        assert row is not None
        steps.append((table, row, "deleted", stamp(self.now()), None))
        return row

    def history(self, limit: int = 50) -> tuple[Change, ...]:
        """The last changes, newest first."""
        rows = self._rows(
            "SELECT id, at, outing_id, what, undone FROM changes ORDER BY id DESC LIMIT ?", (limit,)
        )
        return tuple(Change(r[0], Instant.parse(r[1]), r[2], r[3], r[4] is not None) for r in rows)

    def undo(self, outing_id: int | None = None) -> Change | None:
        """Take back the last change (of that outing, or of all). None when there is none left.

        Taking back an addition marks it deleted: :meth:`redo` brings it back.
        """
        where = "undone IS NULL AND (? IS NULL OR outing_id = ?) ORDER BY id DESC"
        return self._replay(where, outing_id, back=True)

    def redo(self, outing_id: int | None = None) -> Change | None:
        """Take back the last undo, if nothing new was done since; else None."""
        where = (
            "undone > (SELECT max(made) FROM changes WHERE ?1 IS NULL OR outing_id = ?1)"
            " AND (?1 IS NULL OR outing_id = ?2) ORDER BY undone DESC"
        )
        return self._replay(where, outing_id, back=False)

    def _replay(self, where: str, outing_id: int | None, back: bool) -> Change | None:
        with self._changing() as _:
            row = self._db.execute(
                f"SELECT id, at, outing_id, what, steps FROM changes WHERE {where} LIMIT 1",
                (outing_id, outing_id),
            ).fetchone()
            if row is None:
                return None
            steps: list[Step] = msgspec.json.decode(row[4], type=list[Step])
            for table, key, column, before, after in reversed(steps) if back else steps:
                assert column in _UNDOABLE[table]
                self._db.execute(
                    f"UPDATE {table} SET {column} = ? WHERE id = ?",
                    (before if back else after, key),
                )
            # n + 1: the value the counter will have when this transaction is committed.
            undone = "(SELECT n + 1 FROM counter)" if back else "NULL"
            self._db.execute(f"UPDATE changes SET undone = {undone} WHERE id = ?", (row[0],))
        return Change(row[0], Instant.parse(row[1]), row[2], row[3], back)

    def purge(self) -> dict[str, int]:
        """Remove for good what is marked deleted; returns how many of each. Cannot be undone.

        The undo history keeps only what can still be undone.
        """
        gone: dict[str, int] = {}
        with self._changing() as _:
            for table in ("sightings", "finds", "notes", "mends", "outings"):
                cursor = self._db.execute(f"DELETE FROM {table} WHERE deleted IS NOT NULL")
                gone[table] = cursor.rowcount
            for key, text in self._db.execute("SELECT id, steps FROM changes").fetchall():
                for table, row, *_rest in msgspec.json.decode(text, type=list[Step]):
                    assert table in _UNDOABLE
                    if not self._db.execute(
                        f"SELECT 1 FROM {table} WHERE id = ?", (row,)
                    ).fetchone():
                        self._db.execute("DELETE FROM changes WHERE id = ?", (key,))
                        break
        with self._lock, suppress(sqlite3.Error):  # only gives the room back
            self._db.execute("VACUUM")
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return gone

    def copy_to(self, target: Path) -> None:
        """A whole copy in one file, safe while others write. Refuses to overwrite."""
        if target.exists():
            raise UserError(f"the file {target}, which exists", "a new name", "Choose another")
        try:
            with self._lock:
                copy = sqlite3.connect(target)
                try:
                    self._db.backup(copy)
                finally:
                    copy.close()
        except sqlite3.Error as e:
            target.unlink(missing_ok=True)
            raise refusal(e, str(target), saving=True) from None
