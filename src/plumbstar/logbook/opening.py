"""Opening the file safely: what is refused is left as it was, and said why."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

import platformdirs

from plumbstar.errors import UserError
from plumbstar.logbook import schema
from plumbstar.logbook.records import LogbookRefused
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import many

ENVIRONMENT = "PLUMBSTAR_LOGBOOK"
BUSY_SECONDS = 10.0


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


def open_file(path: Path) -> tuple[sqlite3.Connection, bool]:
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


def prepare(db: sqlite3.Connection) -> None:
    """Every change on disk before it is said to be saved (WAL, synchronous=FULL)."""
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
