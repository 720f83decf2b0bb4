"""Where the file lies, a plain connection to it, and a look whether it is a sound logbook."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

import platformdirs

from plumbstar.logbook import schema
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
        raise told(Trouble.ANOTHER_PROGRAMS, path)
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if version > schema.newest():
        detail = f"{version}; this one knows {schema.newest()} and older"
        raise told(Trouble.NEWER, path, detail=detail)
