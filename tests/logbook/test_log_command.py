"""``plumbstar log`` on a logbook of its own."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import click
import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.commands.log import book as group_file
from plumbstar.commands.log import command
from plumbstar.encoders.reading import Reading
from plumbstar.logbook import Logbook
from plumbstar.logbook.slips import DESK
from plumbstar.mount.sighting import Sighting
from plumbstar.sky import places
from plumbstar.sky.lists import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening.desk import Desk, NamelessPress, dump

from .rig import DUSK, GOOD, HEAD, outing


def test_log_command_from_import_to_undo(
    log: Callable[..., str], path: Path, tmp_path: Path
) -> None:
    assert "No outings yet" in log()
    assert not path.exists()  # listing makes no file
    assert "no logbook yet" in log("show", "1", fails=True)
    csv = tmp_path / "evening.csv"
    csv.write_text(f"{HEAD}\n{GOOD}\n")
    made = json.loads(log("import", str(csv), "--site", "47.2,11.6,940", "--json"))
    assert made["imported"][0]["sightings"] == 1
    assert "1 outing" in log()
    log("note", "1", "dew", "--utc", "2027-01-28T20:00:00Z")
    shown = json.loads(log("--json", "show", "last"))
    assert shown["notes"] == [{"utc": "2027-01-28T20:00:00Z", "text": "dew"}]
    assert "Capella: reading 70.100, 53.300 deg" in log("show", "1")
    assert "undo" in log("delete", "1", "--sighting", "1")
    assert "Capella" not in log("show", "1")
    assert "deleted" in log("show", "1", "--deleted")
    assert "sighting 1 (Capella)" in log("undo")
    log("delete", "1")
    assert "0 outings" in log()
    assert "deleted" in log("--deleted")
    log("restore", "1")
    out = tmp_path / "out.csv"
    log("export", "1", "--csv", "-o", str(out))
    assert out.read_text() == f"{HEAD}\n{GOOD}\n"
    assert "exists" in log("export", "1", "--csv", "-o", str(out), fails=True)
    assert json.loads(log("export", "all", "--json"))["format"] == "plumbstar outings"
    assert "line 2" in log("import", str(_written(tmp_path, f"{HEAD}\nx,y\n")), fails=True)
    assert "outing 9" in log("show", "9", fails=True)
    assert "sighting 7" in log("delete", "1", "--sighting", "7", fails=True)
    log("backup", str(tmp_path / "copy.sqlite3"))
    with Logbook.open(tmp_path / "copy.sqlite3") as copy:
        assert len(copy.sightings(1)) == 1
    assert "exists" in log("backup", str(out), fails=True)
    log("delete", "1")
    assert json.loads(log("purge", "--yes", "--json"))["purged"]["outings"] == 1


def _written(tmp_path: Path, text: str) -> Path:
    (tmp_path / "bad.csv").write_text(text)
    return tmp_path / "bad.csv"


def test_log_import_finds_the_stars_places_from_the_site(
    log: Callable[..., str], tmp_path: Path
) -> None:
    file = tmp_path / "names.csv"
    file.write_text(
        "utc,star,az_reading_deg,alt_reading_deg\n2027-01-28T18:30:00Z,alpha Aurigae,86,74\n"
    )
    assert "--site" in log("import", str(file), fails=True)
    log("import", str(file), "--site", "47.2,11.6,940")
    (star,) = json.loads(log("show", "1", "--json"))["sightings"]
    # Where stars stand is checked in tests/sky; here, that name, time and site reach it.

    at = places.place_of(
        catalogue.load().find("Capella"),
        Instant.parse("2027-01-28T18:30:00Z"),
        Site(47.2, 11.6, 940.0),
    )
    assert star["star"] == "Capella"
    assert (star["true_az_deg"], star["true_alt_deg"]) == pytest.approx(at, abs=1e-9)
    assert json.loads(log("show", "1", "--json"))["outing"]["site"]["lat_deg"] == 47.2
    file.write_text(
        "utc,star,az_reading_deg,alt_reading_deg\n"
        "2027-01-28T18:30:00Z,jupiter,86,74\n2027-01-28T18:30:00Z,m 42,86,74\n"
    )
    log("import", str(file), "--site", "47.2,11.6,940")
    others = json.loads(log("show", "2", "--json"))["sightings"]
    assert [s["star"] for s in others] == ["Jupiter", "M 42"]
    file.write_text("utc,star,az_reading_deg,alt_reading_deg\n2027-01-28T18:30:00Z,Capela,86,74\n")
    said = log("import", str(file), "--site", "47.2,11.6", fails=True)
    assert "line 2" in said
    assert "Capella" in said


def test_the_mend_that_mount_proposes_keeps_what_came_after(
    log: Callable[..., str], path: Path
) -> None:
    """A stop knocked after the third outing: recorded as `plumbstar mount` says, the outings since
    still teach; dated now, all of them would be forgotten."""
    rng = np.random.default_rng(5)
    with Logbook.open(path) as b:
        for k in range(7):
            then = DUSK.plus_seconds(86400.0 * k)
            n = outing(b, utc=then)
            off = 0.1 if k < 3 else 1.2
            for az in (20.0, 140.0, 260.0):
                for alt in (25.0, 60.0):
                    high = alt - off + rng.normal(0, 0.05)
                    b.add_sighting(n, Sighting("a star", az, alt, az, high, then), "typed")
            b.end_outing(n, then)
    told = CliRunner().invoke(group, ["mount", "--logbook", str(path)]).output
    proposed = re.search(r"--term (\w+) --utc (\S+)", told)
    assert proposed is not None, told
    assert proposed[1] == "altitude_zero"
    assert "Until it is recorded, the next fix relies on the change as far as" in told
    log("mend", "the stop was knocked", "--term", proposed[1], "--utc", proposed[2])
    stop = json.loads(log("priors", "--json"))["terms"][0]
    assert stop["outings"] == [4, 5, 6, 7]
    assert stop["value_deg"] == pytest.approx(1.2, abs=0.1)
    assert "changed by" not in CliRunner().invoke(group, ["mount", "--logbook", str(path)]).output


def test_log_priors_and_their_reset(log: Callable[..., str], path: Path) -> None:
    with Logbook.open(path) as b:
        n = outing(b)
        for az in (20.0, 140.0, 260.0):  # a stop that reads 0.9 deg low, nothing else
            for alt in (25.0, 60.0):
                s = Sighting("a star", az, alt, az, alt - 0.9, DUSK)
                b.add_sighting(n, s, "typed")
        b.end_outing(n, DUSK)
    before = json.loads(log("priors", "--json"))
    stop = before["terms"][0]
    assert stop["term"] == "altitude_zero"
    assert stop["outings"] == [1]
    assert stop["value_deg"] == pytest.approx(0.9, abs=0.25)
    assert 0.1 < stop["sigma_deg"] < 0.8
    assert "upright stop: +0." in log("priors")
    told = log("priors", "--reset", "--utc", "2027-02-01T00:00:00Z")
    assert "nothing learnt yet" in told
    log("undo")
    assert json.loads(log("priors", "--json")) == before
    told = log("mend", "stop shimmed", "--term", "altitude-zero", "--utc", "2027-02-01T00:00:00Z")
    assert "Learnt anew from 2027-02-01T00:00Z on" in told
    after = json.loads(log("priors", "--kit", "Ridge box", "--json"))
    assert after["terms"][0]["outings"] == []
    assert after["terms"][0]["since_utc"] == "2027-02-01T00:00:00Z"
    assert "the term 'stop'" in log("mend", "x", "--term", "stop", fails=True)
    assert "the kit 'none'" in log("priors", "--kit", "none", fails=True)


def test_log_import_asks_about_a_sighting_that_cannot_be_what_it_says(
    log: Callable[..., str], tmp_path: Path
) -> None:
    """The same reading for two stars far apart, by a kit; nobody sits at a terminal here."""
    file, kit = tmp_path / "stuck.csv", tmp_path / "kit.toml"
    kit.write_text('name = "box"\n')
    lines = ["2027-01-28T18:30:00Z,Capella,86,78.5", "2027-01-28T18:31:00Z,Rigel,86,78.5"]
    file.write_text("\n".join(["utc,star,az_reading_deg,alt_reading_deg", *lines]) + "\n")
    told = ("import", str(file), "--site", "47.2,11.6,940", "--kit", str(kit))
    said = log(*told, fails=True)
    assert re.search(
        r"Sighting 2: Was this Rigel, centred\? By its readings the telescope pointed \d+° from "
        r"it, at the same place as for Capella\..*--sure",
        said,
        re.DOTALL,
    )
    assert "Nothing was imported" in said
    assert "No outings yet" in log() or "0 outings" in log()
    made = json.loads(log(*told, "--sure", "--json"))
    assert made["imported"][0]["sightings"] == 2


HEADING = "utc,star,az_reading_deg,alt_reading_deg"
FIRST = "2027-01-28T18:30:00Z,Capella,86,78.5"
STUCK = "2027-01-28T18:31:00Z,Rigel,86,78.5"
PLACE = ("--site", "47.2,11.6,940")


@pytest.fixture
def kit(tmp_path: Path) -> str:
    (tmp_path / "kit.toml").write_text('name = "box"\n')
    return str(tmp_path / "kit.toml")


def table(folder: Path, *lines: str) -> str:
    file = folder / f"{len(list(folder.iterdir()))}.csv"
    file.write_text("\n".join([HEADING, *lines]) + "\n")
    return str(file)


def test_import_into_an_outing_is_judged_by_what_is_there(
    log: Callable[..., str], tmp_path: Path, kit: str
) -> None:
    """By the outing's own kit and sightings: alone the line is as good as any."""
    log("import", table(tmp_path, FIRST), *PLACE, "--kit", kit)
    more = table(tmp_path, STUCK)
    said = log("import", more, "--into", "1", fails=True)
    assert "Sighting 1: Was this Rigel, centred?" in said
    assert "same place as for Capella" in said
    assert "Nothing was imported" in said
    assert json.loads(log("show", "1", "--json"))["outing"]["sightings"] == 1
    said = log("import", more, "--into", "1", "--sure")
    assert "Taken, as you are sure. Sighting 1: Was this Rigel" in said
    assert json.loads(log("show", "1", "--json"))["outing"]["sightings"] == 2
    good = table(tmp_path, "2027-01-28T18:30:30Z,Capella,86.1,78.6")
    said = log("import", good, "--into", "1", "--kit", kit)
    assert "Outing 1 keeps the kit it had" in said


