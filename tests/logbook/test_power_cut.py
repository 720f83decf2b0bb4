"""The power cut at every write: the disk is rebuilt as it was after each one, and opened.

Killing a process leaves what it wrote with the kernel; a power cut does not. So every write of a
logbook in use is written down in order (power_cut.c), and for each moment three disks are made:
one that took everything, one that took only what had been synced (fsync(2)), and one that took of
the rest some sectors and not others, in any order, as disks may. In all of them every entry that
had been said to be saved must be there, and the file must be whole.

Each moment is tried on one of the three disks here, on all of them in the long form (samples.py).

Not tried: a disk that says it has synced and has not, and a directory that forgets a new name.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import struct
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from plumbstar.logbook import Logbook, seals
from plumbstar.logbook.connecting import connect
from samples import LONG, tries

from .rig import SRC

HERE = Path(__file__).parent
SECTOR = 512

EVENING = """
import os, sys
from plumbstar import kit as kits
from plumbstar.logbook import Logbook
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.times import Instant

path = sys.argv[1]
mark = os.open(path + "-said", os.O_RDWR | os.O_CREAT)
said = 0

def say(what):
    # To where the writes go, so that it stands among them in its right place.
    global said
    said += os.pwrite(mark, (what + "\\n").encode(), said)

at = Instant.parse("2027-01-28T18:30:00Z")
book = Logbook.open(path)
n = book.start_outing(None, kits.example(), kits.example_text(), at).id
say("outing")
for k in range(7):
    book.add_sighting(n, Sighting(f"star {k}", 1.0, 2.0, 3.0 + k, 4.0), "typed", request=f"r{k}")
    say(f"star {k}")
    if k == 2:
        book.add_note(n, "a note", at)
        say("note")
    if k == 4:
        book.file.rows("PRAGMA wal_checkpoint(TRUNCATE)")  # what SQLite does by itself now and then
book.undo()
say("undone")
book.end_outing(n, at)
say("ended")
book.close()
"""

#: An older logbook, brought up to the newest schema when it is opened.
MIGRATION = """
import os
import sys
from pathlib import Path

from plumbstar.logbook import Logbook, schema
from plumbstar.logbook.connecting import connect
from plumbstar.logbook.opening import prepare

path = sys.argv[1]
db = connect(Path(path), "mode=rwc")
prepare(db)
schema.migrate(db, "t", schema.UNSEALED)
db.execute("BEGIN")
db.execute(
    "INSERT INTO outings (uid, kit_name, kit_text, started)"
    " VALUES ('u', 'k', '', '2027-01-28T18:00:00Z')"
)
for k in range(40):
    db.execute("INSERT INTO notes (outing_id, utc, text) VALUES (1, '2027-01-28T18:05:00Z', ?)",
               (f"dew {k}",))
