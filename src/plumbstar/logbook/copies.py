"""The good copies beside a logbook: the last one, and older ones by age.

The last lies beside the logbook, its name with ``-good`` put to it. It is made by SQLite's own
backup (sqlite.org/backup.html), checked, and only then put in the place of the one before: a
damaged logbook never becomes the copy, and neither does one that lacks what the copy holds. A copy
that cannot be read is set aside, not replaced: something of it may still be had. The one before is
kept as a generation, ``-good-`` and its time, when the last generation is an hour older, when it is
from an earlier evening, or when it holds more. Of generations the oldest and the newest stay, and
between them those that lie furthest apart for their age.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

from plumbstar.logbook.connecting import connect, good_copy, inspect
from plumbstar.logbook.contents import (
    Contents,
    contents,
    generations,
    less_than_copy,
    made_unix_of,
)
from plumbstar.logbook.opening import refusal
from plumbstar.logbook.records import NotSaved
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.trouble import Trouble

#: Generations kept, and how far apart they begin. Common practice, no source.
GENERATIONS = 6
APART_S = 3600.0


def keep_copy(book: Logbook, clock: Callable[[], float] = time.time) -> Path | None:
    """Renew the last good copy if the logbook changed since; its path, or None for none kept.

    Others may read and write meanwhile. Raises :class:`UserError` when the logbook turns out to be
    damaged or to lack what the copy holds (the copy before is kept), or the copy cannot be written.
    """
    path = Path(book.path)
    if book.path == ":memory:" or book.readonly or not book.in_place():
        return None
    good, version = good_copy(path), book.version()
    before = contents(good, "mode=ro&immutable=1")
    if before is not None and before.version == version:
        return good
    fresh = good.with_name(f"{good.name}.{os.getpid()}.new")
    try:
        with contextlib.closing(connect(path, "mode=ro")) as source:
            copy_whole(source, fresh, path)
        now = contents(fresh, "mode=ro&immutable=1")
        if before is not None and before.entries and (now is None or now.lacks(before)):
            raise less_than_copy(Trouble.EMPTIER, path, before)
        if before is not None and now is not None and _worth_keeping(before, now, path, clock()):
            put(good, Path(f"{good}-{stamped(before.made_unix)}"))
            _thin(path)
        if before is None and good.exists() and good.stat().st_size:
            put(good, place_for_kept(path, good))
        for tail in ("-wal", "-shm"):  # of a copy that somebody has opened: not for this one
            Path(f"{good}{tail}").unlink(missing_ok=True)
        put(fresh, good)
    except sqlite3.Error as e:
        raise refusal(e, str(path), saving=False) from None
    except OSError as e:
        raise NotSaved(f"The copy {good} could not be written ({e})", "", "Make room") from None
    finally:
        fresh.unlink(missing_ok=True)
    return good


def set_aside(path: Path) -> list[Path]:
    """Rename all copies, so that a new logbook may begin: kept, but no longer looked at.

    The last one comes last: cut off before that, it is what the next start asks about.
    """
    kept: list[Path] = []
    for copy in (*generations(path), good_copy(path)):
        if copy.exists():
            place = place_for_kept(path, copy)
            put(copy, place)
            kept.append(place)
    return kept


def place_for_kept(path: Path, copy: Path) -> Path:
    """A free name for a copy that is kept, but no longer looked at."""
    return free_name(path.with_name(f"{path.name}-kept-{stamped(made_unix_of(copy))}"))


def _worth_keeping(before: Contents, now: Contents, path: Path, unix: float) -> bool:
    """Whether the copy before becomes a generation."""
    if not before.entries:
        return False
    if any(b > n for b, n in zip(before.rows, now.rows, strict=True)):
        return True
    older = generations(path)
    last = made_unix_of(older[-1]) if older else before.made_unix
    return before.made_unix - last >= APART_S or unix - before.made_unix >= APART_S


def _thin(path: Path) -> None:
    """One generation less, if there are too many: that whose neighbours are nearest for its age."""
    kept = generations(path)
    if len(kept) <= GENERATIONS:
        return
    at = [made_unix_of(p) for p in kept]

    def gap(k: int) -> float:
        return (at[k + 1] - at[k - 1]) / (at[-1] - at[k] + APART_S)

    kept[min(range(1, len(kept) - 1), key=gap)].unlink()


def stamped(unix: float) -> str:
    """A time for the end of a file's name, UTC."""
    return time.strftime("%Y%m%dT%H%M%S", time.gmtime(unix))


def free_name(place: Path) -> Path:
    """It, or with a number after it where something is so called already."""
    free, n = place, 1
    while free.exists():
        n += 1
        free = place.with_name(f"{place.name}-{n}")
    return free


def copy_whole(
    source: sqlite3.Connection,
    fresh: Path,
    path: Path,
    check: Callable[[sqlite3.Connection, Path], None] = inspect,
) -> None:
    """A checked copy in one file. Raises sqlite3.Error, a damaged source among them."""
    fresh.unlink(missing_ok=True)
    try:
        with contextlib.closing(connect(fresh, "mode=rwc")) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, with no others beside it
            check(copy, path)
    except sqlite3.OperationalError as e:
        # Of the copy's disk, not the logbook's: nothing is lost, but there is no new copy.
        raise OSError(str(e)) from None
    with fresh.open("rb+") as f:
        os.fsync(f.fileno())


def put(fresh: Path, place: Path) -> None:
    """Give it that name, through to the disk."""
    os.replace(fresh, place)
    with contextlib.suppress(OSError):  # not every system can; then the name is safe a little later
        fd = os.open(place.parent, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)
