"""One bent byte inside an entry: found at the next opening, and the rest is kept."""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from plumbstar.errors import UserError
from plumbstar.logbook import (
    Logbook,
    LogbookTrouble,
    Trouble,
    good_copy,
    keep_copy,
    recover,
    schema,
    seals,
)
from plumbstar.logbook.connecting import connect
from plumbstar.logbook.file import LogbookFile
from samples import LONG, tries

from .rig import CAPELLA, DUSK, RIDGE, full, outing


def older(path: Path) -> Logbook:
    """A logbook as the version before the checks made it."""
    db = connect(path, "mode=rwc")
    schema.migrate(db, "t", schema.UNSEALED)
    db.execute("PRAGMA foreign_keys = ON")
    for statement in schema.MIGRATIONS[4].statements[:3]:  # in memory only, for today's export
        db.execute(statement.replace("CREATE TABLE", "CREATE TEMP TABLE").split("REFERENCES")[0]
                   + statement.split("ON DELETE CASCADE", 1)[1])  # fmt: skip
    return Logbook(LogbookFile(db, str(path), False, time.time))


def filled(path: Path, copy: bool, opened: Callable[[Path], Logbook] = Logbook.open) -> str:
    """Something in every table; what is exported of it."""
    with opened(path) as b:
        n = full(b)
        b.correct_times(n, b.shifts_by(n, 3600.0), lambda star, utc: (star, 100.0, 50.0))
        b.set_skyline(RIDGE, [(0.0, 10.0), (90.0, 20.0)])
        b.add_mend("Kit", ["cone"], "shimmed", DUSK)
        b.set_setting("page", {"dress": "night"})
        b.keep_site(RIDGE)
        second = outing(b, DUSK.plus_seconds(86400.0))
        for _ in range(3):
            b.add_sighting(second, CAPELLA, "typed")
        b.update_state(second, plan=["Capella", "Rigel"])
        if copy:
            keep_copy(b)
        return b.export_json()


def bend(path: Path, table: str, column: str, rng: random.Random) -> bool:
    """One bit of one value in the file itself, past every check of SQLite; False if none is set."""
    with closing(sqlite3.connect(path)) as db:
        if not seals.there(db, [table]):  # an older file
            return False
        rows = db.execute(f"SELECT rowid, {column} FROM {table} WHERE {column} IS NOT NULL")
        found = rows.fetchall()
        if not found:
            return False
        row, value = rng.choice(found)
        if isinstance(value, str):
            raw = bytearray(value.encode())
            if not raw:
                return False
            raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
            new = f"CAST(x'{raw.hex()}' AS TEXT)"
        elif isinstance(value, int):
            new = str(value ^ (1 << rng.randrange(5)))
        else:
            new = repr(value * (1.0 + rng.choice((2.0**-40, 0.5, -1e-3))) + 2.0**-30)
        db.execute("PRAGMA writable_schema = ON")
        kept = db.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,)
        ).fetchall()
        for name, _ in kept:
            db.execute(f"DROP TRIGGER {name}")
        try:
            db.execute("PRAGMA ignore_check_constraints = ON")
            db.execute(f"UPDATE {table} SET {column} = {new} WHERE rowid = ?", (row,))
        except sqlite3.IntegrityError:
            return False
        for _, sql in kept:
            db.execute(sql)
        db.commit()
    return True


CELLS = [(t, c) for t, names in seals.COLUMNS.items() for c in names.split()]


@pytest.mark.parametrize("copy", [True, False])
def test_a_bent_value_of_every_column_is_found_and_the_rest_kept(
    tmp_path: Path, copy: bool
) -> None:
    rng = random.Random(20270128)
    whole = tmp_path / "whole.sqlite3"
    text = filled(whole, copy)
    tried = 0
    # Every fourth column here with a copy, others without; all of them in the long form.
    some = CELLS if LONG else CELLS[2 * int(copy) :: 4]
    for k, (table, column) in enumerate(some):
        path = tmp_path / f"{k}.sqlite3"
        path.write_bytes(whole.read_bytes())
        if copy:
            good_copy(path).write_bytes(good_copy(whole).read_bytes())
        if not bend(path, table, column, rng):
            continue
        tried += 1
        with pytest.raises(LogbookTrouble) as e:
            Logbook.open(path)
        assert e.value.kind is Trouble.DAMAGED
        done = recover(path)
        with Logbook.open(path) as b:
            assert b.file.rows("PRAGMA foreign_key_check") == []
            after = b.export_json()
            if copy:
                assert after == text, (table, column)
                assert done.lost == {}
            else:
                n = sum(o.sighting_count for o in b.outings())
                assert n >= 5 - (table == "sightings"), (table, column)
                assert sum(done.lost.values()) <= 1
            b.history()
            b.undo()
    assert tried > 0.6 * len(some)


