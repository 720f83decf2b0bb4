"""Files that a command writes: whole or not at all, and what stood there before is kept."""

from __future__ import annotations

import os
import stat
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.errors import UserError
from plumbstar.logbook import ENVIRONMENT, Logbook, elements_file, own_file
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.times import Instant
from plumbstar.text import files

resource = pytest.importorskip("resource", reason="limits of files need a Unix system")


@contextmanager
def limit(size: int) -> Iterator[None]:
    """No file grows beyond so many bytes, as on a disk that is full."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("replace", [True, False])
def test_without_room_there_is_nothing_and_it_is_said(tmp_path: Path, replace: bool) -> None:
    with limit(1000), pytest.raises(UserError) as e:
        files.write(tmp_path / "out.csv", "x" * 5000, replace=replace)
    assert "no room" in e.value.came
    assert "Make room" in e.value.remedy
    assert list(tmp_path.iterdir()) == []


def test_what_stood_there_before_is_kept(tmp_path: Path) -> None:
    place = tmp_path / "out.csv"
    files.write(place, "before")
    place.chmod(0o640)
    with limit(1000), pytest.raises(UserError, match="Nothing was written"):
        files.write(place, "x" * 5000)
    assert place.read_text() == "before"
    files.write(place, "after")
    assert place.read_text() == "after"
    assert stat.S_IMODE(place.stat().st_mode) == 0o640
    assert list(tmp_path.iterdir()) == [place]


def test_a_link_a_device_and_a_pipe_are_written_through(tmp_path: Path) -> None:
    place, link = tmp_path / "out.csv", tmp_path / "link"
    files.write(place, "before")
    link.symlink_to(place)
    files.write(link, "after")
    assert link.is_symlink()
    assert place.read_text() == "after"
    files.write("/dev/null", "gone")
    with pytest.raises(UserError, match="no room"):
        files.write("/dev/full", "not gone")
    assert Path("/dev/full").is_char_device()


@pytest.fixture(params=["full", "read-only"])
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Path]:
    """A disk of 4 kB, most of it taken; or one that can only be read."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=4096", "none", str(place)]
    if os.name != "posix" or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no disk can be mounted here (needs Linux and root)")
    try:
        (place / "taken").write_bytes(bytes(4096))
        if request.param == "read-only":
            subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


WRITERS = [
    ("log", "export", "last", "--csv", "-o", "{}"),
    ("log", "export", "last", "--ecsv", "-o", "{}"),
    ("log", "export", "all", "--json", "-o", "{}"),
    ("log", "backup", "{}"),
    ("objects", "export", "{}"),
    ("kit", "{}", "--new"),
    ("fix", "SIGHTINGS", "--export", "{}"),
    ("field", "M 31", "--svg", "{}", "--site", "47.2,11.6,940"),
    ("card", "--site", "47.2,11.6,940", "--no-targets", "--hours", "0.5", "--html", "{}"),
    ("card", "--site", "47.2,11.6,940", "--no-targets", "--hours", "0.5", "--calendar", "{}"),
    ("card", "--site", "47.2,11.6,940", "--no-targets", "--hours", "0.5", "--pdf", "{}"),
]


@pytest.mark.parametrize("words", WRITERS, ids=lambda w: " ".join(w[:2] + w[-2:]))
def test_every_command_that_writes_says_so(
    disk: Path, words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book, objects, table = (tmp_path / n for n in ("log.sqlite3", "own.csv", "sightings.csv"))
    monkeypatch.setenv(ENVIRONMENT, str(book))
    monkeypatch.setenv(own_file.ENVIRONMENT, str(objects))
    objects.write_text("name,ra_deg,dec_deg\nMine,83.8,-5.4\n")
    at = Instant.parse("2027-01-28T17:10:00Z")
    made = [Sighting(f"s{k}", 71.3 + 40 * k, 52.4, 70.1 + 40 * k, 53.3, at) for k in range(3)]
    with Logbook.open(book) as b:
        b.import_sightings(made)
        table.write_text(b.export_csv(1))
    out = str(disk / "out")
    said = CliRunner().invoke(
        group, [{"{}": out, "SIGHTINGS": str(table)}.get(w, w) for w in words]
    )
    assert isinstance(said.exception, UserError), (said.output, said.exception)
    told = str(said.exception)
    assert out in told
    assert "room" in told or "only be read" in told or "read-only" in told, told
    assert sorted(p.name for p in disk.iterdir()) == ["taken"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("star\nCap\0ella\n", "1 character that cannot be shown (U+0000 (NUL) in line 2)"),
        ('{"a":\n"x\\u0000y\\u200b"}', "2 characters that cannot be shown (the first is U+0000"),
        ("Cap\u200bella", "U+200B in line 1"),
        ("Caf\u00e9\t\u22125\r\n\u00a0x", ""),
        ('{"a": "x\\\\u0000 \\ud83d\\ude00"}', ""),
    ],
)
def test_what_no_screen_can_show_is_said(text: str, said: str) -> None:
    found = files.unshowable(text)
    assert said in found
    assert bool(found) == bool(said)


