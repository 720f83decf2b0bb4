"""``plumbstar orbits``: elements beside the logbook, bad lines named, found by other commands."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from plumbstar import cli
from plumbstar.errors import UserError

COMETS = Path(__file__).parents[1] / "authorities" / "comets_invented.txt"
AT = ["--site", "47.2,11.6,940", "--utc", "2027-01-28T18:30:00Z"]


@pytest.fixture(autouse=True)
def _beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(tmp_path / "logbook.sqlite3"))


def run(*args: str) -> str:
    done = CliRunner().invoke(cli.group, [*args], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_add_list_find_remove(tmp_path: Path) -> None:
    mine = tmp_path / "Comets.txt"
    mine.write_text(COMETS.read_text() + "spoilt\n")
    said = run("orbits", "add", str(mine)).splitlines()
    assert said[0] == "3 orbits read from Comets.txt, kept beside the logbook."
    assert (tmp_path / "elements" / "Comets.txt").exists()
    assert said[1].startswith("Comets.txt, line 4: 'spoilt'. Wanted: ")
    rows = run("orbits", "list", "--utc", "2027-01-28T18:30:00Z").splitlines()
    first = next(r for r in rows if r.startswith("C/2026 Z1"))
    assert "comet, magnitude about" in first
    assert "By elements of 2026-11-21, 69 days before this." in first
    assert rows[-1] == said[1]
    field = json.loads(run("field", "901P", *AT, "--json"))
    assert field["label"] == "901P/Invented-Two"
    assert any("By elements of 2027-01-01" in n for n in field["notes"])
    asked = run("tonight", "c/2025 z9", *AT)
    assert asked.startswith("C/2025 Z9 (Invented): ")
    assert "By elements of 2026-08-10, 17" in asked
    assert "They are old" in asked
    assert "901P/Invented-Two  azimuth" in run("places", "901p", *AT)
    run("orbits", "remove", "Comets.txt")
    assert run("orbits", "list").startswith("No elements yet")


def test_what_cannot_be_read_says_so(tmp_path: Path) -> None:
    bad = tmp_path / "bad.txt"
    bad.write_text("hello\n")
    with pytest.raises(UserError, match="holds no elements"):
        run("orbits", "add", str(bad))
    with pytest.raises(UserError, match="cannot be read"):
        run("orbits", "add", str(tmp_path / "none.txt"))


def test_the_installation_tells_of_them(tmp_path: Path) -> None:
    from plumbstar.commands.installation import _own

    folder = tmp_path / "elements"
    folder.mkdir()
    (folder / "c.txt").write_text(COMETS.read_text() + "spoilt\n")
    told = {(x.about, x.state): x for x in _own()}
    assert "3 in " in told["orbits", "good"].sentence
    assert told["orbits", "mend"].sentence == "1 line of elements cannot be read"
