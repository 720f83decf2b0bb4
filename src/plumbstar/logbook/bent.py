"""Mending a logbook that is sound but for single rows: theirs are taken from the copy, or given up.

All other rows stay as they are, the undo history and the latest changes among them.
"""

from __future__ import annotations

import contextlib
import sqlite3
import uuid
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from plumbstar.logbook import readable, schema, seals
from plumbstar.logbook.connecting import connect

_UNKNOWN = "This outing's own entry was damaged: where it was, and with which kit, is not known."


def mend_rows(
    db: sqlite3.Connection, rows: list[tuple[str, int]], copy: Path | None
) -> tuple[int, dict[str, int]]:
    """Take out the rows (table, rowid) that do not match their check, and put in what the copy has.

    Returns how many the copy gave, and how many of each table are lost. An outing that holds
    entries still is begun anew, without site and kit, so that those stay.
    """
    lost = Counter(table for table, _ in rows)
    replaced = 0
    db.execute("PRAGMA foreign_keys = OFF")
    db.execute("BEGIN IMMEDIATE")
    for table, row in rows:
        db.execute(f"DELETE FROM {table} WHERE rowid = ?", (row,))
    for table in list(lost):
        for values in _copied(copy, table):
            # All that the copy has and this no longer: a bent row may have had another number.
            names = seals.COLUMNS[table].split()
            there = f"SELECT 1 FROM {table} WHERE {names[0]} = ?"
            if db.execute(there, values[:1]).fetchone() is None:
                marks = ", ".join("?" * len(names))
                put = f"INSERT OR IGNORE INTO {table} ({', '.join(names)}) VALUES ({marks})"
                made = db.execute(put, values)
                if not made.rowcount:
                    continue
                if not readable.reads(db, table, made.lastrowid or 0):
                    db.execute(f"DELETE FROM {table} WHERE rowid = ?", (made.lastrowid,))
                    continue
                replaced += 1
                lost[table] -= 1
    _homeless(db)
    if db.execute("SELECT count(*) FROM counter").fetchone()[0] == 0:
        next_n = "SELECT 1, 1 + max(coalesce(max(made), 0), coalesce(max(undone), 0)) FROM changes"
        db.execute(f"INSERT INTO counter (id, n) {next_n}")
        lost["counter"] = 0
    db.execute("UPDATE counter SET n = n + 1")
    db.execute("COMMIT")
    return replaced, {t: n for t, n in lost.items() if n > 0}


def _copied(copy: Path | None, table: str) -> Iterator[tuple[Any, ...]]:
    """The copy's sound rows; where they carry no check yet, all."""
    if copy is None:
        return
    with (
        contextlib.suppress(sqlite3.Error),
        contextlib.closing(connect(copy, "mode=ro&immutable=1")) as db,
    ):
        version = db.execute("PRAGMA user_version").fetchone()[0]
        names = ", ".join(seals.COLUMNS[table].split())
        if version >= schema.SEALED:
            yield from db.execute(f"SELECT {names} FROM {table} WHERE {seals.sound(table)}")
        elif version >= schema.UNSEALED[-1].number:
            yield from db.execute(f"SELECT {names} FROM {table}")


def _homeless(db: sqlite3.Connection) -> None:
    """An outing for those entries whose own is lost."""
    within = seals.there(db, seals.WITHIN)
    of = " UNION ".join(f"SELECT outing_id AS o FROM {t}" for t in within)
    missing = f"SELECT o FROM ({of}) WHERE o NOT IN (SELECT id FROM outings)"
    for (key,) in db.execute(missing).fetchall():
        times = " UNION ALL ".join(f"SELECT utc FROM {t} WHERE outing_id = ?1" for t in within)
        first, last = db.execute(f"SELECT min(utc), max(utc) FROM ({times})", (key,)).fetchone()
        first = first or "2000-01-01T00:00:00.000000000Z"  # a list without times
        db.execute(
            "INSERT INTO outings (id, uid, kit_name, kit_text, started, ended)"
            " VALUES (?, ?, '', '', ?, ?)",
            (key, uuid.uuid4().hex, first, last or first),
        )
        note = "INSERT INTO notes (outing_id, utc, text) VALUES (?, ?, ?)"
        db.execute(note, (key, last or first, _UNKNOWN))
    db.execute("DELETE FROM fixes WHERE outing_id NOT IN (SELECT id FROM outings)")
