"""Whether each stored row can be read back: of a file whose rows carry no check yet (seals.py)."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any

import msgspec

from plumbstar.logbook import schema, seals
from plumbstar.logbook.connecting import corrupt
from plumbstar.logbook.file import UNDOABLE, Row, Step
from plumbstar.logbook.finds import FINDS, find_from
from plumbstar.logbook.history import CHANGES, change_from
from plumbstar.logbook.kept import SITES
from plumbstar.logbook.looks import LOOKS, SKETCHES, SKIES, look_from, sketch_from, sky_from
from plumbstar.logbook.outings import OUTINGS, outing_from
from plumbstar.logbook.records import Changed, when
from plumbstar.logbook.sightings import SIGHTINGS, sighting_from
from plumbstar.sky.site import Site

_TYPES: dict[str, tuple[type, ...]] = {"INTEGER": (int,), "REAL": (float, int), "TEXT": (str,)}


def _fix(r: Row) -> None:
    when(r[0])
    msgspec.json.decode(r[1], type=dict[str, object])


def _mend(r: Row) -> None:
    when(r[0])
    Changed.read(r[1])


def _setting(r: Row) -> None:
    value = msgspec.json.decode(r[1])
    if r[0] == SITES:
        msgspec.convert(value, list[Site])


def _change(r: Row) -> None:
    change_from(r, False)
    for table, _, column, *_rest in msgspec.json.decode(r[8], type=list[Step]):
        if column not in UNDOABLE[table]:
            raise ValueError(column)


#: For each table: what to ask of a row, and what reads the answer as this program always does.
_READERS: tuple[tuple[str, str, Callable[[Row], object]], ...] = (
    ("outings", OUTINGS, outing_from),
    ("outings", "SELECT state FROM outings", lambda r: dict(msgspec.json.decode(r[0]))),
    ("sightings", SIGHTINGS, sighting_from),
    ("finds", FINDS, find_from),
    ("fixes", "SELECT utc, body FROM fixes", _fix),
    ("notes", "SELECT utc, deleted FROM notes", lambda r: (when(r[0]), when(r[1]))),
    ("mends", "SELECT utc, terms FROM mends", _mend),
    ("settings", "SELECT key, value FROM settings", _setting),
    (
        "skylines",
        "SELECT body FROM skylines WHERE body IS NOT NULL",
        lambda r: msgspec.json.decode(r[0], type=list[tuple[float, float]]),
    ),
    ("changes", CHANGES, _change),
    ("looks", LOOKS, look_from),
    ("skies", SKIES, sky_from),
    ("sketches", SKETCHES, sketch_from),
)


def sound(row: tuple[Any, ...], kinds: list[str]) -> bool:
    """Whether each value is of its column's kind, as this program always writes it; SQLite itself
    would take any."""
    return all(v is None or isinstance(v, _TYPES[k]) for v, k in zip(row, kinds, strict=True))


def reads(db: sqlite3.Connection, table: str, row: int) -> bool:
    """Whether the row of that rowid can be read back: times are times, JSON is JSON."""
    kinds = [str(r[2]) for r in db.execute(f"PRAGMA table_info({table})")]
    try:
        whole = db.execute(f"SELECT * FROM {table} WHERE rowid = ?", (row,)).fetchone()
        if not sound(whole, kinds):
            return False
        for of, ask, read in _READERS:
            if of == table:
                more = "AND" if "WHERE" in ask.rsplit("FROM", 1)[1] else "WHERE"
                for answer in db.execute(f"{ask} {more} rowid = ?", (row,)):
                    read(answer)
    except Exception:  # whatever it is that a bent value leads to
        return False
    return True


def unreadable(db: sqlite3.Connection) -> list[tuple[str, int]]:
    """The rows (table, rowid) that cannot; of a file of the schema before the checks, or later."""
    return [
        (table, row)
        for table in seals.there(db, dict.fromkeys(t for t, _, _ in _READERS))
        for (row,) in db.execute(f"SELECT rowid FROM {table}").fetchall()
        if not reads(db, table, row)
    ]


def before(step: schema.Migration, db: sqlite3.Connection) -> None:
    """Before the rows get their check: none that cannot be read is given one. Raises
    sqlite3.DatabaseError as for any damaged file."""
    if step.number != schema.SEALED:
        return
    rows = unreadable(db)
    if rows:
        where = ", ".join(dict.fromkeys(table for table, _ in rows))
        raise corrupt(f"entries that cannot be read: {len(rows)}, in {where}")
