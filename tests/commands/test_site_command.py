"""Sites by name: kept, listed, taken by every command, refused in words."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from plumbstar import cli
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.sky.site import Site

RIDGE = ["Thornback Ridge", "47°12'N 11°36'E 940 m", "--zone", "europe/vienna"]


@pytest.fixture(autouse=True)
def book_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "kept" / "logbook.sqlite3"
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(path))
    monkeypatch.chdir(tmp_path)
    return path


def run(*words: str) -> str:
    """What the command printed. Raises its UserError."""
    import contextlib
    import io

    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        cli.group.main(list(words), prog_name="plumbstar", standalone_mode=False)
    return out.getvalue()


def ask(*words: str) -> dict:
    answer: dict = json.loads(run(*words, "--json"))
    return answer


def test_a_site_is_kept_whole_and_comes_back(book_path: Path) -> None:
    said = run("site", "add", *RIDGE, "--zenith-mag", "21.3", "--skyline", "300:25,334:22")
    assert "47.200° N, 11.600° E, 940 m, Europe/Vienna, zenith 21.3" in said
    kept = ask("site", "show", "thornbackridge")
    assert kept == {
        "name": "Thornback Ridge", "lat_deg": 47.2, "lon_deg": 11.6, "elevation_m": 940.0,
        "time_zone": "Europe/Vienna", "zenith_mag": 21.3, "skyline": [[300, 25], [334, 22]],
    }  # fmt: skip
    with Logbook.open(book_path, create=False) as book:
        assert book.site_named("THORNBACK RIDGE") == Site(
            47.2, 11.6, 940.0, name="Thornback Ridge", time_zone="Europe/Vienna", zenith_mag=21.3
        )
    assert [s["name"] for s in ask("site", "list")["sites"]] == ["Thornback Ridge"]


def test_nothing_is_made_by_looking(book_path: Path) -> None:
    assert ask("site", "list") == {"sites": []}
    assert "No site is kept yet" in run("site", "list")
    with pytest.raises(UserError, match="none is kept yet"):
        run("site", "show", "Ridge")
    assert not book_path.exists()


def test_a_name_is_taken_wherever_coordinates_are() -> None:
    run("site", "add", *RIDGE)
    run("site", "add", "Saltpan Flat", "-31.5", "21", "1050")
    when = ["--utc", "2027-01-28T18:30:00Z"]
    for name, coordinates in [
        ("thornback ridge", "47.2,11.6,940"),
        ("Saltpan Flat", "-31.5,21,1050"),
    ]:
        by_name = ask("places", "Vega", "Rigel", "--site", name, *when)
        assert (
            by_name["places"]
            == ask("places", "Vega", "Rigel", "--site", coordinates, *when)["places"]
        )


def test_its_skyline_is_used_unless_another_is_given() -> None:
    run("site", "add", *RIDGE, "--skyline", "0:70")
    asked = ["choose", "--site", "Thornback Ridge", "--utc", "2027-01-28T17:05:00Z", "--show", "1"]
    names = {s["star"] for s in ask(*asked, "--skyline", "0:0")["stars"]}
    within = {s["star"] for s in ask(*asked)["stars"]}
    assert within < names
    assert within == {s["star"] for s in ask(*asked, "--skyline", "0:70")["stars"]}


def test_the_card_shows_the_site_s_own_time() -> None:
    run("site", "add", *RIDGE)
    asked = ["card", "--site", "Thornback Ridge", "--utc", "2027-01-28T12:00:00Z", "--no-targets",
             "--hours", "1"]  # fmt: skip
    own = run(*asked, "--html", "a.html")
    assert "UTC+1" in own
    assert "UTC+1" not in run(*asked, "--html", "b.html", "--zone", "UTC")


def test_a_name_once_given_is_replaced_only_on_request() -> None:
    run("site", "add", *RIDGE, "--skyline", "300:25")
    with pytest.raises(UserError, match="--replace"):
        run("site", "add", "thornback ridge", "48,12")
    run("site", "add", "thornback ridge", "48,12", "--replace")
    # The spelling stays, and the skyline with it, since it is filed under that.
    kept = ask("site", "show", "Thornback Ridge")
    assert (kept["name"], kept["lat_deg"], kept["skyline"]) == (
        "Thornback Ridge",
        48.0,
        [[300, 25]],
    )
    assert run("site", "remove", "Thornback Ridge").startswith("Removed Thornback Ridge: 48.000° N")
    assert ask("site", "list")["sites"] == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["show", "Thornbak"], "Did you mean Thornback Ridge"),
        (["remove", "Marsh"], "Thornback Ridge"),
        (["show", "47.2 N"], "latitude and longitude"),
        (["show", "47 12 11 36"], "could be"),
        (["add", "N47 E11", "48,12"], "reads as coordinates"),
        (["add", "--", "?!", "48,12"], "with letters"),
        (["add", "Marsh", "48", "west"], "latitude and longitude"),
        (["add", "Marsh", "47,-11 W"], "says it twice"),
        (["add", "Marsh", "End", "48,12"], "quotes"),
        (["add", "Marsh", "48,12", "--zone", "Europe/Roma"], "Europe/Rome"),
        (["add", "Marsh", "48,12", "--zenith-mag", "2"], "14 to 23"),
        (["add", "Marsh", "48,12", "--skyline", "300:95"], "skyline point"),
    ],
)
def test_mistakes_are_told_in_words_and_keep_nothing(words: list[str], said: str) -> None:
    run("site", "add", *RIDGE)
    with pytest.raises(UserError) as e:
        run("site", *words)
    assert said in str(e.value)
    assert [s["name"] for s in ask("site", "list")["sites"]] == ["Thornback Ridge"]


def test_the_list_is_in_the_copy_of_the_logbook(tmp_path: Path) -> None:
    run("site", "add", *RIDGE)
    copy = tmp_path / "copy.sqlite3"
    run("log", "backup", str(copy))
    kept = ask("site", "list", "--logbook", str(copy))["sites"]
    assert [s["name"] for s in kept] == ["Thornback Ridge"]


def test_help_and_names_load_no_arithmetic() -> None:
    """`serve` finds a named site without loading numpy first."""
    import subprocess

    code = (
        "import sys\nfrom plumbstar.commands import siting\n"
        "siting.find('47.2 N 11.6 E')\nassert 'numpy' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_a_town_is_found_and_its_zone_is_the_new_site_s() -> None:
    (town,) = ask("site", "find", "zurich", "--show", "1")["towns"]
    assert (town["name"], town["country"], town["time_zone"]) == (
        "Zürich", "Switzerland", "Europe/Zurich",
    )  # fmt: skip
    assert "47.37° N, 8.55° E  Europe/Zurich" in run("site", "find", "zurich")
    with pytest.raises(UserError, match="coordinates"):
        run("site", "find", "Qqqqzz")
    assert "nearest town" in run("site", "add", "Ridge", "47.2,11.6")
    assert ask("site", "show", "ridge")["time_zone"] == "Europe/Vienna"
    assert "times are UTC" in run("site", "add", "Boat", "45 S 120 W")
    assert ask("site", "show", "boat")["time_zone"] is None
    run("site", "add", "Plain", "47.2,11.6", "--zone", "UTC")
    assert ask("site", "show", "plain")["time_zone"] is None