def test_import_after_something_moved_is_not_asked_about(
    log: Callable[..., str], path: Path, tmp_path: Path, kit: str
) -> None:
    """The first one after a slip settles it; the next is judged by that one."""
    with Logbook.open(path) as b:
        text = Path(kit).read_text(encoding="utf-8")
        site = Site(lat_deg=47.2, lon_deg=11.6, elevation_m=940.0)
        b.start_outing(site, kits.loads(text), text, Instant.parse("2027-01-28T18:00:00Z"))
    log("import", table(tmp_path, FIRST), "--into", "1")
    with Logbook.open(path) as b:
        slip = {"after": b.sightings(1)[0].id, "axes": ["azimuth", "altitude"], "told": True}
        b.update_state(1, desk={"slips": [slip]})
    log("import", table(tmp_path, STUCK), "--into", "1")
    said = log(
        "import", table(tmp_path, FIRST.replace("30:00", "32:00")), "--into", "1", fails=True
    )
    assert "Was this Capella" in said


def test_import_of_outings_is_judged_by_their_own_kit(
    log: Callable[..., str], tmp_path: Path, kit: str
) -> None:
    log("import", table(tmp_path, FIRST, STUCK), *PLACE, "--kit", kit, "--sure")
    log("import", table(tmp_path, FIRST), *PLACE, "--kit", kit)
    file = tmp_path / "all.json"
    log("export", "all", "--json", "-o", str(file))
    elsewhere = ("--logbook", str(tmp_path / "elsewhere.sqlite3"))
    said = log("import", str(file), *elsewhere, fails=True)
    assert "Outing 1, sighting 2: Was this Rigel, centred?" in said
    assert said.count("Was this") == 1
    assert "Nothing was imported" in said
    assert "0 outings" in log(*elsewhere) or "No outings" in log(*elsewhere)
    assert "leave out --into" in log("import", str(file), "--into", "1", fails=True).lower()
    made = json.loads(log("import", str(file), "--sure", "--json", *elsewhere))
    assert [o["sightings"] for o in made["imported"]] == [2, 1]
    assert len(made["notes"]) == 1


