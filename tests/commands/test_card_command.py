"""``plumbstar card``: files written, and bad input answered."""

import json

import pytest
from click.testing import CliRunner

import needs
from plumbstar.commands.card import command
from plumbstar.errors import UserError

RIDGE = ["--site", "47.2,11.6,940", "--utc", "2027-01-28T12:00:00Z", "--hours", "1"]
ALONE = "--no-targets"


def run(*args):
    done = CliRunner().invoke(command, [*RIDGE, *args])
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


def test_files_are_named_by_the_night_when_none_is_named(tmp_path, monkeypatch):
    needs.module("typst")
    monkeypatch.chdir(tmp_path)
    done = run("--zone", "+1")
    assert {p.name for p in tmp_path.iterdir()} == {
        "night-card-2027-01-28.pdf", "night-card-2027-01-28.html",
    }  # fmt: skip
    assert "Dark from 18:55 UTC+1." in done.output
    assert (tmp_path / "night-card-2027-01-28.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("site", "said"),
    [
        ("78,15", "the Sun stays above -18"),
        ("78,15", "(polar day): no stars to sight."),
        ("-90,0", "Dark all the time."),
        ("90,0", "Moon 90% lit"),
        ("0,-179.9", "Night of 21 to 22 June 2027. Dark from 07:20 UTC."),
    ],
)
def test_odd_places(tmp_path, site, said):
    where = ["--site", site, "--utc", "2027-06-21T23:30:00Z", "--hours", "1"]
    files = ["--html", str(tmp_path / "x.html"), "--calendar", str(tmp_path / "x.ics")]
    done = CliRunner().invoke(command, [*where, *files])
    assert said in done.output
    assert (tmp_path / "x.html").stat().st_size > 5000


def test_only_what_is_asked_for(tmp_path):
    ics = tmp_path / "e.ics"
    done = run(ALONE, "--calendar", str(ics), "--name", "Thornback Ridge", "--json")
    answer = json.loads(done.output)
    assert answer["written"] == [str(ics)]
    assert answer["card"]["site"] == "Thornback Ridge"
    assert answer["card"]["date"] == "2027-01-28"
    assert answer["card"]["hours"][0]["instant_utc"].startswith("2027-01-28T16:42:")
    assert ics.read_bytes().count(b"BEGIN:VEVENT") == 7
    assert b"\r\r\n" not in ics.read_bytes()
    assert list(tmp_path.iterdir()) == [ics]


def test_a_place_that_cannot_be_written_is_one_clear_error(tmp_path):
    with pytest.raises(UserError, match="Check the path"):
        run(ALONE, "--html", str(tmp_path / "none" / "x.html"))


def test_targets_are_on_it_and_in_the_calendar_and_may_be_of_a_kind(tmp_path):
    ics = tmp_path / "e.ics"
    done = run("--calendar", str(ics), "--kind", "doubles", "--json")
    stops = json.loads(done.output)["card"]["stops"]
    assert stops
    assert {s["kind"] for s in stops} == {"double star"}
    assert ics.read_bytes().count(b"DTEND:") == len(stops)
    assert stops[0]["start_utc"] >= "2027-01-28T16:57"  # dusk and a quarter of an hour


@pytest.mark.parametrize(
    "args", [("--zenith-mag", "5"), ("--kind", "kites"), ("--field-deg", "99")]
)
def test_nonsense_is_refused(args):
    with pytest.raises(UserError):
        run(*args)
