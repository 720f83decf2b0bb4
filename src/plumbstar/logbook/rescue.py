"""The way back to a good copy when the logbook is damaged, emptied or gone.

Bringing it back also takes from the file every entry newer than the copy that can still be read,
and throws nothing away.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from plumbstar.errors import UserError
from plumbstar.logbook import readable, schema, seals
from plumbstar.logbook.bent import mend_rows
from plumbstar.logbook.connecting import connect, inspect
from plumbstar.logbook.contents import contents, newest, spoilt, trouble_beside_copy
from plumbstar.logbook.copies import copy_whole, free_name, place_for_kept, put, stamped
from plumbstar.logbook.records import stamp
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.trouble import LogbookTrouble, Trouble
from plumbstar.sky.times import Instant

#: Read from a damaged file in this order: what others refer to first. The undo history and the
#: computed fixes are left out; the first refers to what may be lost, the others can be rebuilt.
TABLES = ("outings", *seals.WITHIN, "mends", "skylines", "settings")


@dataclass
class Recovered:
    """What was done: where the old file lies now (None: there was none), which copy was taken, what
    was added."""

    logbook: Path
    damaged: Path | None
    copy: Path | None
    outings: int = 0
    sightings: int = 0
    added: dict[str, int] = field(default_factory=dict)
    #: Whether the file was sound but for single entries that did not match their check; of these
    #: so many were taken from the copy, and so many of each table are lost.
    only_rows: bool = False
    replaced: int = 0
    lost: dict[str, int] = field(default_factory=dict)
    #: Tables of which some part could not be read.
    unread: list[str] = field(default_factory=list)
    #: Where the copy lies now that could not be read whole; None: there was none.
    spoilt: Path | None = None


def recover(path: Path, clock: Callable[[], float] = time.time) -> Recovered:
    """Put the last good copy back, with what can be read of the file's newer entries.

    The file is kept beside it. Without a copy a new logbook is begun with what can be read. A newer
    copy that is damaged itself is read in the same way, last.
    Raises :class:`UserError` when there is nothing to mend, or no room to do it; then nothing has
    been changed.
    """
    asked = trouble_beside_copy(path)
    if asked is None and not path.exists():
        raise UserError(f"There is no logbook at {path}, and no copy", "", "Check --logbook")
    if asked is None and _whole(path):
        raise UserError(f"The logbook {path} is whole", "", "Use it as it is")
    held = newest(path)
    copy = held.path if held is not None else None
    fresh = path.with_name(f"{path.name}.new")
    aside = _aside(path, "before" if asked else "damaged", clock()) if path.exists() else None
    done = Recovered(path, aside, copy)
    bad = spoilt(path)
    try:
        if aside is not None:
            # Copied, not moved: until the last step the file is where it was.
            for tail in ("", "-wal"):
                if Path(f"{path}{tail}").exists():
                    shutil.copy2(f"{path}{tail}", f"{aside}{tail}")
        _clear(fresh)
        if aside is not None and asked is None:
            done.only_rows = _mend_single_rows(aside, fresh, copy, done, clock)
        elif bad is not None and copy is None:
            done.only_rows = _mend_single_rows(bad, fresh, None, done, clock)
        if copy is not None and not done.only_rows:
            with contextlib.closing(connect(copy, "mode=ro&immutable=1")) as source:
                copy_whole(source, fresh, copy)
        with Logbook.open(fresh, clock=clock):
            pass  # the newest schema
        to_read = (aside if asked is None else None, bad)
        if not done.only_rows:
            with contextlib.closing(connect(fresh, "mode=rw")) as db:
                for file in filter(None, to_read):
                    _take(db, file, done)
        if asked is not None and asked.kind is Trouble.EMPTIER:
            _join(fresh, path, done)
        with contextlib.closing(connect(fresh, "mode=rw")) as db:
            db.execute("PRAGMA journal_mode = DELETE")
            inspect(db, fresh)
        with Logbook.open(fresh, clock=clock) as book:
            done.outings = len(book.outings())
            done.sightings = sum(o.sighting_count for o in book.outings())
        for tail in ("-wal", "-shm"):  # of the old file: they must not be applied to this one
            Path(f"{path}{tail}").unlink(missing_ok=True)
        put(fresh, path)
        if bad is not None:
            done.spoilt = place_for_kept(path, bad)
            put(bad, done.spoilt)
    except (sqlite3.Error, OSError) as e:
        raise LogbookTrouble(
            Trouble.DISK_ERROR,
            f"The logbook could not be brought back ({e})",
            "The file is as it was. Make room on the disk for it twice more, and try again",
        ) from None
    finally:
        _clear(fresh)
    return done


def _mend_single_rows(
    damaged: Path, fresh: Path, copy: Path | None, done: Recovered, clock: Callable[[], float]
) -> bool:
    """Make ``fresh`` of the damaged file without the rows that do not match their check; False, and
    no file, where more than single rows is the matter."""
    try:
        with contextlib.closing(connect(damaged, "mode=ro")) as source:
            copy_whole(source, fresh, damaged, lambda db, path: None)
        with contextlib.closing(connect(fresh, "mode=rw")) as db:
            if db.execute("PRAGMA user_version").fetchone()[0] >= schema.SEALED:
                rows = seals.bent(db)
            else:
                schema.migrate(db, stamp(Instant.from_unix(clock())), schema.UNSEALED)
                rows = readable.unreadable(db)
            done.replaced, done.lost = mend_rows(db, rows, copy)
            db.execute("REINDEX")
            inspect(db, fresh)
    except (sqlite3.Error, UserError, UnicodeDecodeError, OSError):
        _clear(fresh)
        done.replaced, done.lost = 0, {}
        return False
    return True


def _aside(path: Path, what: str, unix: float) -> Path:
    """A name that is free, for the file as it was."""
    return free_name(path.with_name(f"{path.name}.{what}-{stamped(unix)}"))


def _clear(fresh: Path) -> None:
    for tail in ("", "-wal", "-shm", "-journal"):
        Path(f"{fresh}{tail}").unlink(missing_ok=True)


def _join(fresh: Path, other: Path, done: Recovered) -> None:
    """Add the outings of another sound logbook that are not in this one."""
    with Logbook.open(other, create=False) as theirs, Logbook.open(fresh) as ours:
        known = {o.uid for o in ours.outings(deleted=True)}
        new = [o for o in theirs.outings() if o.uid not in known]
        if new:
            ours.import_json(theirs.export_json(*(o.id for o in new)))
            done.added = {
                "outings": len(new),
                "sightings": sum(o.sighting_count for o in new),
                "finds": sum(o.find_count for o in new),
            }


def _whole(path: Path) -> bool:
    """Raises :class:`UserError` for another program's file and a newer schema."""
    try:
        with contextlib.closing(connect(path, "mode=ro")) as db:
            inspect(db, path)
            version = db.execute("PRAGMA user_version").fetchone()[0]
            # Without checks on its rows it is whole when all of them can be read.
            if schema.UNSEALED[-1].number <= version < schema.SEALED and readable.unreadable(db):
                return False
    except sqlite3.Error:
        return False
    return contents(path) is not None


