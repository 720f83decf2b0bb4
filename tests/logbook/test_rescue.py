"""A damaged logbook: the last good copy, what is said, and the way back."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar.commands import log
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, good_copy, keep_copy, recover
from plumbstar.mount.sighting import Sighting
from samples import tries

from .rig import CAPELLA, RIGEL, outing, run


def filled(path: Path, before: int = 40, after: int = 25) -> list[str]:
    """A logbook with a copy, written on since; the stars in order of their saving."""
    with Logbook.open(path) as b:
        n = outing(b)
        stars = [f"star {k}" for k in range(before + after)]
        for k, star in enumerate(stars):
            if k == before:
                b.add_note(n, "before the copy", b.now())
                keep_copy(b)
            b.add_sighting(n, Sighting(star, 10.0, 20.0, 30.0 + k, 40.0), "typed")
        b.set_setting("page", {"dress": "night"})
    return stars


def stars_in(path: Path) -> list[str]:
    with Logbook.open(path, create=False) as b:
        assert b.file.rows("PRAGMA integrity_check") == [("ok",)]
        assert b.file.rows("PRAGMA foreign_key_check") == []
        return [s.sighting.star for o in b.outings() for s in b.sightings(o.id)]


def test_the_copy_is_whole_one_file_and_made_only_when_something_changed(path: Path) -> None:
    with Logbook.open(path) as b:
        n = outing(b)
        b.add_sighting(n, CAPELLA, "typed")
        good = keep_copy(b)
        assert good == good_copy(path)
        assert stars_in(good) == ["Capella"]
        made = good.stat().st_mtime_ns
        assert keep_copy(b) == good
        assert good.stat().st_mtime_ns == made
        b.add_sighting(n, RIGEL, "typed")
        keep_copy(b)
        assert stars_in(good) == ["Capella", "Rigel"]
        assert not b.readonly
    with Logbook.open(path) as b:  # an unchanged one is known by its own counter
        made = good.stat().st_mtime_ns
        keep_copy(b)
        assert good.stat().st_mtime_ns == made
    assert sorted(p.name for p in path.parent.iterdir()) == [path.name, good.name]
    with Logbook.open(":memory:") as b:
        assert keep_copy(b) is None


def test_a_copy_made_while_others_write_is_one_moment_of_the_logbook(path: Path) -> None:
    with Logbook.open(path) as b:
        n = outing(b)
        stop = threading.Event()

        def write() -> None:
            with Logbook.open(path) as other:
                while not stop.is_set():
                    other.add_sighting(n, CAPELLA, "typed")

        thread = threading.Thread(target=write)
        thread.start()
        try:
            lengths = []
            for _ in range(tries(4, 10)):
                keep_copy(b)
                lengths.append(len(stars_in(good_copy(path))))
        finally:
            stop.set()
            thread.join()
        assert lengths == sorted(lengths)
        assert lengths[-1] > lengths[0]


def damage(path: Path, rng: np.random.Generator, kind: str) -> None:
    """Bytes of the file changed as a failing card does it: whole pages, single bytes, the end."""
    raw = bytearray(path.read_bytes())
    pages = len(raw) // 4096
    if kind == "pages":
        for p in rng.choice(np.arange(1, pages), max(1, pages // 6), replace=False):
            raw[p * 4096 : (p + 1) * 4096] = rng.bytes(4096)
    elif kind == "zeros":
        p = int(rng.integers(1, pages))
        raw[p * 4096 :] = bytes(len(raw) - p * 4096)
    elif kind == "cut":
        del raw[4096 * int(rng.integers(1, pages)) - 100 :]
    elif kind == "bytes":
        for i in rng.integers(100, len(raw), 300):
            raw[i] ^= int(rng.integers(1, 256))
    else:
        raw[:100] = rng.bytes(100)  # the header: nothing can be read
    path.write_bytes(raw)


def spoil_an_index(path: Path) -> None:
    """One page of the file, without a look at its journal. Every entry can still be read."""
    with Logbook.open(path.with_name("same.sqlite3")) as b:  # its pages are numbered alike
        ((root,),) = b.file.rows(
            "SELECT rootpage FROM sqlite_master WHERE name = 'notes_of_outing'"
        )
    with path.open("r+b") as f:
        f.seek((root - 1) * 4096)
        f.write(b"\xa5" * 4096)


def refused(path: Path) -> bool:
    try:
        Logbook.open(path).close()
    except UserError:
        return True
    return False


@pytest.mark.parametrize("kind", ["pages", "zeros", "cut", "bytes", "header"])
@pytest.mark.parametrize("seed", range(6))
def test_whatever_the_damage_all_that_the_copy_had_is_back(
    path: Path, kind: str, seed: int
) -> None:
    stars = filled(path)
    damage(path, np.random.default_rng(seed), kind)
    if not refused(path):
        pytest.skip("this damage touched only empty room")
    bad = path.read_bytes()
    done = recover(path, lambda: 1_800_000_000.0)
    there = stars_in(path)
    assert there[:40] == stars[:40]  # all that the copy had
    if kind != "bytes":  # a single bent byte inside an entry nobody can know
        assert set(there) <= set(stars)  # what was read besides is what had been written
    assert len(there) == len(set(there)) == done.sightings
    assert done.added.get("sightings", 0) == len(there) - 40
    assert done.damaged.read_bytes() == bad
    assert done.damaged.name == "logbook.sqlite3.damaged-20270115T080000"
    with Logbook.open(path) as b:  # and it goes on
        b.add_sighting(1, CAPELLA, "typed")
        assert keep_copy(b) == good_copy(path)


def test_what_was_saved_since_the_copy_is_read_from_the_damaged_file(path: Path) -> None:
    stars = filled(path)
    spoil_an_index(path)
    assert refused(path)
    done = recover(path)
    assert stars_in(path) == stars
    assert done.added == {"sightings": 25, "settings": 1}
    with Logbook.open(path) as b:
        assert b.get_setting("page") == {"dress": "night"}


def test_without_a_copy_what_can_be_read_begins_a_new_one(path: Path) -> None:
    stars = filled(path)
    good_copy(path).unlink()
    spoil_an_index(path)
    with pytest.raises(UserError) as e:
        Logbook.open(path)
    assert "no good copy" in e.value.remedy
    done = recover(path)
    assert done.copy is None
    assert stars_in(path) == stars


def test_the_newest_sightings_in_the_journal_are_read_too(path: Path) -> None:
    """Killed before the journal was folded in, and the file itself damaged."""
    filled(path)
    run(
        """
        import os, sys
        from plumbstar.logbook import Logbook
        from plumbstar.mount.sighting import Sighting
        b = Logbook.open(sys.argv[1])
        for k in range(20): b.add_sighting(1, Sighting(f"late {k}", 1, 2, 3, 4), "typed")
        os._exit(0)
        """,
        str(path),
    )
    assert Path(f"{path}-wal").stat().st_size > 0
    spoil_an_index(path)
    assert refused(path)
    done = recover(path)
    assert Path(f"{done.damaged}-wal").exists()
    assert [s for s in stars_in(path) if s.startswith("late")] == [f"late {k}" for k in range(20)]
    assert done.outings == 1


def test_a_damaged_logbook_never_becomes_the_copy(path: Path) -> None:
    stars = filled(path)
    good = good_copy(path).read_bytes()
    with Logbook.open(path) as b:
        b.add_sighting(1, CAPELLA, "typed")
        b.file.rows("PRAGMA wal_checkpoint(TRUNCATE)")
        with path.open("r+b") as f:  # under the open logbook
            f.seek(4096 * 3)
            f.write(b"\xa5" * 4096 * 4)
        with pytest.raises(UserError, match="damaged"):
            keep_copy(b)
    assert good_copy(path).read_bytes() == good
    assert stars_in(good_copy(path)) == stars[:40]
    assert not list(path.parent.glob("*.new*"))


def test_what_is_said_and_the_one_command(path: Path) -> None:
    filled(path)
    path.write_bytes(b"this is not a database\n" * 500)
    run = CliRunner().invoke
    told = run(log.command, ["--logbook", str(path)]).exception
    assert isinstance(told, UserError)
    assert "damaged" in told.came
    assert str(good_copy(path)) in told.remedy
    assert "holds 1 outing with 40 sightings." in told.remedy
    command = f"plumbstar log recover --logbook {path}"
    assert command in told.remedy
    done = run(log.command, command.split()[2:])
    assert done.exit_code == 0, done.exception
    assert "1 outing with 40 sightings" in done.output
    assert "damaged file is kept as" in done.output
    again = run(log.command, command.split()[2:])
    assert isinstance(again.exception, UserError)
    assert "whole" in again.exception.came
    with pytest.raises(UserError, match="no logbook"):
        recover(path.with_name("none.sqlite3"))


def test_another_programs_file_is_not_recovered_over(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE recipes (name)")
    db.close()
    before = path.read_bytes()
    with pytest.raises(UserError, match="another program"):
        recover(path)
    assert path.read_bytes() == before
