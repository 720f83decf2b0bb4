"""The file: refused where it must be, whole after any fault, shared by threads and processes."""

from __future__ import annotations

import os
import sqlite3
import sys
import tempfile
import threading
from pathlib import Path

import pytest

from plumbstar.errors import UserError
from plumbstar.logbook import ENVIRONMENT, Logbook, NotSaved, default_path, schema

from .rig import CAPELLA, RIGEL, SIGHT, outing, run, start


def test_the_usual_place_and_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    assert default_path({ENVIRONMENT: "/somewhere/l.sqlite3"}) == Path("/somewhere/l.sqlite3")
    usual = default_path({})
    assert usual.name == "logbook.sqlite3"
    assert "plumbstar" in str(usual)


def test_the_file_syncs_every_commit(book: Logbook) -> None:
    # 2 is FULL: in WAL mode the log is synced at each commit (sqlite.org/pragma.html).
    assert book.file.rows("PRAGMA synchronous") == [(2,)]
    assert book.file.rows("PRAGMA journal_mode") == [("wal",)]
    assert book.file.rows("PRAGMA foreign_keys") == [(1,)]


def damaged(kind: str, good: bytes) -> bytes:
    if kind == "text":
        return b"this is not a database\n" * 500
    if kind == "cut short":
        return good[: len(good) // 2]
    if kind == "header only":
        return good[:60]
    hole = bytearray(good)
    hole[4096 * 4 : 4096 * 5] = b"\xa5" * 4096
    return bytes(hole)


@pytest.mark.parametrize("kind", ["text", "cut short", "header only", "hole"])
def test_a_damaged_file_is_refused_and_left_alone(path: Path, kind: str) -> None:
    with Logbook.open(path) as b:
        n = outing(b)
        for _ in range(200):
            b.add_sighting(n, CAPELLA, "typed")
    bad = damaged(kind, path.read_bytes())
    path.write_bytes(bad)
    with pytest.raises(UserError, match="damaged or is no logbook") as e:
        Logbook.open(path)
    assert "no good copy" in e.value.remedy
    assert f"`plumbstar log recover --logbook {path}`" in e.value.remedy
    assert path.read_bytes() == bad


def test_a_newer_schema_is_refused_and_left_alone(path: Path) -> None:
    Logbook.open(path).close()
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version = {schema.newest() + 1}")
    db.close()
    before = path.read_bytes()
    with pytest.raises(UserError, match="newer Plumbstar"):
        Logbook.open(path)
    assert path.read_bytes() == before


def test_another_programs_file_is_refused_and_left_alone(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE recipes (name)")
    db.close()
    before = path.read_bytes()
    with pytest.raises(UserError, match="another program"):
        Logbook.open(path)
    assert path.read_bytes() == before


def test_paths_that_cannot_be(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="directory"):
        Logbook.open(tmp_path)
    with pytest.raises(UserError, match="no logbook at"):
        Logbook.open(tmp_path / "none.sqlite3", create=False)
    (tmp_path / "file").write_text("x")
    with pytest.raises(UserError):
        Logbook.open(tmp_path / "file" / "below.sqlite3")
    deep = tmp_path / "a" / "b" / "my log?#%20.sqlite3"  # a name that an URI would misread
    Logbook.open(deep).close()
    assert [p.name for p in deep.parent.iterdir()] == [deep.name]


def test_a_file_moved_away_while_open_saves_nothing_unnoticed(book: Logbook, path: Path) -> None:
    n = outing(book)
    path.rename(path.with_name("elsewhere.sqlite3"))
    with pytest.raises(NotSaved, match="moved, replaced or deleted"):
        book.add_sighting(n, CAPELLA, "typed")
    path.with_name("elsewhere.sqlite3").rename(path)
    book.add_sighting(n, CAPELLA, "typed")


def test_a_full_disk_saves_nothing_and_the_logbook_goes_on(book: Logbook) -> None:
    # SQLite's own page limit gives the error that a full disk gives (SQLITE_FULL).
    n = outing(book)
    book.file.rows(f"PRAGMA max_page_count = {book.file.rows('PRAGMA page_count')[0][0]}")
    saved = 0

    def fill() -> None:
        nonlocal saved
        for _ in range(2000):
            book.add_sighting(n, CAPELLA, "typed")
            saved += 1

    with pytest.raises(NotSaved, match=r"Nothing was saved.*full"):
        fill()
    assert len(book.sightings(n)) == saved
    book.file.rows("PRAGMA max_page_count = 1000000")
    book.add_sighting(n, CAPELLA, "typed")
    assert len(book.sightings(n)) == saved + 1
    assert book.file.rows("PRAGMA integrity_check") == [("ok",)]


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a POSIX system")
def test_a_disk_that_refuses_to_write_saves_nothing(path: Path) -> None:
    # A real refusal by the system: the largest file the process may write is limited.
    with Logbook.open(path) as b:
        outing(b)
    told = run(
        SIGHT
        + """
    import resource
    b = Logbook.open(sys.argv[1])
    resource.setrlimit(resource.RLIMIT_FSIZE, (120_000, resource.RLIM_INFINITY))
    n = 0
    try:
        for _ in range(5000):
            sight(b); n += 1
    except NotSaved as e:
        print(n, e)
    """,
        str(path),
    )
    count, _, words = told.partition(" ")
    assert words.startswith("Nothing was saved.")
    with Logbook.open(path) as b:
        assert len(b.sightings(1)) == int(count) > 0
        assert b.file.rows("PRAGMA integrity_check") == [("ok",)]


@pytest.mark.skipif(sys.platform == "win32", reason="rights of a POSIX system")
def test_a_read_only_place_can_be_read_and_refuses_to_save() -> None:
    # As root a read-only mode means nothing, so the reader drops to nobody.
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        file = place / "log.sqlite3"
        with Logbook.open(file) as b:
            n = outing(b)
            b.add_sighting(n, CAPELLA, "typed")
        before = file.read_bytes()
        file.chmod(0o444)
        place.chmod(0o555)
        try:
            told = run(
                SIGHT
                + """
    import os
    if os.getuid() == 0:
        os.setgroups([]); os.setgid(65534); os.setuid(65534)
    b = Logbook.open(sys.argv[1])
    print(len(b.sightings(1)), b.outings()[0].site.name)
    try:
        sight(b)
    except NotSaved as e:
        print(e)
    try:
        Logbook.open(sys.argv[1] + "-new")
    except UserError as e:
        print(e)
    """,
                str(file),
            )
        finally:
            place.chmod(0o755)
        lines = told.splitlines()
        assert lines[0] == "1 Thornback Ridge"
        assert lines[1].startswith("Nothing was saved.")
        assert "--logbook" in lines[2]
        assert file.read_bytes() == before
        assert [p.name for p in place.iterdir()] == ["log.sqlite3"]


# Migrations


def test_a_migration_is_committed_with_its_record_or_not_at_all() -> None:
    db = sqlite3.connect(":memory:", isolation_level=None)
    first = schema.MIGRATIONS[0]
    good = schema.Migration(2, "colour", ("ALTER TABLE notes ADD COLUMN mood TEXT",))
    bad = schema.Migration(3, "slip", ("CREATE TABLE extra (x)", "CREATE TABLE notes (again)"))
    assert schema.migrate(db, "t1", (first,)) == 1
    assert schema.migrate(db, "t2", (first,)) == 0
    with pytest.raises(sqlite3.OperationalError):
        schema.migrate(db, "t3", (first, good, bad))
    ran = db.execute("SELECT number, name, ran FROM migrations").fetchall()
    assert ran == [(1, "first tables", "t1"), (2, "colour", "t3")]
    assert db.execute("PRAGMA user_version").fetchone() == (2,)
    assert not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'extra'").fetchall()
    assert [m.number for m in schema.MIGRATIONS] == list(range(1, schema.newest() + 1))


# Several at once


def test_two_open_logbooks_see_each_other_and_the_version_rises(path: Path) -> None:
    with Logbook.open(path) as one, Logbook.open(path) as two:
        versions = [two.version()]
        n = outing(one)
        versions.append(two.version())
        key = two.add_sighting(n, CAPELLA, "typed")
        versions.append(one.version())
        one.set_aside(key, "clouds")
        versions.append(two.version())
        assert two.sightings(n)[0].reason == "clouds"
        one.undo()
        versions.append(two.version())
        assert versions == sorted(set(versions))
        assert one.version() == two.version() == versions[-1]


def test_elsewhere_moves_with_the_changes_of_others_only(path: Path) -> None:
    with Logbook.open(path) as mine, Logbook.open(path) as other:
        before = mine.elsewhere()
        for _ in range(3):
            mine.set_setting("a", "1")
        assert mine.elsewhere() == before
        other.set_setting("a", "2")
        assert mine.elsewhere() != before
        now = mine.elsewhere()
        mine.set_setting("a", "3")
        assert mine.elsewhere() == now


def test_threads_and_processes_write_at_once(path: Path) -> None:
    with Logbook.open(path) as book:
        n = outing(book)
        sixty = (
            SIGHT
            + """
    b = Logbook.open(sys.argv[1])
    for _ in range(60): sight(b)
"""
        )
        others = [start(sixty, str(path)) for _ in range(2)]
        threads = [
            threading.Thread(
                target=lambda: [book.add_sighting(n, RIGEL, "encoders") for _ in range(40)]
            )
            for _ in range(3)
        ]
        for t in threads:
            t.start()
        for t in threads:
            t.join()
        assert [p.wait(60) for p in others] == [0, 0]
        numbers = [s.number for s in book.sightings(n)]
        assert numbers == list(range(1, 2 * 60 + 3 * 40 + 1))


def test_processes_that_create_the_file_at_once(path: Path) -> None:
    code = SIGHT + "\n    Logbook.open(sys.argv[1]).set_setting(sys.argv[2], 1)"
    started = [start(code, str(path), f"k{i}") for i in range(4)]
    assert [p.wait(60) for p in started] == [0] * 4
    with Logbook.open(path) as b:
        assert [b.get_setting(f"k{i}") for i in range(4)] == [1] * 4
        assert b.file.rows("SELECT count(*) FROM migrations") == [(schema.newest(),)]


CRASHER = """
    # Forks writers that are killed at random moments; what a writer said was saved must be there.
    import os, random, select, signal, sys, time
    from plumbstar.logbook import Logbook
    from plumbstar.mount.sighting import Sighting

    path, rounds = sys.argv[1], int(sys.argv[2])
    random.seed(20270128)
    said, kills = {}, 0

    def writer(tag, out):
        b = Logbook.open(path)
        k = 0
        while True:
            star = f"{tag}-{k}"
            key = b.add_sighting(1, Sighting(star, 1.0, 2.0, 3.0 + k, 4.0), "typed")
            os.write(out, f"saved {key} {star}\\n".encode())
            k += 1

    for r in range(rounds):
        children = []
        for w in range(2):  # two at once: they also wait for each other's locks
            read, write = os.pipe()
            pid = os.fork()
            if pid == 0:
                os.close(read)
                try:
                    writer(f"{r}-{w}", write)
                finally:
                    os._exit(3)
            os.close(write)
            children.append((pid, read))
        if r % 2:  # in every second round they are writing for sure, however busy the computer is
            select.select([read for _, read in children], [], [], 20.0)
        time.sleep(0.004 + random.random() * 0.05)
        for pid, _ in children:
            os.kill(pid, signal.SIGKILL)
            _, status = os.waitpid(pid, 0)
            assert os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL, status
            kills += 1
        for _, read in children:
            with os.fdopen(read) as f:
                for line in f.read().split("\\n")[:-1]:
                    _, key, star = line.split()
                    said[int(key)] = star
        if r % 5 == 0 or r == rounds - 1:
            with Logbook.open(path) as b:
                there = {s.id: s.sighting.star for s in b.sightings(1)}
                assert b.file.rows("PRAGMA integrity_check") == [("ok",)]
                assert b.file.rows("PRAGMA foreign_key_check") == []
            missing = {k: v for k, v in said.items() if there.get(k) != v}
            assert not missing, missing
    print(kills, len(said), len(there))
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_what_was_said_to_be_saved_survives_kill_9(path: Path) -> None:
    with Logbook.open(path) as b:
        outing(b)
    kills, said, there = map(int, run(CRASHER, str(path), "60").split())
    assert kills == 120
    assert said > 120  # the writers did get to write
    assert said <= there <= said + kills  # at most one each was saved but not yet said
