"""Local time through the nights on which clocks are changed, and names of zones as typed."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbstar.errors import UserError
from plumbstar.sky.local_time import (
    abbreviation,
    local,
    next_full_hour,
    offset_by_clock_s,
    offset_s,
    offset_words,
    spans,
    zone_named,
    zone_or_offset,
)
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant


@pytest.mark.parametrize(
    ("utc", "zone", "shown"),
    [
        # European summer time turns at 01:00 UTC on the last Sunday of March and of October:
        # Directive 2000/84/EC, articles 2 and 3 (memory).
        ("2027-03-28T00:59:59Z", "Europe/Vienna", "01:59 CET"),
        ("2027-03-28T01:00:00Z", "Europe/Vienna", "03:00 CEST"),
        ("2027-10-31T00:30:00Z", "Europe/Vienna", "02:30 CEST"),
        ("2027-10-31T01:30:00Z", "Europe/Vienna", "02:30 CET"),
        # The United States: second Sunday of March, first of November, at 2 in the morning by the
        # clock: Energy Policy Act of 2005, section 110 (memory).
        ("2027-03-14T08:59:59Z", "America/Denver", "01:59 MST"),
        ("2027-03-14T09:00:00Z", "America/Denver", "03:00 MDT"),
        ("2027-11-07T07:30:00Z", "America/Denver", "01:30 MDT"),
        ("2027-11-07T08:30:00Z", "America/Denver", "01:30 MST"),
        # No summer time; half hours; a zone without letters (memory).
        ("2027-07-15T18:00:00Z", "Africa/Johannesburg", "20:00 SAST"),
        ("2027-07-15T18:00:00Z", "Asia/Kolkata", "23:30 IST"),
        ("2027-07-15T18:00:00Z", "Asia/Dubai", "22:00 UTC+04"),
        ("2027-07-15T18:00:00Z", "", "18:00 UTC"),
        ("2027-07-15T18:00:00Z", "Atlantis/Capital", "18:00 UTC"),
    ],
)
def test_clocks_through_the_year(utc: str, zone: str, shown: str) -> None:
    t = Instant.parse(utc)
    assert local(t, zone, with_zone=True) == shown
    assert shown == f"{local(t, zone)} {abbreviation(t, zone)}"


@given(
    st.datetimes(dt.datetime(1970, 1, 2), dt.datetime(2090, 12, 30)),
    st.sampled_from(["", "Europe/Rome", "Australia/Lord_Howe", "America/St_Johns", "Asia/Tokyo"]),
)
def test_local_time_is_utc_and_the_offset(moment: dt.datetime, zone: str) -> None:
    moment = moment.replace(microsecond=0)
    t = Instant.parse(moment.isoformat() + "Z")
    then = moment + dt.timedelta(seconds=offset_s(t, zone))
    assert local(t, zone) == then.strftime("%H:%M")
    # The same minutes as the ISO text shows, to the last millisecond of one.
    nearly = t.plus_seconds(59.9996)
    assert local(nearly, "") == nearly.iso()[11:16]
    # And back from what the clock shows; two moments of one night have the same clock.
    by_clock = offset_by_clock_s(then.date(), (then.hour * 60 + then.minute) * 60.0, zone)
    assert by_clock - offset_s(t, zone) in (0, 1800, 3600)


def test_a_page_gets_the_turn_of_the_night() -> None:
    start, end = Instant.parse("2027-10-30T16:20:00Z"), Instant.parse("2027-10-31T16:20:00Z")
    got = [(t.iso(), s, short) for t, s, short in spans(start, end, "Europe/Vienna")]
    assert got == [
        ("2027-10-30T16:20:00Z", 7200, "CEST"),
        ("2027-10-31T01:00:00Z", 3600, "CET"),
    ]
    assert len(spans(start, end, "Asia/Tokyo")) == 1
    assert spans(start, end, "")[0][1:] == (0, "UTC")


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Europe/Rome", "Europe/Rome"),
        (" europe/rome ", "Europe/Rome"),
        ("America/New York", "America/New_York"),
        ("berlin", "Europe/Berlin"),
        ("utc", "UTC"),
        ("", ""),
    ],
)
def test_zones_as_typed(typed: str, name: str) -> None:
    assert zone_named(typed) == name


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("Europe/Roma", "Europe/Rome"),
        ("+1", "Europe/Rome or America/Denver"),
        ("Etc/GMT+3", "as Europe/Rome"),
        ("x" * 500, "UTC"),
    ],
)
def test_other_zones_are_refused_in_words(typed: str, said: str) -> None:
    with pytest.raises(UserError) as e:
        zone_named(typed)
    assert said in str(e.value)
    assert len(str(e.value)) < 300


@pytest.mark.parametrize(
    ("typed", "zone", "hours", "words"),
    [
        ("+01:00", "+01:00", 1.0, "UTC+1"),
        ("1", "+01:00", 1.0, "UTC+1"),
        ("-3:30", "-03:30", -3.5, "UTC−3:30"),
        ("+0545", "+05:45", 5.75, "UTC+5:45"),
        ("UTC+2", "+02:00", 2.0, "UTC+2"),
        ("−5", "-05:00", -5.0, "UTC−5"),
        ("utc", "", 0.0, "UTC"),
        ("Europe/Berlin", "Europe/Berlin", 1.0, "UTC+1"),
    ],
)
def test_zones_for_one_evening_by_hours_or_name(
    typed: str, zone: str, hours: float, words: str
) -> None:
    t = Instant.parse("2027-01-28T19:30:40Z")
    assert zone_or_offset(typed) == zone
    assert offset_s(t, zone) == 3600 * hours
    assert offset_words(t, zone) == words
    assert local(next_full_hour(t, zone), zone)[3:] == "00"
    assert 0.0 < next_full_hour(t, zone).minus(t) <= 3600.0


@pytest.mark.parametrize(
    "typed", ["Mars/Base", "+25", "x+1", "../../etc/passwd", "a\0b", "+01:75", "\udc80"]
)
def test_zones_for_one_evening_that_are_none(typed: str) -> None:
    with pytest.raises(UserError, match="hours ahead of UTC"):
        zone_or_offset(typed)


def test_sites_of_older_records_load_and_newer_ones_come_back() -> None:
    old = b'{"lat_deg":47.2,"lon_deg":11.6,"elevation_m":940.0,"name":"Thornback Ridge"}'
    site = msgspec.json.decode(old, type=Site)
    assert site == Site(47.2, 11.6, 940.0, name="Thornback Ridge")
    assert (site.time_zone, site.zenith_mag) == ("", None)
    full = Site(47.2, 11.6, 940.0, name="Ridge", time_zone="Europe/Vienna", zenith_mag=21.3)
    assert msgspec.json.decode(msgspec.json.encode(full), type=Site) == full
    assert msgspec.convert(msgspec.to_builtins(full), Site) == full
    # A zone that another computer knew is no reason to lose the record.
    assert Site(0, 0, time_zone="Mars/Olympus").time_zone == "Mars/Olympus"


@pytest.mark.parametrize("wrong", [{"time_zone": "x y"}, {"zenith_mag": 5}, {"zenith_mag": 1e99}])
def test_odd_zones_and_skies_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(UserError):
        Site(0, 0, **wrong)  # type: ignore[arg-type]
