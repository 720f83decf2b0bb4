"""An evening beside a controller as a table, and the command that forecasts from it."""

import json
import math

import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.controller.evening import asked_of, read_evening
from plumbstar.controller.nearest import knows, nearest_known
from plumbstar.errors import UserError
from plumbstar.kit import Controller
from plumbstar.sky.lists import deepsky
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

HEAD = "utc,event,star,number_deg,left_az_deg,left_alt_deg\n"
STARS = (
    "2027-01-28T18:00:00Z,upright,,,,\n"
    "2027-01-28T18:00:20Z,star,Capella,,,\n"
    "2027-01-28T18:00:50Z,star,Hamal,,,\n"
)
NUMBER = '2027-01-28T18:00:55Z,number,,"0,9",,\n'
BACK = "2027-01-28T18:01:05Z,centred,Hamal,,0.4,-0.8\n"
HERE = Site(47.2, 11.6, 940.0)


def test_local_times_and_decimal_commas_are_understood() -> None:
    utc = read_evening(HEAD + STARS + NUMBER + BACK, "it")
    text = (HEAD + STARS + NUMBER + BACK).replace("utc", "local").replace("T18", " 19")
    local = read_evening(text.replace("Z,", ","), "it", "Europe/Rome")
    assert abs(local.second.at.minus(utc.second.at)) < 1e-3
    assert utc.number_deg == 0.9
    assert utc.looks_back(0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD + STARS.replace("star,Hamal", "star,Zzz"), "line 4"),
        (HEAD + STARS.splitlines(True)[0], "0 lines"),
        (HEAD + STARS + "2027-01-28T18:02:00Z,star,Deneb,,,\n", "a third star"),
        (HEAD + STARS + "2027-01-28T18:02:00Z,sneezed,,,,\n", "sneezed"),
        (HEAD + STARS + "2027-01-28T18:02:00Z,centred,M 42,,left,1\n", "left"),
        ("a,b\n1,2\n", "event"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(text: str, said: str) -> None:
    with pytest.raises(UserError, match=said):
        read_evening(text, "it")


def test_a_star_below_the_horizon_is_refused() -> None:
    text = (HEAD + STARS).replace("Hamal", "Acrux")
    with pytest.raises(UserError, match="below the horizon"):
        asked_of(read_evening(text, "it"), HERE, kits.Kit())


def test_the_sign_of_a_kit_may_be_a_figure() -> None:
    text = '[connection]\nkind = "controller"\n[controller]\nsign = -1\nclock = true\n'
    assert kits.loads(text).controller.sign == "true-minus-measured"
    with pytest.raises(UserError, match=r"controller\.sign"):
        kits.loads(text.replace("-1", "2"))


def test_the_forecast_has_what_the_contract_asks(tmp_path) -> None:
    file = tmp_path / "evening.csv"
    file.write_text(HEAD + STARS + NUMBER + BACK)
    words = ["controller", "forecast", str(file), "M 42", "M 81", "--site", "47.2,11.6,940"]
    run = CliRunner().invoke(group, [*words, "--json"])
    got = json.loads(run.output)
    assert [t["name"] for t in got["targets"]] == ["M 42", "M 81"]
    for t in got["targets"]:
        assert 0 <= t["hit_chance_at_zero"] <= t["hit_chance"] + 1e-9 <= 1 + 1e-9
        assert t["sigma_az_deg"] > 0
        assert math.isfinite(t["push_az_deg"] + t["push_alt_deg"] + t["sigma_alt_deg"])
    assert sum(got["sharing"].values()) == pytest.approx(1.0)
    assert got["stop"]["sigma_deg"] < 1.0
    said = CliRunner().invoke(group, words).output
    assert "push on" in said


SITE, AT = Site(47.2, 11.6, 940.0), Instant.parse("2027-01-28T18:00:00Z")


def test_an_object_out_of_its_lists_has_a_neighbour_in_them() -> None:
    messier, usual = Controller(catalogues=("M",)), Controller()
    target = find_target("NGC 1977")
    assert not knows(target, messier)
    assert knows(target, usual)
    assert nearest_known(target, usual, SITE, AT) is target
    assert nearest_known(target, messier, SITE, AT).label.startswith(("M 42", "M 43"))


def test_stars_and_planets_are_known_where_the_kit_says_so() -> None:
    star, planet = find_target("Betelgeuse"), find_target("Jupiter")
    assert knows(star, Controller())
    some = Controller(stars=("Rigel", "Acrux"), catalogues=())
    assert not knows(star, some)
    # Of its two stars one is down.
    assert nearest_known(star, some, SITE, AT).label == "Rigel"
    assert not knows(planet, Controller())
    assert knows(planet, Controller(catalogues=("planets",)))
    with pytest.raises(UserError, match="Nothing that the controller has"):
        nearest_known(star, Controller(stars=("Acrux",), catalogues=()), SITE, AT)


def test_a_part_of_an_object_has_no_number_of_its_own() -> None:
    part = next(d for d in deepsky.load() if d.label == "NGC 3314B")
    assert not knows(part, Controller())


def test_many_evenings_are_taken_as_they_are(tmp_path) -> None:
    paths = []
    for k, day in enumerate(("28", "29")):
        paths.append(tmp_path / f"{k}.csv")
        paths[-1].write_text((HEAD + STARS + NUMBER).replace("01-28", f"01-{day}"))
    words = ["controller", "nights", *map(str, paths), "--site", "47.2,11.6,940"]
    both = CliRunner().invoke(group, [*words, "--json"])
    table = tmp_path / "nights.csv"
    table.write_text(
        "shown_deg,star_a,time_a,star_b,time_b,upright_time\n"
        + "".join(
            f"0.9,Capella,2027-01-{d}T18:00:20Z,Hamal,2027-01-{d}T18:00:50Z,2027-01-{d}T18:00:00Z\n"
            for d in ("28", "29")
        )
    )
    same = CliRunner().invoke(group, ["controller", "nights", str(table), *words[-2:], "--json"])
    assert json.loads(both.output) == json.loads(same.output)
    paths[0].write_text(HEAD + STARS)
    none = CliRunner().invoke(group, ["controller", "nights", str(paths[0]), *words[-2:]])
    assert "evenings without a number" in str(none.exception)


def _forecast(tmp_path, text: str, *more: str):
    path = tmp_path / "e.csv"
    path.write_text(text)
    args = ["controller", "forecast", str(path), *more, "--site", "47.2,11.6,940", "--json"]
    done = CliRunner().invoke(group, args)
    assert done.exit_code == 0, done.output
    return json.loads(done.output)


def test_an_object_missed_lowers_the_chances(tmp_path) -> None:
    known = HEAD + STARS + NUMBER
    before = _forecast(tmp_path, known, "M 42", "M 81", "--utc", "2027-01-28T18:10:00Z")
    at = before["targets"][0]
    left = f"{-at['push_az_deg']:.2f},{-at['push_alt_deg']:.2f}"
    missed = f"2027-01-28T18:10:00Z,missed,M 42,,{left}\n"
    seen = _forecast(tmp_path, known + missed, "M 42", "M 81")
    assert seen["utc"][:16] == "2027-01-28T18:10"
    there, other = seen["targets"]
    assert there["sigma_az_deg"] > 1.1 * at["sigma_az_deg"]
    assert there["hit_chance"] < at["hit_chance"] - 0.05
    assert other["hit_chance"] < before["targets"][1]["hit_chance"]
    # What went wrong has become likelier, and that something has moved since the second star.
    none = {r["mistakes"][0]["kind"]: r["mistakes"][0]["probability"] for r in (before, seen)}
    assert none["none"] == seen["mistakes"][0]["probability"] < before["mistakes"][0]["probability"]
    assert any(m["kind"] == "slip" and m["index"] == 1 for m in seen["mistakes"])
    # Two fields of one search stand on two lines.
    read = read_evening(known + missed + missed.replace("18:10", "18:12"), "it")
    assert [len(m.left_deg) for m in read.missed] == [2]


def test_local_times_without_a_zone_are_refused(tmp_path) -> None:
    file = tmp_path / "evening.csv"
    text = (HEAD + STARS + NUMBER + BACK).replace("utc", "local").replace("T18", " 19")
    file.write_text(text.replace("Z,", ","))
    words = ["controller", "forecast", str(file), "M 42", "--site", "47.2,11.6,940"]
    run = CliRunner().invoke(group, words)
    assert isinstance(run.exception, UserError)
    assert "has local times, and no zone is known for the site" in str(run.exception)
    assert "--zone" in str(run.exception)
    assert CliRunner().invoke(group, [*words, "--zone", "Europe/Rome"]).exit_code == 0


def test_an_evening_given_twice_is_counted_once_and_said(tmp_path) -> None:
    file, again = tmp_path / "evening.csv", tmp_path / "again.csv"
    file.write_text(HEAD + STARS + NUMBER + BACK)
    again.write_text(HEAD + STARS + NUMBER)
    site = ["--site", "47.2,11.6,940"]

    def told(*words):
        run = CliRunner().invoke(group, ["controller", *words, *site, "--json"])
        assert run.exit_code == 0, run.output
        return json.loads(run.output)

    once = told("nights", str(file))
    twice = told("nights", str(file), str(again))
    assert twice["stop_sigma_deg"] == once["stop_sigma_deg"]
    assert "counted once" in twice["notes"][0]
    alone = told("forecast", str(file), "M 42")
    itself = told("forecast", str(file), "M 42", "--earlier", str(again))
    assert itself["stop"] == alone["stop"]
    assert "counted once" in itself["notes"][0]


def test_a_decimal_comma_is_a_number_on_the_command_line(tmp_path) -> None:
    words = ["why", "--star-a", "Capella", "--time-a", "2027-01-28T18:30:00Z", "--star-b", "Deneb",
             "--time-b", "2027-01-28T18:30:40Z", "--site", "47.2,11.6,940", "--json"]  # fmt: skip
    comma, point = (
        json.loads(CliRunner().invoke(group, [*words, "--shown", x]).output) for x in ("1,4", "1.4")
    )
    assert comma == point
    refused = CliRunner().invoke(group, [*words, "--shown", "1.4.2"])
    assert "--shown '1.4.2'" in str(refused.exception)
