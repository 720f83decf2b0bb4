"""The small things every command reads: times, sites, skylines."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbstar.errors import UserError
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