db.execute("COMMIT")
db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
os.pwrite(os.open(path + "-said", os.O_RDWR | os.O_CREAT), b"before", 0)
book = Logbook.open(path)
book.add_note(1, "after", book.now())
book.close()
"""


class Op(NamedTuple):
    kind: str
    name: str
    at: int
    data: bytes


def ops_of(raw: bytes) -> list[Op]:
    out, i = [], 0
    while i < len(raw):
        kind, name, at, n = struct.unpack_from("4Q", raw, i)
        i += 32
        path = raw[i : i + name].decode()
        i += name
        out.append(Op(chr(kind), Path(path).name, at, raw[i : i + n]))
        i += n
    return out


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> list[Op]:
    """Every change of the files during a short evening."""
    return written(tmp_path_factory.mktemp("cut"), EVENING)


def written(place: Path, script: str) -> list[Op]:
    """Every change of the files while the script runs."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None or not sys.platform.startswith("linux"):
        pytest.skip("needs Linux and a C compiler, to write down what goes to the disk")
    shim, log, disk = place / "shim.so", place / "log", place / "disk"
    disk.mkdir()
    source = str(HERE / "power_cut.c")
    subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", str(shim), source], check=True)
    env = os.environ | {
        "LD_PRELOAD": str(shim),
        "POWER_CUT_DIR": str(disk),
        "POWER_CUT_LOG": str(log),
        "PYTHONPATH": str(SRC),
    }
    done = subprocess.run(
        [sys.executable, "-c", script, str(disk / "log")],
        env=env,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    if not log.exists():
        pytest.skip("this SQLite writes past the shim")
    return ops_of(log.read_bytes())


def apply(files: dict[str, bytearray], op: Op) -> None:
    if op.kind == "u":
        files.pop(op.name, None)
        return
    f = files.setdefault(op.name, bytearray())
    if op.kind == "t":
        del f[op.at :]
        f.extend(bytes(op.at - len(f)))
    elif op.kind == "w":
        f.extend(bytes(max(0, op.at + len(op.data) - len(f))))
        f[op.at : op.at + len(op.data)] = op.data


def disk_after(ops: list[Op], how: str, rng: np.random.Generator) -> dict[str, bytearray]:
    """The files as a power cut after the last of these may leave them."""
    synced = {name: i for i, (kind, name, _, _) in enumerate(ops) if kind == "s"}
    files: dict[str, bytearray] = {}
    late = []
    for i, op in enumerate(ops):
        # A name taken away is the directory's matter: here it goes at once.
        if how == "all" or op.kind == "u" or i <= synced.get(op.name, -1):
            apply(files, op)
        elif op.kind in "wt":
            late.append(op)
    if how == "some":
        for k in rng.permutation(len(late)):
            op = late[k]
            if op.kind == "t":
                if rng.random() < 0.5:
                    apply(files, op)
                continue
            for start in range(0, len(op.data), SECTOR):
                if rng.random() < 0.5:
                    piece = op.data[start : start + SECTOR]
                    apply(files, Op("w", op.name, op.at + start, piece))
    return files


HOW = ("all", "synced", "some")


def tried(cuts: range, how: str) -> range:
    """The moments that this disk is tried at: every third, and between the three of them all."""
    return cuts if LONG else cuts[HOW.index(how) :: len(HOW)]


@pytest.mark.parametrize("how", HOW)
def test_cut_after_every_write(evening: list[Op], how: str, tmp_path: Path) -> None:
    ops = [op for op in evening if not op.name.endswith("-said")]
    said_before: list[list[str]] = []  # for each of ops: what had been said when it was done
    said = b""
    for op in evening:
        if op.name.endswith("-said"):
            said += op.data
            if said_before:
                said_before[-1] = said.decode().split("\n")[:-1]
        else:
            said_before.append(said.decode().split("\n")[:-1])
    assert sum(op.kind == "w" for op in ops) > 100
    rng = np.random.default_rng(20270128)
    opened = 0
    cuts = tried(range(1, len(ops) + 1), how)
    for cut in cuts:
        place = tmp_path / str(cut)
        place.mkdir()
        for name, raw in disk_after(ops[:cut], how, rng).items():
            if not name.endswith("-shm"):  # rebuilt, never trusted after a cut
                (place / name).write_bytes(raw)
        with Logbook.open(place / "log") as b:
            opened += 1
            assert b.file.rows("PRAGMA integrity_check") == [("ok",)], (how, cut)
            there = {s.sighting.star for o in b.outings() for s in b.sightings(o.id, deleted=True)}
            told = said_before[cut - 1]
            missing = {w for w in told if w.startswith("star")} - there
            assert not missing, (how, cut, missing)
            if "outing" in told:
                assert len(b.outings()) == 1
            if "note" in told:
                assert [n.text for n in b.notes(1)] == ["a note"]
            if "undone" in told:
                assert len(b.sightings(1)) == 6
            if "ended" in told:
                assert b.outing(1).ended is not None
        shutil.rmtree(place)
    assert opened == len(cuts)


@pytest.fixture(scope="module")
def migration(tmp_path_factory: pytest.TempPathFactory) -> list[Op]:
    return written(tmp_path_factory.mktemp("older"), MIGRATION)


@pytest.mark.parametrize("how", HOW)
def test_cut_while_an_older_logbook_is_brought_up(
    migration: list[Op], how: str, tmp_path: Path
) -> None:
    begun = next(k for k, op in enumerate(migration) if op.name.endswith("-said"))
    ops = [op for op in migration if not op.name.endswith("-said")]
    cuts = tried(range(begun, len(ops) + 1), how)
    assert sum(op.kind == "w" for op in ops[begun:]) > 30
    rng = np.random.default_rng(20270128)
    unchanged = 0
    for cut in cuts:
        place = tmp_path / str(cut)
        place.mkdir()
        for name, raw in disk_after(ops[:cut], how, rng).items():
            if not name.endswith("-shm"):
                (place / name).write_bytes(raw)
        with contextlib.closing(connect(place / "log", "mode=ro")) as db:
            unchanged += db.execute("PRAGMA user_version").fetchone()[0] == 3
        with Logbook.open(place / "log") as b:
            assert b.file.rows("PRAGMA integrity_check") == [("ok",)], (how, cut)
            assert seals.bent(b.file.db) == []
            notes = [n.text for n in b.notes(1)]
            assert notes[:40] == [f"dew {k}" for k in range(40)], (how, cut)
            b.add_note(1, "goes on", b.now())
        shutil.rmtree(place)
    assert unchanged > tries(2, 5)  # some were cut before the change was whole