def test_a_row_bent_while_open_is_not_sealed_anew(path: Path) -> None:
    filled(path, False)
    with Logbook.open(path) as b:
        with closing(sqlite3.connect(path)) as db:  # not by the way of a connection that knows
            db.execute("DROP TRIGGER sightings_changed")
            sql = "SELECT sql FROM sqlite_master WHERE name = 'sightings_bent'"
            (trigger,) = db.execute(sql).fetchone()
            db.execute("DROP TRIGGER sightings_bent")
            db.execute("UPDATE sightings SET star = 'Capelle' WHERE id = 1")
            db.execute(trigger)
            db.commit()
        with pytest.raises(UserError, match=r"Nothing was saved.*damaged"):
            b.delete_sighting(1)


def test_the_trouble_that_began_it_no_traceback_and_no_wrong_value(path: Path) -> None:
    """Any single byte of the file: the logbook is refused, or it says what it always said."""
    text = filled(path, False)
    raw = path.read_bytes()
    rng = random.Random(7)
    refused = 0
    for _ in range(tries(75, 150)):
        spoilt = bytearray(raw)
        spoilt[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
        path.write_bytes(spoilt)
        try:
            with Logbook.open(path) as b:
                same = b.export_json()
        except UserError:
            refused += 1
            continue
        assert same == text
    assert refused > tries(5, 20)


# Older logbooks, whose rows carry no check


def test_an_older_logbook_is_brought_up_with_all_it_holds(path: Path) -> None:
    text = filled(path, False, older)
    with closing(sqlite3.connect(path)) as db:
        then = seals.there(db, seals.COLUMNS)
        assert set(seals.COLUMNS) - set(then) == {"looks", "skies", "sketches"}
        before = {
            t: db.execute(f"SELECT {', '.join(names.split())} FROM {t} ORDER BY 1").fetchall()
            for t, names in seals.COLUMNS.items()
            if t in then
        }
        assert all(before.values())
        assert db.execute("PRAGMA user_version").fetchone() == (3,)
    with Logbook.open(path) as b:
        assert b.export_json() == text
        for t, names in seals.COLUMNS.items():
            columns = ", ".join(names.split())
            assert b.file.rows(f"SELECT {columns} FROM {t} ORDER BY 1") == before.get(t, [])
        assert seals.bent(b.file.db) == []
        assert len(b.history()) == len(before["changes"])
        b.undo()
    with Logbook.open(path) as b:
        assert seals.bent(b.file.db) == []


#: Whatever holds JSON or a time.
TEXTS = [
    *(("outings", c) for c in ("site", "started", "ended", "state", "deleted")),
    *(("sightings", c) for c in ("utc", "saved", "deleted")),
    *(("finds", "utc"), ("fixes", "body"), ("fixes", "utc"), ("notes", "utc"), ("mends", "terms")),
    *(("settings", "value"), ("skylines", "body"), ("changes", "steps"), ("changes", "kind")),
]


@pytest.mark.parametrize("copy", [True, False])
def test_an_older_one_with_an_entry_that_cannot_be_read(tmp_path: Path, copy: bool) -> None:
    rng = random.Random(5)
    whole = tmp_path / "whole.sqlite3"
    text = filled(whole, copy, older)
    refused = 0
    for k, (table, column) in enumerate(TEXTS):
        path = tmp_path / f"{k}.sqlite3"
        path.write_bytes(whole.read_bytes())
        if copy:
            good_copy(path).write_bytes(good_copy(whole).read_bytes())
        bend(path, table, column, rng)
        try:
            Logbook.open(path).close()
            continue  # another time, or JSON still
        except LogbookTrouble as e:
            kind = e.kind
        assert kind is Trouble.DAMAGED
        refused += 1
        done = recover(path)
        assert done.only_rows
        with Logbook.open(path) as b:
            after = b.export_json()
            assert seals.bent(b.file.db) == []
            b.history()
        assert done.lost == {} if copy else sum(done.lost.values()) == 1
        if copy:
            assert after == text, (table, column)
    assert refused > 6