def test_an_import_says_what_became_a_blank(tmp_path: Path) -> None:
    """Sightings, own objects, a list: a character that no screen shows was a blank, unsaid."""
    book = {ENVIRONMENT: str(tmp_path / "logbook.sqlite3")}
    head = "utc,star,az_reading_deg,alt_reading_deg,true_az_deg,true_alt_deg\n"
    csv = tmp_path / "in.csv"
    csv.write_text(head + "2027-01-28T18:00:00Z,Cap\aella,1,2,3,4\n")
    done = CliRunner().invoke(group, ["log", "import", str(csv)], env=book)
    assert done.exit_code == 0, done.output
    assert "U+0007 in line 2) counts as a blank" in done.stderr
    table = tmp_path / "list.csv"
    table.write_text("name\nM\a 42\n")
    done = CliRunner().invoke(group, ["log", "lists", "mine", "--add", str(table)], env=book)
    assert "counts as a blank" in done.stderr


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32"])
def test_every_file_that_somebody_hands_in_may_be_unicode_text(
    encoding: str, tmp_path: Path
) -> None:
    """As a spreadsheet or an editor saves it, with a byte-order mark (Python writes one)."""
    book, n = tmp_path / "book.sqlite3", 0

    def plumbstar(*args: str, file: str = "") -> str:
        nonlocal n
        n += 1
        place = tmp_path / f"{n}.txt"
        place.write_bytes(file.encode(encoding))
        done = CliRunner().invoke(group, [str(place) if a == "FILE" else a for a in args])
        assert done.exit_code == 0, (args, done.output)
        assert "cannot be shown" not in done.output
        return done.output

    mine = tmp_path / "mine.csv"
    mine.write_bytes("name\tra_deg\tdec\nMein Fleck é\t83.5\t-5.25\n".encode(encoding))
    assert own_file.load(mine)[0].name == "Mein Fleck é"
    assert "280 mm" in plumbstar("kit", "FILE", file=kits.example_text())
    coached = "Capella 19:42 az 61.2 alt 55; Rigel 19:44 az 141 alt 28"
    said = plumbstar("why", "--coach", "FILE", "--site", "47.2,11.6", "--utc", "2027-01-28",
                     "--zone", "+1", "--reply", file=coached)  # fmt: skip
    assert "Capella" in said
    at = Instant.parse("2027-01-28T17:10:00Z")
    with Logbook.open(book) as open_book:
        open_book.import_sightings([Sighting("Vega", 71.3, 52.4, 70.1, 53.3, at)])
    out = plumbstar("log", "export", "all", "--json", "--logbook", str(book))
    fresh = str(tmp_path / "fresh.sqlite3")
    plumbstar("log", "import", "FILE", "--logbook", fresh, file=out)
    assert "Vega" in plumbstar("log", "show", "1", "--logbook", fresh)
    plumbstar("log", "lists", "few", "--add", "FILE", "--logbook", str(book), file="name\nM 42\n")
    minor = tmp_path / "comets.txt"
    comets = Path(__file__).parents[1] / "authorities" / "comets_invented.txt"
    minor.write_bytes(comets.read_text().encode(encoding))
    found, _ = elements_file.add(tmp_path / "elements", minor)
    assert len(found.bodies) > 0