def _take(db: sqlite3.Connection, damaged: Path, done: Recovered) -> None:
    """Add to ``db`` the rows of the damaged file that it does not have."""
    db.execute("PRAGMA foreign_keys = ON")
    for table in TABLES:
        columns = [r[1] for r in db.execute(f"PRAGMA table_info({table})")]
        older = _columns(damaged, table)  # a file from an older version has fewer
        columns = [c for c in columns if (not older or c in older) and c != "seal"]
        sealed = "seal" in older
        key = columns[0]
        have = {r[0] for r in db.execute(f"SELECT {key} FROM {table}")}
        kinds = {r[1]: str(r[2]) for r in db.execute(f"PRAGMA table_info({table})")}
        put = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
        for row in _rows(damaged, table, columns, done, sealed):
            if row[0] in have or not readable.sound(row, [kinds[c] for c in columns]):
                continue
            try:
                new = db.execute(put, row).lastrowid
            except sqlite3.Error:
                if table not in done.unread:
                    done.unread.append(table)
                continue
            if not readable.reads(db, table, new or 0):
                db.execute(f"DELETE FROM {table} WHERE rowid = ?", (new,))
                continue
            have.add(row[0])
            done.added[table] = done.added.get(table, 0) + 1
    db.execute("UPDATE counter SET n = n + 1 + ?", (sum(done.added.values()),))


def _columns(damaged: Path, table: str) -> set[str]:
    """The table's columns in the damaged file; empty when even that cannot be read."""
    try:
        with contextlib.closing(connect(damaged, "mode=ro")) as db:
            return {str(r[1]) for r in db.execute(f"PRAGMA table_info({table})")}
    except (sqlite3.Error, UnicodeDecodeError):
        return set()


def _rows(
    damaged: Path, table: str, columns: list[str], done: Recovered, sealed: bool
) -> Iterator[tuple[Any, ...]]:
    """The rows that can be read: from the first on until the damage, then from the last back."""
    seen: set[int] = set()
    for order in ("ASC", "DESC"):
        try:
            with contextlib.closing(connect(damaged, "mode=ro")) as db:
                sound = f"WHERE {seals.sound(table)}" if sealed else ""
                names = ", ".join(columns)
                ask = f"SELECT rowid, {names} FROM {table} {sound} ORDER BY rowid {order}"
                for row in db.execute(ask):
                    if row[0] in seen:
                        break
                    seen.add(row[0])
                    yield row[1:]
                else:
                    return
        except (sqlite3.Error, UnicodeDecodeError):
            if table not in done.unread:
                done.unread.append(table)
