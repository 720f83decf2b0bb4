"""The last good copy, and the way back to it when the logbook is damaged.

The copy lies beside the logbook, its name with ``-good`` put to it. It is made by SQLite's own
backup (sqlite.org/backup.html), checked, and only then put in the place of the one before: a
damaged logbook never becomes the copy. Bringing it back also takes from the damaged file every
entry newer than the copy that can still be read, and throws nothing away.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from plumbstar.errors import UserError
from plumbstar.logbook.file import LogbookFile
from plumbstar.logbook.opening import connect, good_copy, inspect, refusal
from plumbstar.logbook.records import NotSaved
from plumbstar.logbook.store import Logbook

#: Read from a damaged file in this order: what others refer to first. The undo history and the
#: computed fixes are left out; the first refers to what may be lost, the others can be rebuilt.
TABLES = ("outings", "sightings", "finds", "notes", "mends", "skylines", "settings")


def keep_copy(book: Logbook) -> Path | None:
    """Renew the last good copy if the logbook changed since; its path, or None for none kept.

    Others may read and write meanwhile. Raises :class:`UserError` when the logbook turns out to be
    damaged (the copy before is kept) or the copy cannot be written.
    """
    path = Path(book.path)
    if book.path == ":memory:" or book.readonly or not book.in_place():
        return None
    good, version = good_copy(path), book.version()
    if _version_of(good) == version:
        return good
    fresh = good.with_name(f"{good.name}.{os.getpid()}.new")
    try:
        with contextlib.closing(connect(path, "mode=ro")) as source:
            _copy(source, fresh, path)
        for tail in ("-wal", "-shm"):  # of a copy that somebody has opened: not for this one
            Path(f"{good}{tail}").unlink(missing_ok=True)
        _put(fresh, good)
    except sqlite3.Error as e:
        raise refusal(e, str(path), saving=False) from None
    except OSError as e:
        raise NotSaved(
            f"the copy {good} ({e})", "a place that can be written", "Make room"
        ) from None
    finally:
        fresh.unlink(missing_ok=True)
    return good


def _copy(source: sqlite3.Connection, fresh: Path, path: Path) -> None:
    """A checked copy in one file. Raises sqlite3.Error, a damaged source among them."""
    fresh.unlink(missing_ok=True)
    try:
        with contextlib.closing(sqlite3.connect(fresh, isolation_level=None)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, with no others beside it
            inspect(copy, path)
    except sqlite3.OperationalError as e:
        # Of the copy's disk, not the logbook's: nothing is lost, but there is no new copy.
        raise OSError(str(e)) from None
    with fresh.open("rb+") as f:
        os.fsync(f.fileno())


def _put(fresh: Path, place: Path) -> None:
    os.replace(fresh, place)
    with contextlib.suppress(OSError):  # not every system can; then the name is safe a little later
        fd = os.open(place.parent, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def _version_of(copy: Path) -> int | None:
    """The counter of a copy that can be read; looked at so that no other files come of it."""
    try:
        with contextlib.closing(connect(copy, "immutable=1")) as db:
            return int(db.execute("SELECT n FROM counter").fetchone()[0])
    except (sqlite3.Error, TypeError):
        return None


@dataclass
class Recovered:
    """What was done: where the damaged file lies now, which copy was taken, what was added."""

    logbook: Path
    damaged: Path
    copy: Path | None
    outings: int = 0
    sightings: int = 0
    added: dict[str, int] = field(default_factory=dict)
    #: Tables of which some part could not be read.
    unread: list[str] = field(default_factory=list)


def recover(path: Path, clock: Callable[[], float] = time.time) -> Recovered:
    """Put the last good copy back, with what can be read of the damaged file's newer entries.

    The damaged file is kept beside it. Without a copy a new logbook is begun with what can be read.
    Raises :class:`UserError` when there is nothing to mend, or no room to do it; then nothing has
    been changed.
    """
    if not path.exists():
        raise UserError(f"no logbook at {path}", "a damaged logbook", "Check --logbook")
    if _whole(path):
        raise UserError(f"the logbook {path}, which is whole", "a damaged one", "Use it as it is")
    copy: Path | None = good_copy(path)
    if copy is None or not _whole(copy):
        copy = None
    stamp = time.strftime("%Y%m%dT%H%M%S", time.gmtime(clock()))
    aside = path.with_name(f"{path.name}.damaged-{stamp}")
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    done = Recovered(path, aside, copy)
    try:
        # Copied, not moved: until the last step the damaged file is where it was.
        for tail in ("", "-wal"):
            if Path(f"{path}{tail}").exists():
                shutil.copy2(f"{path}{tail}", f"{aside}{tail}")
        fresh.unlink(missing_ok=True)
        if copy is not None:
            with contextlib.closing(connect(copy, "mode=ro")) as source:
                _copy(source, fresh, copy)
        with Logbook.open(fresh, clock=clock):
            pass  # the newest schema
        with contextlib.closing(sqlite3.connect(fresh, isolation_level=None)) as db:
            _take(db, aside, done)
            db.execute("PRAGMA journal_mode = DELETE")
            inspect(db, fresh)
        with Logbook.open(fresh, clock=clock) as book:
            done.outings = len(book.outings())
            done.sightings = sum(o.sighting_count for o in book.outings())
        for tail in ("-wal", "-shm"):  # of the damaged file: they must not be applied to this one
            Path(f"{path}{tail}").unlink(missing_ok=True)
        _put(fresh, path)
    except (sqlite3.Error, OSError) as e:
        raise UserError(
            f"the logbook could not be brought back ({e})",
            "a disk that can be written, with room for it twice more",
            "The damaged file is as it was. Make room, and try again",
        ) from None
    finally:
        for tail in ("", "-wal", "-shm"):
            Path(f"{fresh}{tail}").unlink(missing_ok=True)
    return done


def _whole(path: Path) -> bool:
    try:
        with contextlib.closing(connect(path, "mode=ro")) as db:
            inspect(db, path)
            return bool(db.execute("SELECT count(*) FROM counter").fetchone()[0] == 1)
    except sqlite3.Error:
        return False


def _take(db: sqlite3.Connection, damaged: Path, done: Recovered) -> None:
    """Add to ``db`` the rows of the damaged file that it does not have."""
    db.execute("PRAGMA foreign_keys = ON")
    for table in TABLES:
        columns = [r[1] for r in db.execute(f"PRAGMA table_info({table})")]
        older = _columns(damaged, table)  # a file from an older version has fewer
        columns = [c for c in columns if not older or c in older]
        key = columns[0]
        have = {r[0] for r in db.execute(f"SELECT {key} FROM {table}")}
        # A sound row shows what a sound row's values are like; SQLite itself would take any.
        kinds = {r[1]: str(r[2]) for r in db.execute(f"PRAGMA table_info({table})")}
        put = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
        for row in _rows(damaged, table, columns, done):
            if row[0] in have or not _sound(row, [kinds[c] for c in columns]):
                continue
            try:
                db.execute(put, row)
            except sqlite3.Error:
                if table not in done.unread:
                    done.unread.append(table)
                continue
            if not _readable(db, table, row):
                db.execute(f"DELETE FROM {table} WHERE {key} = ?", (row[0],))
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


def _sound(row: tuple[Any, ...], kinds: list[str]) -> bool:
    """Whether each value is of its column's kind, as this program always writes it."""
    types: dict[str, tuple[type, ...]] = {"INTEGER": (int,), "REAL": (float, int), "TEXT": (str,)}
    return all(v is None or isinstance(v, types[k]) for v, k in zip(row, kinds, strict=True))


def _readable(db: sqlite3.Connection, table: str, row: tuple[Any, ...]) -> bool:
    """Whether this program can read the entry back: times are times, JSON is JSON."""
    book = Logbook(LogbookFile(db, ":memory:", False, time.time))
    read: dict[str, Callable[[], Any]] = {
        "outings": lambda: (book.outing(row[0]), book.state(row[0])),
        "sightings": lambda: book.sightings(row[1], deleted=True),
        "finds": lambda: book.finds(row[1], deleted=True),
        "notes": lambda: book.notes(row[1]),
        "mends": lambda: book.mends(row[1]),
        "settings": lambda: book.get_setting(row[0]),
    }
    try:
        read.get(table, lambda: None)()
    except Exception:  # whatever it is that a bent value leads to
        return False
    return True


def _rows(
    damaged: Path, table: str, columns: list[str], done: Recovered
) -> Iterator[tuple[Any, ...]]:
    """The rows that can be read: from the first on until the damage, then from the last back."""
    seen: set[int] = set()
    for order in ("ASC", "DESC"):
        try:
            with contextlib.closing(connect(damaged, "mode=ro")) as db:
                ask = f"SELECT rowid, {', '.join(columns)} FROM {table} ORDER BY rowid {order}"
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
