"""``plumbstar check installation``: each thing broken in turn, and named."""

from __future__ import annotations

import json
import os
import shutil
import socket
import sqlite3
import time
from collections import namedtuple
from pathlib import Path

import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.commands import installation
from plumbstar.commands.check import command
from plumbstar.commands.installation import InPlace
from plumbstar.logbook import Logbook
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.times import Instant
from ports import free_port


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "logbook.sqlite3"
    with Logbook.open(path) as b:
        b.start_outing(None, kits.example(), "", Instant.parse("2026-11-20T18:00:00Z"))
    return path


@pytest.fixture(autouse=True)
def own_objects(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "objects.csv"
    monkeypatch.setenv("PLUMBSTAR_OBJECTS", str(path))
    return path


def look(book: Path, port: int, kit: str | None = None) -> dict[str, list[InPlace]]:
    out: dict[str, list[InPlace]] = {}
    for f in installation.look(kit, book, port, "127.0.0.1"):
        out.setdefault(f.about, []).append(f)
    return out


def worst(found: list[InPlace]) -> InPlace:
    order = ("good", "unsure", "mend")
    return max(found, key=lambda f: order.index(f.state))


def test_all_is_well(tmp_path: Path, book: Path, port: int) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(kits.example_text())
    found = look(book, port, str(kit))
    for about in ("program", "kit", "encoders", "clock", "disk", "logbook", "pages"):
        assert worst(found[about]).state == "good", found[about]
    assert found["logbook"][0].sentence.endswith("sound, 1 outing")
    assert found["kit"][0].sentence == "Ridge box: 280 mm, 3 eyepieces"


def test_no_logbook_yet_is_no_fault(tmp_path: Path, port: int) -> None:
    (f,) = look(tmp_path / "new" / "book.sqlite3", port)["logbook"]
    assert f.state == "good"
    assert "will be made" in f.sentence
    assert not (tmp_path / "new").exists()


def test_a_damaged_logbook(book: Path, port: int) -> None:
    with sqlite3.connect(book) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = bytearray(book.read_bytes())
    data[4096:12288] = os.urandom(8192)
    book.write_bytes(data)
    f = worst(look(book, port)["logbook"])
    assert f.state == "mend"
    assert "Keep the file" in f.remedy
    book.write_bytes(b"not a database at all, but long enough to be looked at" * 50)
    assert worst(look(book, port)["logbook"]).state == "mend"


def test_the_port_is_taken(book: Path) -> None:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        s.listen()
        (f,) = look(book, s.getsockname()[1])["pages"]
    assert f.state == "unsure"
    assert "in use" in f.sentence


@pytest.mark.parametrize(
    ("connection", "said"),
    [
        ('kind = "serial"\ndevice = "/dev/ttyNOSUCH"', "The port /dev/ttyNOSUCH is not there"),
        ('kind = "tcp"\nhost = "127.0.0.1"\nport = 9', "127.0.0.1:9 does not answer"),
    ],
)
def test_encoders_that_are_not_there(
    tmp_path: Path, book: Path, port: int, connection: str, said: str
) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(kits.example_text().replace('kind = "typed"', connection, 1))
    (f,) = look(book, port, str(kit))["encoders"]
    assert f.state == "mend"
    assert said in f.sentence


def test_a_wrong_kit_and_spoilt_objects(
    tmp_path: Path, book: Path, port: int, own_objects: Path
) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text("[telescope]\naperture_mm = -5\n")
    own_objects.write_text("name,ra,dec\nA,99h,5\n")
    found = look(book, port, str(kit))
    assert found["kit"][0].state == "mend"
    assert "aperture_mm" in found["kit"][0].sentence
    assert found["own objects"][0].state == "mend"


def test_clocks(book: Path, port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Unset, and behind the logbook's last entry."""
    monkeypatch.setattr(installation.time, "time", lambda: 86400.0 * 365)
    assert "is not set: it says 1971" in look(book, port)["clock"][0].sentence
    when = Instant.parse("2027-03-01T20:00:00Z")
    with Logbook.open(book, clock=when.to_unix) as b:
        b.add_note(b.outings()[0].id, "dew", when)
    now = Instant.parse("2027-02-01T00:00:00Z").to_unix()
    monkeypatch.setattr(installation.time, "time", lambda: now)
    assert "2027-03-01 20:00 UTC" in look(book, port)["clock"][0].sentence


def test_a_rehearsed_evening_to_come_says_nothing_of_the_clock(book: Path, port: int) -> None:
    when = Instant.from_unix(time.time() + 30 * 86400.0)
    with Logbook.open(book) as b:
        (outing,) = b.outings()
        b.add_sighting(outing.id, Sighting("Vega", 1.0, 2.0, 1.0, 2.0, when, "32 mm"), "typed")
    assert look(book, port)["clock"][0].state == "good"


def test_a_full_disk(book: Path, port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage(10**9, 10**9, 10**6))
    (f,) = look(book, port)["disk"]
    assert f.state == "mend"
    assert "Only 1 MB" in f.sentence


def test_the_command(tmp_path: Path, book: Path, port: int) -> None:
    args = ["installation", "--logbook", str(book), "--port", str(port)]
    said = CliRunner().invoke(command, args)
    assert said.exit_code == 0
    assert said.output.endswith("Everything that is needed is in place.\n")
    kit = tmp_path / "kit.toml"
    kit.write_text("nonsense = 1\n")
    said = CliRunner().invoke(command, [*args, "--kit", str(kit), "--json"])
    assert said.exit_code == 1
    answer = json.loads(said.output)
    assert answer["good"] is False
    assert {f["about"] for f in answer["findings"] if f["state"] == "mend"} == {"kit"}
