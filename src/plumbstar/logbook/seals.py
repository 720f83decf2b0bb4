"""A check on each row, so that one bent byte in it is noticed: SQLite itself keeps none.

Triggers in the file write it with every change, so no writer can forget it, and refuse to change a
row that does not match its own, which would make the damage look sound.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Iterable

#: What is checked in the tables that were there when the checks came, schema 4. A later migration
#: that adds a column makes the triggers anew.
_FIRST = {
    "counter": "id n",
    "outings": "id uid site kit_name kit_text started ended solar_filter state deleted clock_boot"
    " clock_zero shift_s end_shift_s",
    "sightings": "id outing_id number typed star utc az_count alt_count reading_az_deg"
    " reading_alt_deg true_az_deg true_alt_deg eyepiece origin active reason saved request deleted"
    " clock_boot clock_zero shift_s shift_az_deg shift_alt_deg",
    "finds": "id outing_id number target utc predicted_az_deg predicted_alt_deg found_az_deg"
    " found_alt_deg field_radius_deg eyepiece request deleted clock_boot clock_zero shift_s",
    "fixes": "id outing_id utc body",
    "notes": "id outing_id utc text deleted clock_boot clock_zero shift_s",
    "mends": "id kit_name utc terms text deleted",
    "settings": "key value",
    "skylines": "id site body",
    "changes": "id at outing_id what steps made undone kind about number",
}
#: Those that came later with their check: an older file does not have them.
_LATER = {
    "looks": "id outing_id target utc seen eyepiece words more request deleted clock_boot"
    " clock_zero shift_s",
    "skies": "id outing_id utc seeing transparency zenith_mag faintest_mag words request deleted"
    " clock_boot clock_zero shift_s",
    "sketches": "id outing_id target utc kind body request deleted clock_boot clock_zero shift_s",
}
#: What belongs to an outing, by its number.
WITHIN = ("sightings", "finds", "notes", *_LATER)
#: What is checked in each table.
COLUMNS = _FIRST | _LATER


def there(db: sqlite3.Connection, tables: Iterable[str]) -> list[str]:
    """Those of the tables that the file has."""
    have = {str(r[0]) for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    return [t for t in tables if t in have]


def row_check(*values: object) -> int:
    """CRC-32 of the values as Python writes them (None, whole number, float to the last bit, bytes
    for text, str for what is no text): damage goes unnoticed once in 2^32."""
    return zlib.crc32(repr(values).encode())


def register(db: sqlite3.Connection) -> None:
    """Teach a connection the check; whoever writes to a logbook needs it."""
    db.create_function("row_check", -1, row_check, deterministic=True)
    db.execute("PRAGMA trusted_schema = ON")  # some systems' SQLite keeps functions from triggers


def _check(table: str, of: str = "") -> str:
    """The check of a row as SQL. Text goes as bytes: damaged, it may be no text."""
    cells = (
        f"CASE typeof({of}{c}) WHEN 'text' THEN CAST({of}{c} AS BLOB)"
        f" WHEN 'blob' THEN hex({of}{c}) ELSE {of}{c} END"
        for c in COLUMNS[table].split()
    )
    return f"row_check({', '.join(cells)})"


def sound(table: str) -> str:
    """The condition, as SQL, that a row matches its check."""
    return f"seal IS {_check(table)}"


def statements() -> tuple[str, ...]:
    """What gives the first tables their check.

    Columns first, triggers last: each new column has SQLite read all triggers again.
    """
    added = (f"ALTER TABLE {t} ADD COLUMN seal INTEGER" for t in _FIRST)
    return (*added, *(_seal(t) for t in _FIRST), *triggers(_FIRST))


def _seal(table: str) -> str:
    return f"UPDATE {table} SET seal = {_check(table)}"


def triggers(tables: Iterable[str]) -> tuple[str, ...]:
    """What keeps the check of each row of these tables, and refuses to change a bent one."""
    made: list[str] = []
    for t in tables:
        columns = ", ".join(COLUMNS[t].split())
        new = f"BEGIN {_seal(t)} WHERE rowid = NEW.rowid; END"
        made += [
            f"CREATE TRIGGER {t}_new AFTER INSERT ON {t} {new}",
            f"CREATE TRIGGER {t}_bent BEFORE UPDATE OF {columns} ON {t}"
            f" WHEN OLD.seal IS NOT {_check(t, 'OLD.')}"
            " BEGIN SELECT RAISE(ABORT, 'a row does not match its check'); END",
            f"CREATE TRIGGER {t}_changed AFTER UPDATE OF {columns} ON {t} {new}",
        ]
    return tuple(made)


def bent(db: sqlite3.Connection) -> list[tuple[str, int]]:
    """The rows that do not match their check: table and rowid."""
    return [
        (t, int(row))
        for t in there(db, COLUMNS)
        for (row,) in db.execute(f"SELECT rowid FROM {t} WHERE seal IS NOT {_check(t)}")
    ]
