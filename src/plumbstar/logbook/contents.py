"""What a logbook or a copy of one holds, and which of the two holds what the other lacks."""

from __future__ import annotations

import contextlib
import sqlite3
import time
from dataclasses import dataclass
from pathlib import Path

from plumbstar.errors import UserError
from plumbstar.logbook import seals
from plumbstar.logbook.connecting import connect, good_copy, inspect
from plumbstar.logbook.trouble import LogbookTrouble, Trouble, told
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import many

#: Whose rows are the observer's entries, each with a number that is never given twice. An older
#: file does not have the last.
ENTRIES = ("outings", "sightings", "finds", "notes", "looks", "skies", "sketches")


@dataclass(frozen=True, slots=True)
class Contents:
    """What a logbook or a copy of one holds. ``given``: the last number given to each of
    :data:`ENTRIES`, which deleting does not lower; ``rows``: how many there are of each."""

    path: Path
    made_unix: float
    given: tuple[int, ...]
    rows: tuple[int, ...]
    version: int

    @property
    def entries(self) -> int:
        return sum(self.rows)

    def lacks(self, other: Contents) -> bool:
        """Whether ``other`` holds what this never did: it is of another or an earlier logbook."""
        return any(mine < its for mine, its in zip(self.given, other.given, strict=True))

    @property
    def words(self) -> str:
        """What and when, for a person."""
        made = time.strftime("%Y-%m-%d %H:%M", time.gmtime(self.made_unix))
        return (
            f"{self.path}, is of {made} UTC and holds {many(self.rows[0], 'outing')} with "
            f"{many(self.rows[1], 'sighting')}"
        )


def contents(path: Path, options: str = "mode=ro") -> Contents | None:
    """What it holds; None if it is damaged, not there, or no logbook."""
    try:
        with contextlib.closing(connect(path, options)) as db:
            inspect(db, path)
            given = dict(db.execute("SELECT name, seq FROM sqlite_sequence").fetchall())
            have = seals.there(db, ENTRIES)
            counted = {t: db.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in have}
            (version,) = db.execute("SELECT n FROM counter").fetchone()
        numbers = tuple(int(given.get(t, 0)) for t in ENTRIES)
        return Contents(
            path,
            path.stat().st_mtime,
            numbers,
            tuple(counted.get(t, 0) for t in ENTRIES),
            int(version),
        )
    except (sqlite3.Error, OSError, UserError, TypeError, ValueError):
        return None


def generations(path: Path) -> list[Path]:
    """The older copies, oldest first."""
    found = good_copy(path).parent.glob(f"{good_copy(path).name}-*")
    return sorted((p for p in found if not p.name.endswith(("-wal", "-shm"))), key=made_unix_of)


def newest(path: Path) -> Contents | None:
    """The last copy that is sound and holds something, or None."""
    for copy in (good_copy(path), *reversed(generations(path))):
        # A copy is one file: looked at so, no others come of it.
        held = contents(copy, "mode=ro&immutable=1")
        if held is not None and held.entries:
            return held
    return None


def spoilt(path: Path) -> Path | None:
    """The copy that cannot be read whole, where it is newer than any that can; None for none."""
    for copy in (good_copy(path), *reversed(generations(path))):
        held = contents(copy, "mode=ro&immutable=1")
        if held is not None and held.entries:
            return None
        if held is None and copy.exists() and copy.stat().st_size:
            return copy
    return None


def trouble_beside_copy(path: Path) -> LogbookTrouble | None:
    """What a start has to ask about: no logbook, an empty one or an emptier one beside a copy that
    holds something, or may hold it. None where there is nothing to ask; damage of the logbook is
    told by opening."""
    found = asked_about(path)
    return found[0] if found is not None else None


def asked_about(path: Path) -> tuple[LogbookTrouble, Contents | None] | None:
    """The same, and the copy that it is about; that one is None where it cannot be read whole."""
    copy = newest(path)
    if copy is None:
        bad = spoilt(path) if blank(path) else None
        return None if bad is None else (_copy_damaged(path, bad), None)
    kind = None
    if not path.exists():
        kind = Trouble.MISSING
    elif blank(path):
        kind = Trouble.EMPTIED
    elif (here := contents(path)) is not None and here.lacks(copy):
        kind = Trouble.EMPTIER
    return (less_than_copy(kind, path, copy), copy) if kind is not None else None


def nothing_there(path: Path) -> bool:
    """Whether there is no file, or one of 0 bytes."""
    return not path.exists() or not path.stat().st_size


def no_tables(db: sqlite3.Connection) -> bool:
    """Whether an open file is one where nothing was begun."""
    return bool(db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0)


def blank(path: Path) -> bool:
    """Whether there is nothing in it at all, or it is not there."""
    if nothing_there(path):
        return True
    try:
        with contextlib.closing(connect(path, "mode=ro")) as db:
            return no_tables(db)
    except (sqlite3.Error, UnicodeDecodeError):  # SQLite's message may quote what is no text
        return False


def less_than_copy(kind: Trouble, path: Path, copy: Contents) -> LogbookTrouble:
    remedy = Advice(Do.BRING_BACK_OR_GO_ON_WITHOUT, str(path), f"The copy, {copy.words}.")
    return told(kind, path, remedy=remedy)


def _copy_damaged(path: Path, copy: Path) -> LogbookTrouble:
    remedy = Advice(Do.SAVE_OR_GO_ON_WITHOUT, str(path), f"The copy is {copy}.")
    return told(Trouble.COPY_DAMAGED, path, remedy=remedy)


def made_unix_of(path: Path) -> float:
    """When the file was written; 0 if it is not there."""
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
