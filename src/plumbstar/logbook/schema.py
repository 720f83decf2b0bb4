"""The tables, as numbered migrations. Each is committed together with the record that it ran.

A migration once published is never edited: a later one changes what it made.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from typing import NamedTuple

from plumbstar.logbook import seals

# Bytes 68-71 of the file: says that this SQLite file is a Plumbstar logbook ("PLMB").
APPLICATION_ID = 0x504C4D42


#: From this schema on each row carries a check (seals.py).
SEALED = 4


class Migration(NamedTuple):
    """One step of the file's history."""

    number: int
    name: str
    statements: tuple[str, ...]


_FIRST = (
    "CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL, ran TEXT NOT NULL)",
    # One row, raised by every change: what pages and other processes poll.
    "CREATE TABLE counter (id INTEGER PRIMARY KEY CHECK (id = 1), n INTEGER NOT NULL)",
    "INSERT INTO counter VALUES (1, 0)",
    """CREATE TABLE outings (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        uid TEXT NOT NULL UNIQUE,
        site TEXT,
        kit_name TEXT NOT NULL,
        kit_text TEXT NOT NULL,
        started TEXT NOT NULL,
        ended TEXT,
        solar_filter INTEGER NOT NULL DEFAULT 0 CHECK (solar_filter IN (0, 1)),
        state TEXT NOT NULL DEFAULT '{}',
        deleted TEXT)""",
    # request: the page's own name for a button press, so that a press sent twice is kept once.
    """CREATE TABLE sightings (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        outing_id INTEGER NOT NULL REFERENCES outings (id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        typed TEXT NOT NULL,
        star TEXT NOT NULL,
        utc TEXT,
        az_count INTEGER,
        alt_count INTEGER,
        reading_az_deg REAL NOT NULL,
        reading_alt_deg REAL NOT NULL,
        true_az_deg REAL NOT NULL,
        true_alt_deg REAL NOT NULL,
        eyepiece TEXT NOT NULL,
        origin TEXT NOT NULL CHECK (origin IN ('encoders', 'typed', 'imported')),
        active INTEGER NOT NULL DEFAULT 1 CHECK (active IN (0, 1)),
        reason TEXT NOT NULL DEFAULT '',
        saved TEXT NOT NULL,
        request TEXT UNIQUE,
        deleted TEXT,
        UNIQUE (outing_id, number))""",
    """CREATE TABLE finds (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        outing_id INTEGER NOT NULL REFERENCES outings (id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        target TEXT NOT NULL,
        utc TEXT NOT NULL,
        predicted_az_deg REAL NOT NULL,
        predicted_alt_deg REAL NOT NULL,
        found_az_deg REAL,
        found_alt_deg REAL,
        field_radius_deg REAL NOT NULL,
        eyepiece TEXT NOT NULL,
        request TEXT UNIQUE,
        deleted TEXT,
        UNIQUE (outing_id, number),
        CHECK ((found_az_deg IS NULL) = (found_alt_deg IS NULL)))""",
    """CREATE TABLE fixes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        outing_id INTEGER NOT NULL REFERENCES outings (id) ON DELETE CASCADE,
        utc TEXT NOT NULL,
        body TEXT NOT NULL)""",
    """CREATE TABLE notes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        outing_id INTEGER NOT NULL REFERENCES outings (id) ON DELETE CASCADE,
        utc TEXT NOT NULL,
        text TEXT NOT NULL,
        deleted TEXT)""",
    """CREATE TABLE mends (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        kit_name TEXT NOT NULL,
        utc TEXT NOT NULL,
        terms TEXT NOT NULL,
        text TEXT NOT NULL,
        deleted TEXT)""",
    "CREATE TABLE settings (key TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE skylines (id INTEGER PRIMARY KEY, site TEXT NOT NULL UNIQUE, body TEXT)",
    # The undo history. steps: [[table, row, column, before, after], ...]; made and undone are
    # values of the counter, which order events where clocks may not.
    """CREATE TABLE changes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        outing_id INTEGER,
        what TEXT NOT NULL,
        steps TEXT NOT NULL,
        made INTEGER NOT NULL,
        undone INTEGER)""",
    "CREATE INDEX fixes_of_outing ON fixes (outing_id)",
    "CREATE INDEX notes_of_outing ON notes (outing_id)",
    f"PRAGMA application_id = {APPLICATION_ID}",
)

# clock_boot and clock_zero: which clock an entry was timed by (records.Clock). shift_s: seconds by
# which its time was found to be wrong afterwards; the time as saved stays in its own column.
_CLOCKS = (
    *(
        f"ALTER TABLE {table} ADD COLUMN {column}"
        for table in ("outings", "sightings", "finds", "notes")
        for column in ("clock_boot TEXT", "clock_zero REAL", "shift_s REAL")
    ),
    "ALTER TABLE outings ADD COLUMN end_shift_s REAL",
    "ALTER TABLE sightings ADD COLUMN shift_az_deg REAL",
    "ALTER TABLE sightings ADD COLUMN shift_alt_deg REAL",
)

