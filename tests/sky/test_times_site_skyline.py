"""The small things every command reads: times, sites, skylines, sightings files."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbstar.errors import UserError
from plumbstar.mount.sightings_file import parse, read
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant

RIDGE = Site(47.2, 11.6, 940)


@given(st.datetimes(dt.datetime(1900, 1, 2), dt.datetime(2100, 12, 30)))
def test_times_round_trip_to_the_microsecond(moment: dt.datetime) -> None:
    text = moment.isoformat(timespec="microseconds") + "Z"
    assert Instant.parse(text).iso(6) == text
    unix = moment.replace(tzinfo=dt.UTC).timestamp()
    assert Instant.parse(text).to_unix() == pytest.approx(unix, abs=2e-6)
    assert Instant.from_unix(unix).minus(Instant.parse(text)) == pytest.approx(0, abs=2e-6)


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("2027-01-28T19:30:00+02:00", "2027-01-28T17:30:00Z"),
        ("2027-01-28T00:30+0200", "2027-01-27T22:30:00Z"),
        ("2027-01-28 17:30", "2027-01-28T17:30:00Z"),
        ("2027-01-28", "2027-01-28T00:00:00Z"),
        ("2016-12-31T23:59:60Z", "2017-01-01T00:00:00Z"),
        ("2027-12-31T23:59:59.9996Z", "2028-01-01T00:00:00Z"),
    ],
)
def test_times_in_usual_forms(text: str, same: str) -> None:
    assert Instant.parse(text).iso() == same


@pytest.mark.parametrize(
    "text", ["yesterday", "2027-02-30", "2027-01-28T25:00", "28.1.2027", "", "1850-01-01"]
)
def test_odd_times_are_refused_in_words(text: str) -> None:
    with pytest.raises(UserError) as e:
        Instant.parse(text)
    assert e.value.remedy


@pytest.mark.parametrize(
    ("text", "site"),
    [
        ("47.2,11.6", Site(47.2, 11.6)),
        ("47.2, 11.6, 940", Site(47.2, 11.6, 940)),
        ("31.5S,21E,1050m", Site(-31.5, 21, 1050)),
        ("-31.5,-21", Site(-31.5, -21)),
    ],
)
def test_sites(text: str, site: Site) -> None:
    assert Site.parse(text) == site


@pytest.mark.parametrize("text", ["47.2", "a,b", "91,0", "0,400", "47.2,11.6,940,3", "1,2,99999"])
def test_odd_sites_are_refused_in_words(text: str) -> None:
    with pytest.raises(UserError):
        Site.parse(text)


def test_pressure_follows_the_elevation() -> None:
    # ICAO standard atmosphere at 940 m: 905 hPa (memory).
    assert RIDGE.pressure == pytest.approx(905, abs=1.0)
    assert Site(0, 0).pressure == 1013.25
    assert Site(0, 0, pressure_hpa=950).pressure == 950


def test_a_skyline_is_joined_by_lines_right_round() -> None:
    line = Skyline.parse("# trees\n10:20, 350:40  180:0")
    assert line.points == ((10, 20), (180, 0), (350, 40))
    got = line.altitude_deg(np.array([0.0, 10, 95, 360, 355, 5]))
    assert got == pytest.approx([30, 20, 10, 30, 35, 25])
    assert Skyline.parse(line.text()) == line
    assert float(Skyline().altitude_deg(33.0)) == 0


@pytest.mark.parametrize("text", ["10-20", "10:95", "400:3", "x:3"])
def test_odd_skylines_are_refused_in_words(text: str) -> None:
    with pytest.raises(UserError):
        Skyline.parse(text)


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
    repeats: list[str] = []
    twice = GOOD + GOOD.splitlines()[1] + "\n"
    assert parse(twice, RIDGE, "x.csv", repeats) == parse(GOOD, RIDGE, "x.csv")
    assert repeats == ["Line 3 repeats line 2 and is counted once."]


def test_a_file_that_is_not_text_says_how_to_save_it(tmp_path) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(GOOD.encode("utf-16"))
    with pytest.raises(UserError, match="UTF-8"):
        read(str(path), RIDGE)
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert read(str(path), RIDGE) == parse(GOOD, RIDGE, "x.csv")


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
        (GOOD.replace("star,", "star,encoder_az_deg,"), RIDGE, ["both az_reading_deg and enc"]),
        (GOOD + GOOD.splitlines()[1], RIDGE, ["line 3", "repeats line 2"]),
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
