"""Where the file lies, a plain connection to it, and a look whether it is a sound logbook."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

import platformdirs

from plumbstar.logbook import schema, seals
from plumbstar.logbook.trouble import BUSY_SECONDS, ENVIRONMENT, Trouble, told


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


def connect(path: Path, options: str) -> sqlite3.Connection:
    """A connection in autocommit mode; ``options`` as sqlite.org/uri.html has them."""
    db = sqlite3.connect(
        f"file:{quote(str(path.absolute()))}?{options}",
        uri=True,
        timeout=BUSY_SECONDS,
        isolation_level=None,
        check_same_thread=False,
    )
    seals.register(db)
    return db


def corrupt(detail: str) -> sqlite3.DatabaseError:
    """As SQLite itself would say it of a damaged file."""
    e = sqlite3.DatabaseError(detail)
    e.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
    return e


def structure(db: sqlite3.Connection, path: Path) -> None:
    """As :func:`inspect`, without the rows' checks."""
    try:
        # Indexes, too: by one that is damaged entries would be missed in silence.
        verdict = [str(r[0]) for r in db.execute("PRAGMA integrity_check(1)")]
    except UnicodeDecodeError:  # SQLite's message quotes what it found, and that is no text
        verdict = ["its table of contents cannot be read"]
    if verdict != ["ok"]:
        raise corrupt(verdict[0])
    owner = db.execute("PRAGMA application_id").fetchone()[0]
    tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables and owner != schema.APPLICATION_ID:
        raise told(Trouble.ANOTHER_PROGRAMS, path)
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if version > schema.newest():
        detail = f"{version}; this one knows {schema.newest()} and older"
        raise told(Trouble.NEWER, path, detail=detail)


def inspect(db: sqlite3.Connection, path: Path) -> None:
    """Refuse a damaged file, another program's file, and a newer schema; writes nothing."""
    structure(db, path)
    if db.execute("PRAGMA user_version").fetchone()[0] >= schema.SEALED:
        rows = seals.bent(db)
        if rows:
            where = ", ".join(dict.fromkeys(table for table, _ in rows))
            raise corrupt(f"entries that do not match their check: {len(rows)}, in {where}")
