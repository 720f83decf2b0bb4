"""Opening the file safely: what is refused is left as it was, and said why."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

from plumbstar.logbook.connecting import connect, default_path, inspect
from plumbstar.logbook.contents import newest, no_tables
from plumbstar.logbook.trouble import LogbookTrouble, Trouble, told
from plumbstar.text.advice import Advice, Do


def way_back(path: str) -> Advice:
    """What to do about a damaged logbook: which copy there is, and what takes it."""
    where = path if Path(path) != default_path() else ""
    copy = newest(Path(path))
    if copy is None:
        there = "It was left as it is. There is no good copy beside it."
        return Advice(Do.SAVE_WHAT_CAN_BE_READ, where, there)
    there = f"It was left as it is. The last good copy, {copy.words}."
    return Advice(Do.BRING_BACK_THE_GOOD_COPY, where, there)


_KINDS = {
    sqlite3.SQLITE_FULL: Trouble.FULL,
    sqlite3.SQLITE_READONLY: Trouble.READ_ONLY,
    sqlite3.SQLITE_PERM: Trouble.READ_ONLY,
    sqlite3.SQLITE_CORRUPT: Trouble.DAMAGED,
    sqlite3.SQLITE_NOTADB: Trouble.DAMAGED,
    sqlite3.SQLITE_BUSY: Trouble.LOCKED,
    sqlite3.SQLITE_LOCKED: Trouble.LOCKED,
    sqlite3.SQLITE_CANTOPEN: Trouble.CANNOT_OPEN,
    sqlite3.SQLITE_IOERR: Trouble.DISK_ERROR,
}


def kind_of(e: sqlite3.Error) -> Trouble:
    """Which trouble SQLite's failure is (codes: sqlite.org/rescode.html)."""
    if getattr(e, "sqlite_errorcode", None) == sqlite3.SQLITE_CONSTRAINT_TRIGGER:  # seals.py
        return Trouble.DAMAGED
    return _KINDS.get((getattr(e, "sqlite_errorcode", None) or 0) & 0xFF, Trouble.OTHER)


def refusal(e: sqlite3.Error, path: str, saving: bool) -> LogbookTrouble:
    """SQLite's failure in the user's words."""
    kind = kind_of(e)
    remedy = way_back(path) if kind is Trouble.DAMAGED else None
    return told(kind, path, detail=" ".join(str(e).split()), remedy=remedy, saving=saving)


def _looked_at(path: Path, options: str) -> sqlite3.Connection:
    db = connect(path, options)
    try:
        inspect(db, path)
    except BaseException:
        db.close()
        raise
    return db


def open_file(path: Path, blank: Callable[[Path], None]) -> tuple[sqlite3.Connection, bool]:
    """A connection to an existing or new file, and whether it may only be read. ``blank`` is told
    of a file in which nothing was begun, and may refuse it by raising."""
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
                look = _looked_at(path, "mode=ro&immutable=1")
        try:
            if no_tables(look):
                blank(path)
        except BaseException:
            look.close()
            raise
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