# What a change was, as facts. Older programs kept words alone; the kinds that matter to undo are
# read from these here, once.
_KINDS = (
    "ALTER TABLE changes ADD COLUMN kind TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE changes ADD COLUMN about TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE changes ADD COLUMN number INTEGER",
    "UPDATE changes SET kind = 'outing ended' WHERE what LIKE 'end of outing %'",
    *(
        f"UPDATE changes SET kind = '{kind}', about = substr(what, {len(words) + 1})"
        f" WHERE what LIKE '{words}%'"
        for words, kind in (
            ("a sighting of ", "sighted"),
            ("the find of ", "found"),
            ("the search for ", "not found"),
        )
    ),
)

# What was seen: one look at one object; the sky, once an evening; sketches. ``more``: what an
# exchanged log said beside that, as JSON. Each row holds its object's name and its outing, so that
# none hangs on another that may be lost.
_SEEN = (
    """CREATE TABLE looks (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        outing_id INTEGER NOT NULL REFERENCES outings (id) ON DELETE CASCADE,
        target TEXT NOT NULL,
        utc TEXT NOT NULL,
        seen TEXT NOT NULL CHECK (seen IN ('clearly', 'faintly', 'barely', 'seen', 'not')),
        eyepiece TEXT NOT NULL,
        words TEXT NOT NULL,
        more TEXT NOT NULL DEFAULT '{}',
        request TEXT UNIQUE,
        deleted TEXT,
        clock_boot TEXT,
        clock_zero REAL,
        shift_s REAL,
        seal INTEGER)""",
    """CREATE TABLE skies (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        outing_id INTEGER NOT NULL REFERENCES outings (id) ON DELETE CASCADE,
        utc TEXT NOT NULL,
        seeing INTEGER CHECK (seeing BETWEEN 1 AND 5),
        transparency INTEGER CHECK (transparency BETWEEN 1 AND 5),
        zenith_mag REAL,
        faintest_mag REAL,
        words TEXT NOT NULL DEFAULT '',
        request TEXT UNIQUE,
        deleted TEXT,
        clock_boot TEXT,
        clock_zero REAL,
        shift_s REAL,
        seal INTEGER)""",
    """CREATE TABLE sketches (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        outing_id INTEGER NOT NULL REFERENCES outings (id) ON DELETE CASCADE,
        target TEXT NOT NULL,
        utc TEXT NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ('strokes', 'png', 'jpeg')),
        body TEXT NOT NULL,
        request TEXT UNIQUE,
        deleted TEXT,
        clock_boot TEXT,
        clock_zero REAL,
        shift_s REAL,
        seal INTEGER)""",
    "CREATE INDEX looks_of_outing ON looks (outing_id)",
    "CREATE INDEX skies_of_outing ON skies (outing_id)",
    "CREATE INDEX sketches_of_outing ON sketches (outing_id)",
    *seals.triggers(("looks", "skies", "sketches")),
)

MIGRATIONS: tuple[Migration, ...] = (
    Migration(1, "first tables", _FIRST),
    Migration(2, "clocks and corrected times", _CLOCKS),
    Migration(3, "kinds of change", _KINDS),
    Migration(SEALED, "a check on each row", seals.statements()),
    Migration(5, "what was seen", _SEEN),
)

#: Those before the rows carried a check.
UNSEALED = tuple(m for m in MIGRATIONS if m.number < SEALED)


def newest(migrations: Sequence[Migration] = MIGRATIONS) -> int:
    """The schema number this program writes."""
    return migrations[-1].number


def nothing(step: Migration, db: sqlite3.Connection) -> None:
    """No look at it."""


def migrate(
    db: sqlite3.Connection,
    now: str,
    migrations: Sequence[Migration] = MIGRATIONS,
    before: Callable[[Migration, sqlite3.Connection], None] = nothing,
) -> int:
    """Run what has not run yet, each in its own transaction; returns how many ran.

    ``db`` is in autocommit mode. Two processes may call this at once: each looks again at what
    has run after it holds the write lock. A failure leaves the schema at the last whole step; so
    does whatever ``before`` raises, which looks at the file just before each step.
    """
    done = 0
    for step in migrations:
        if db.execute("PRAGMA user_version").fetchone()[0] >= step.number:
            continue
        db.execute("BEGIN IMMEDIATE")
        try:
            if db.execute("PRAGMA user_version").fetchone()[0] < step.number:
                before(step, db)
                for statement in step.statements:
                    db.execute(statement)
                db.execute("INSERT INTO migrations VALUES (?, ?, ?)", (step.number, step.name, now))
                db.execute(f"PRAGMA user_version = {step.number:d}")
                done += 1
            db.execute("COMMIT")
        except BaseException:
            db.execute("ROLLBACK")
            raise
    return done
