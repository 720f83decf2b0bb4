"""``plumbstar places`` as a person runs it."""

import json

import pytest
from click.testing import CliRunner

from plumbstar.commands.places import command, compass
from plumbstar.errors import UserError
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

UTC = "2027-01-28T18:30:00Z"
WHERE = ["--site", "47.2,11.6,940", "--utc", UTC]


def run(*args: str) -> str:
    """The command's output; errors are raised, not printed (cli.py prints them)."""
    result = CliRunner().invoke(command, list(args), catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def test_json_is_one_object_with_what_was_asked():
    answer = json.loads(run("alf Ori", "M42", "Moon", *WHERE, "--json"))
    assert [p["name"] for p in answer["places"]] == ["alf Ori", "M42", "Moon"]
    assert answer["places"][0]["label"] == "Betelgeuse"
    assert answer["places"][0]["designation"] == "α Ori"
    assert answer["utc"].startswith("2027-01-28T18:30:00")
    assert answer["site"]["lat_deg"] == 47.2
    assert answer["places"][2]["below_horizon"] is True
    assert 0.0 <= answer["places"][2]["lit_fraction"] <= 1.0
    site, when = Site(47.2, 11.6, 940.0), Instant.parse(UTC)
    for p in answer["places"]:
        az, alt = place_of(find_target(p["name"]), when, site)
        assert p["az_deg"] == pytest.approx(az, abs=1e-5)
        assert p["alt_deg"] == pytest.approx(alt, abs=1e-5)


def test_airless_is_lower_by_the_refraction():
    """34 arcmin at the horizon, 1 at 45 deg (Bennett); at 41.6 deg and 906 hPa one arcminute."""
    seen = json.loads(run("Betelgeuse", *WHERE, "--json"))["places"][0]
    bare = json.loads(run("Betelgeuse", *WHERE, "--json", "--airless"))["places"][0]
    assert seen["az_deg"] == bare["az_deg"]
    assert (seen["alt_deg"] - bare["alt_deg"]) * 60.0 == pytest.approx(0.98, abs=0.05)


def test_a_person_can_read_it():
    text = run("Betelgeuse", "Moon", *WHERE)
    lines = text.splitlines()
    assert "Betelgeuse" in lines[1]
    assert "south-east" in lines[1]
    assert "below the horizon" in lines[2]
    assert "Earth-rotation table" not in text


def test_end_of_the_table_is_said_once():
    text = run("Betelgeuse", "Rigel", "Sirius", "--site", "47.2,11.6", "--utc", "2049-01-28T18:30")
    assert text.count("Earth-rotation table ends") == 1
    answer = json.loads(run("Vega", "--site", "1,2", "--utc", "2049-01-28", "--json"))
    assert answer["earth_table_ended"] is True


def test_now_is_the_default():
    answer = json.loads(run("Vega", "--site", "1,2", "--json"))
    assert answer["utc"] > "2026"


@pytest.mark.parametrize(
    "args",
    [[], ["Vega"], ["Betelguese", *WHERE], ["Vega", "--site", "north"], ["pi Ori", *WHERE],
     ["Vega", "--site", "1,2", "--utc", "yesterday"], ["Vega", "--site", "95,2"]],
)  # fmt: skip
def test_mistakes_are_user_errors(args):
    with pytest.raises(UserError):
        CliRunner().invoke(command, args, catch_exceptions=False)


def test_compass():
    assert [compass(a) for a in (0.0, 359.0, 44.0, 180.0, 271.0)] == [
        "north", "north", "north-east", "south", "west",
    ]  # fmt: skip


def test_no_magnitude_is_minus_nothing():
    # V is -0.01 in the catalogue.
    assert find_target("Rigil Kentaurus").v_mag < 0
    assert "mag   0.0" in run("Rigil Kentaurus", *WHERE)
