"""The one printer of JSON, and the records that it prints: every answer is what its record says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar.cli import group
from plumbstar.commands.output import to_json
from plumbstar.contract.answers import (
    book,
    controller,
    drawn,
    forecast,
    mending,
    pointing,
    running,
    seen,
    sky,
)
from plumbstar.contract.answers.base import Report

SITE = ["--site", "47.2,11.6,940"]
UTC = ["--utc", "2027-01-28T17:20:00Z"]
PAIR = ["--star-a", "Capella", "--time-a", "2027-01-28T18:30:00Z",
        "--star-b", "Deneb", "--time-b", "2027-01-28T18:30:40Z", *SITE]  # fmt: skip
SIGHTINGS = (
    "utc,star,az_reading_deg,alt_reading_deg\n"
    "2027-01-28T17:15:00Z,Aldebaran,30.2,49.1\n"
    "2027-01-28T17:16:00Z,Polaris,260.9,46.2\n"
)
NIGHTS = (
    "shown_deg,star_a,time_a,star_b,time_b\n"
    "1.4,Capella,2027-01-28T18:30:00Z,Deneb,2027-01-28T18:30:40Z\n"
    "1.2,Capella,2027-01-29T18:30:00Z,Diphda,2027-01-29T18:30:30Z\n"
)


def test_numbers_that_do_not_exist_are_null_and_numpy_is_plain() -> None:
    answer = {
        "nan": float("nan"),
        "inf": -float("inf"),
        "numpy": [np.float64("nan"), np.float64(1.5), np.int64(3), np.bool_(True)],
        "array": np.array([[1.0, np.inf], [2.0, 3.0]]),
        "path": Path("a") / "b",
        "text": "48° − ★",
    }
    text = to_json(answer)
    assert "\n" not in text
    assert json.loads(text, parse_constant=pytest.fail) == {
        "nan": None,
        "inf": None,
        "numpy": [None, 1.5, 3, True],
        "array": [[1.0, None], [2.0, 3.0]],
        "path": "a/b",
        "text": "48° − ★",
    }
    assert list(json.loads(text)) == list(answer)
    assert "★" in text


def test_what_has_no_json_is_our_mistake() -> None:
    with pytest.raises(TypeError, match="no JSON for object"):
        to_json({"a": object()})


BESIDE = """utc,event,star,number_deg,left_az_deg,left_alt_deg
2027-01-28T18:00:20Z,star,Capella,,,
2027-01-28T18:00:50Z,star,Hamal,,,
2027-01-28T18:00:55Z,number,,0.9,,
2027-01-28T18:01:05Z,centred,Hamal,,0.4,-0.8
"""
COMETS = Path(__file__).parents[1] / "authorities" / "comets_invented.txt"
ANSWERS: list[tuple[list[str], Any]] = [
    (["kit"], sky.KitReport),
    (["kit", "--new", "{}/new.toml"], sky.WrittenReport),
    (["places", "Vega", "Moon", "M 42", "--airless", *SITE, *UTC], sky.PlacesReport),
    (["tonight", *SITE, *UTC, "--hours", "1"], sky.TonightReport),
    (["orbits", "add", str(COMETS)], sky.OrbitsAddedReport),
    (["orbits", "list", *UTC], sky.OrbitsListReport),
    (["orbits", "remove", COMETS.name], sky.OrbitsRemovedReport),
    (["objects", "add", "{}/own.csv"], sky.OwnAddedReport),
    (["objects", "list"], sky.OwnListReport),
    (["objects", "export"], sky.OwnExportReport),
    (["objects", "remove", "My pair"], sky.OwnRemovedReport),
    (["site", "add", "Ridge", "47.2 N 11.6 E"], sky.SiteReport),
    (["site", "list"], sky.SitesReport),
    (["site", "show", "Ridge"], sky.SiteReport),
    (["site", "remove", "Ridge"], sky.SiteRemovedReport),
    (["site", "find", "Innsbruck"], sky.TownsReport),
    (["choose", *SITE, *UTC, "--after", "{}/s.csv"], pointing.ChoiceReport),
    (["fix", "{}/s.csv", *SITE], pointing.FixReport),
    (["push", "M 42", "{}/s.csv", "--from", "260.9,46.2", *SITE, *UTC], pointing.PushReport),
    (["demo"], pointing.DemoReport),
    (["why", "{}/s.csv", "--reply", *SITE], mending.WhyReport),
    (["why", "--shown", "1.4", *PAIR], controller.NumberReport),
    (["why", "{}/nights.csv", *SITE], controller.NumbersReport),
    (["controller", "forecast", "{}/beside.csv", "M 42", *SITE], forecast.ForecastReport),
    (["controller", "choose", *UTC, *SITE], forecast.ControllerChoiceReport),
    (["controller", "number", "{}/beside.csv", *SITE], controller.NumberReport),
    (["controller", "nights", "{}/nights.csv", *SITE], controller.NumbersReport),
    (["why", "--learn-sign", "1.4", "0.6", "1"], controller.SignReport),
    (["check"], mending.ChecksReport),
    (["check", "once-round"], mending.OneCheckReport),
    (["check", "stop-repeat", "89.9,90.0,90.1"], mending.VerdictReport),
    (["log", "import", "{}/s.csv", *SITE, "--kit", "{}/new.toml"], book.ImportedReport),
    (["log"], book.OutingsReport),
    (["log", "note", "1", "dew", *UTC], book.NotedReport),
    (["log", "show", "1"], book.WholeOutingReport),
    (["log", "seen"], seen.SeenLogReport),
    (["log", "eye"], seen.OwnEyeReport),
    (["log", "lists", "Planets"], seen.ListsReport),
    (["log", "correct-time", "1", "--by", "30", *UTC], book.CorrectedReport),
    (["log", "mend", "shimmed", "--term", "upright stop", *UTC], book.MendedReport),
    (["log", "undo"], book.UndoneReport),
    (["log", "redo"], book.UndoneReport),
    (["log", "redo"], book.UndoneReport),
    (["log", "priors"], mending.PriorsReport),
    (["mount"], mending.MountReport),
    (["log", "delete", "1", "--sighting", "1"], book.DeletedReport),
    (["log", "restore", "1", "--sighting", "1"], book.RestoredReport),
    (["log", "delete", "1"], book.DeletedReport),
    (["log", "purge", "--yes"], book.PurgedReport),
    (["log", "backup", "{}/copy.sqlite3"], book.CopiedReport),
    (["card", *SITE, *UTC, "--html", "{}/card.html"], drawn.CardReport),
    (["field", "M 42", *SITE, *UTC], drawn.EyeViewReport),
    (["field", "Saturn", *SITE, *UTC], drawn.EyeViewReport),
    (["field", "M 31", "--finder", *SITE, *UTC], drawn.EyeViewReport),
    (["completion", "bash"], running.CompletionReport),
]


def test_every_answer_is_what_its_record_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read back as its record and written again, each is the same to the last figure."""
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(tmp_path / "log.sqlite3"))
    monkeypatch.setenv("PLUMBSTAR_OBJECTS", str(tmp_path / "kept.csv"))
    (tmp_path / "s.csv").write_text(SIGHTINGS)
    (tmp_path / "nights.csv").write_text(NIGHTS)
    (tmp_path / "beside.csv").write_text(BESIDE)
    (tmp_path / "own.csv").write_text("name,ra,dec\nMy pair,05h35m17s,-05d23m\n")
    for line, record in ANSWERS:
        assert issubclass(record, Report)
        args = [a.format(tmp_path) for a in line]
        done = CliRunner().invoke(group, [*args, "--json"], catch_exceptions=False)
        assert done.exit_code == 0, (line, done.output)
        try:
            again = msgspec.json.decode(done.stdout, type=record)
        except msgspec.ValidationError as e:
            pytest.fail(f"{line}: {e}")
        assert to_json(again) == done.stdout.rstrip("\n"), line


def test_every_record_has_units_in_its_keys() -> None:
    """No key is an angle, a time or a length without saying of which unit."""
    bare = ("az", "alt", "lat", "lon", "ra", "dec", "value", "sigma", "size", "elevation")
    for module in (book, controller, drawn, mending, pointing, running, sky):
        for record in vars(module).values():
            if not (isinstance(record, type) and issubclass(record, Report)):
                continue
            for key in record.__struct_fields__:
                last = key.rsplit("_", 1)[-1]
                if last in bare and not (key == "value" and "unit" in record.__struct_fields__):
                    assert (record.__name__, key) in ALLOWED, (record.__name__, key)


#: In disc radii, as their record says.
ALLOWED = {("CollimationReport", "offset_sigma"), ("CollimationReport", "across_sigma")}
