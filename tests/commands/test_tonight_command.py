"""``plumbstar tonight`` as a user types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from plumbstar import kit as kits
from plumbstar.commands.tonight import command
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.sky.times import Instant

RIDGE = ["--site", "47.2,11.6,940", "--utc", "2027-01-28T17:05:00Z"]


def run(*args: str) -> Result:
    return CliRunner().invoke(command, [*RIDGE, *args], catch_exceptions=True)


def test_the_answer_comes_first() -> None:
    said = run("--hours", "1", "--show", "2").output.splitlines()
    assert said[0].startswith("Begin at 17:05 UTC with ")
    assert said[1].startswith("Dark from 17:55 to 04:57.")
    assert "In this order (times are UTC):" in said


def test_json() -> None:
    answer = json.loads(run("--hours", "2", "--json").output)
    assert len(answer["order"]) > 5
    assert answer["order"][0]["object"]["reason"].endswith(".")
    assert {o["difficulty"] for o in answer["objects"]} == {"easy", "fair"}


def test_kinds_and_difficulty() -> None:
    doubles = json.loads(run("--kind", "doubles", "--json").output)["objects"]
    assert doubles
    assert all(o["what"].startswith("double star") for o in doubles)
    easy = json.loads(run("--hardest", "easy", "--kind", "galaxies", "--json").output)["objects"]
    assert {o["difficulty"] for o in easy} == {"easy"}
    assert all("galax" in o["what"] for o in easy)


def test_new_to_me(tmp_path: Path) -> None:
    path = tmp_path / "book.db"
    with Logbook.open(path) as book:
        outing = book.start_outing(None, kits.example(), "", Instant.parse("2027-01-20T18:00:00Z"))
        when = Instant.parse("2027-01-20T19:00:00Z")
        book.add_find(outing.id, "M 42", when, (1.0, 2.0), (1.0, 2.0), 0.7, "32 mm")
    names = []
    for new in ([], ["--new"]):
        answer = json.loads(run("--json", "--logbook", str(path), *new).output)
        names.append({o["name"] for o in answer["objects"]})
    assert names[0] - names[1] == {"M42"}


@pytest.mark.parametrize(
    ("args", "word"),
    [
        (["--zenith-mag", "30"], "--zenith-mag 30"),
        (["--zenith-mag", "nan"], "--zenith-mag nan"),
        (["--seeing-arcsec", "0"], "--seeing-arcsec 0"),
        (["--kind", "comet"], "the kind 'comet'"),
    ],
)
def test_mistakes_are_named(args: list[str], word: str) -> None:
    got = run(*args)
    assert isinstance(got.exception, UserError)
    assert word in str(got.exception)


def test_midnight_sun() -> None:
    got = CliRunner().invoke(
        command, ["--site", "78.2,15.6", "--utc", "2027-06-21T12:00:00Z"], catch_exceptions=True
    )
    assert isinstance(got.exception, UserError)
    assert "The Sun does not set" in str(got.exception)


def test_can_i_see_it() -> None:
    """A row for each name, in their order; where it fails, why and when else."""
    rows = json.loads(run("M 42", "Rigel", "M 22", "NGC 5139", "--json").output)["rows"]
    assert [r["name"] for r in rows] == ["M42", "HIP 24436", "M22", "NGC5139"]
    orion, rigel, m22, omega = rows
    assert orion["chance_seen"] > 0.95
    assert orion["word"] == "easy"
    assert orion["eyepiece"] == "25 mm"
    assert orion["filter"] == orion["why_not"] == ""
    assert orion["best_utc"]
    assert orion["next_good_utc"] is None
    assert rigel["chance_seen"] > 0.7
    assert m22["chance_seen"] == 0.0
    assert m22["word"] == "not tonight"
    assert m22["next_good_utc"] > "2027-02-15"
    assert m22["next_good_chance"] > 0.7
    assert "never stands high enough" in omega["why_not"]
    said = run("M 22").output.splitlines()
    assert said[0] == "M 22 (Great Sagittarius Cluster): Not tonight."
    assert any(line.startswith("  The next good night is ") for line in said)


def test_can_i_see_it_asks_for_names_it_knows() -> None:
    for name in ("Sun", "no such thing at all"):
        assert isinstance(run(name).exception, UserError)
