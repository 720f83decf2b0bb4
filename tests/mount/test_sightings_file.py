"""Sightings as a table: read as spreadsheets write it, refused with the place."""

from __future__ import annotations

import pytest

from plumbstar.commands.options import sightings_of
from plumbstar.errors import UserError
from plumbstar.mount import sightings_file
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.star_places import placing
from plumbstar.sky.site import Site

RIDGE = Site(47.2, 11.6, 940)


def parse(text: str, site: Site | None, source: str) -> list[Sighting]:
    return sightings_file.parse(text, placing(site), source).named()


GOOD = "utc,star,az_reading_deg,alt_reading_deg\n2027-01-28T17:15:00Z,capella,30.5,61.2\n"


def test_a_sightings_file_becomes_sightings() -> None:
    (s,) = parse("# my evening\n\n" + GOOD, RIDGE, "x.csv")
    assert s.star == "Capella"
    assert (s.az_reading_deg, s.alt_reading_deg) == (30.5, 61.2)
    # Capella at 62 deg in the east then (plumbstar places, checked in tests/sky against skyfield).
    assert s.true_alt_deg == pytest.approx(61.8, abs=0.5)
    (p,) = parse("true_az_deg,true_alt_deg,encoder_az_deg,encoder_alt_deg\n1,2,3,4\n", None, "y")
    assert (p.true_az_deg, p.true_alt_deg, p.az_reading_deg, p.alt_reading_deg) == (1, 2, 3, 4)


@pytest.mark.parametrize(
    "text",
    [
        GOOD.replace(",", ";"),
        GOOD.replace(",", ";").replace("30.5", "30,5").replace("61.2", "61,2"),
        GOOD.replace(",", "\t"),
        GOOD.replace("\n", "\r\n"),
        GOOD.replace("\n", ",,\n") + ",,,,,\n",
        GOOD.replace("utc,star,az_", "UTC, Star ,AZ_"),
        GOOD.replace("30.5", '"30,5°"'),
    ],
)
def test_what_a_spreadsheet_makes_of_the_table_is_understood(text: str) -> None:
    assert parse(text, RIDGE, "x.csv") == parse(GOOD, RIDGE, "x.csv")


def test_a_typographic_minus_is_a_minus() -> None:
    (s,) = parse(GOOD.replace("30.5", "−30.5"), RIDGE, "x.csv")
    assert s.az_reading_deg == -30.5


def test_a_line_written_twice_counts_once_and_is_said() -> None:
    twice = GOOD + GOOD.splitlines()[1] + "\n"
    found = sightings_file.parse(twice, placing(RIDGE), "x.csv")
    assert found.named() == parse(GOOD, RIDGE, "x.csv")
    assert found.notes() == ["Line 3 repeats line 2 and is counted once."]


def test_a_file_that_is_not_text_says_how_to_save_it(tmp_path) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(GOOD.encode("utf-16-be"))
    with pytest.raises(UserError, match="Save it again as UTF-8"):
        sightings_of(str(path), RIDGE).named()
    path.write_bytes(GOOD.encode("utf-16"))
    assert sightings_of(str(path), RIDGE).named() == parse(GOOD, RIDGE, "x.csv")
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert sightings_of(str(path), RIDGE).named() == parse(GOOD, RIDGE, "x.csv")


@pytest.mark.parametrize(
    ("text", "site", "words"),
    [
        ("", RIDGE, ["empty"]),
        ("utc,star\n", RIDGE, ["columns"]),
        (GOOD.replace("alt_reading_deg", "alt_readng_deg"), RIDGE, ["alt_readng_deg"]),
        (GOOD, None, ["--site"]),
        (GOOD.replace("capella", "capela"), RIDGE, ["line 2", "Capella"]),
        (GOOD.replace("61.2", "high"), RIDGE, ["line 2", "'high'"]),
        (GOOD.replace("61.2", "nan"), RIDGE, ["line 2"]),
        (GOOD.replace("61.2", "461.2"), RIDGE, ["line 2", "altitude reading"]),
        (GOOD.replace("2027-01-28T17:15:00Z", "soon"), RIDGE, ["line 2", "'soon'"]),
        (GOOD + "1,2,3\n", RIDGE, ["line 3", "3 values"]),
        (GOOD.replace("capella", "Canopus"), RIDGE, ["line 2", "below the horizon"]),
        (GOOD.splitlines()[0] + "\n", RIDGE, ["nothing else"]),
        ("star,star,utc,az_reading_deg,alt_reading_deg\n", RIDGE, ["twice"]),
        (GOOD.replace("30.5", "30.5,1"), RIDGE, ["line 2", "5 values"]),
        (GOOD.replace("star,", "star,encoder_az_deg,"), RIDGE, ["both encoder_az_deg and az_r"]),
        (
            "true_az_deg,true_alt_deg,az_reading_deg,alt_reading_deg\n1,91,1,9\n",
            None,
            ["x.csv, line 2: true altitude 91"],
        ),
    ],
)
def test_every_mistake_in_a_file_names_its_line(text: str, site, words: list[str]) -> None:
    with pytest.raises(UserError) as e:
        parse(text, site, "x.csv")
    for w in words:
        assert w in str(e.value)