def test_what_was_set_aside_in_an_outing_is_not_asked_about(
    log: Callable[..., str], path: Path, tmp_path: Path, kit: str
) -> None:
    log("import", table(tmp_path, FIRST, STUCK), *PLACE, "--kit", kit, "--sure")
    with Logbook.open(path) as b:
        b.set_aside(b.sightings(1)[1].id, "the tube had not moved")
    file = tmp_path / "all.json"
    log("export", "all", "--json", "-o", str(file))
    elsewhere = ("--logbook", str(tmp_path / "elsewhere.sqlite3"))
    made = json.loads(log("import", str(file), "--json", *elsewhere))
    assert made["notes"] == []


def test_stars_without_a_name_are_shown(log: Callable[..., str], path: Path) -> None:
    press = NamelessPress(
        "press-0001", Reading(114.1, 38.16, state="live"), DUSK.to_unix(), "32 mm", 0, "orange"
    )
    with Logbook.open(path) as book:
        key = outing(book)
        book.update_state(key, **{DESK: dump(Desk(nameless=(press,)))})
    (shown,) = json.loads(log("show", "last", "--json"))["nameless"]
    assert (shown["az_reading_deg"], shown["colour"]) == (114.1, "orange")
    assert "(no name yet, deep orange): reading 114.100, 38.160 deg" in log("show", "last")


def test_the_group_knows_every_verb_that_a_file_has() -> None:
    ctx = click.Context(command)
    told = command.list_commands(ctx)
    assert told == sorted(told)
    for verb in told:
        found = command.get_command(ctx, verb)
        assert found is not None
        assert found.name == verb
    files = Path(group_file.__file__).parent.glob("*.py")
    verbs = {v for f in files for v in re.findall(r'@command.command\("([a-z-]+)"', f.read_text())}
    assert set(told) == verbs
