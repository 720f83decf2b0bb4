"""Rising, setting and twilight against USNO, Meeus and another library; and where there is none."""

import numpy as np
import pytest

from plumbstar.sky.bodies import Body
from plumbstar.sky.events import darkness, night, rise_and_set, sun_crossings
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

MINUTE = 60.0
RIDGE = Site(47.2, 11.6, 940.0)
NOON = Instant.parse("2027-01-28T12:00:00Z")


def assert_near(event, iso, tolerance_s=MINUTE):
    assert event.instant is not None, event.reason
    assert abs(event.instant.minus(Instant.parse(iso))) < tolerance_s, str(event.instant)


def test_venus_from_boston():
    """Meeus 2nd ed. ex. 15.a: 1988-03-20, rise 12.4238, transit 19.675, set 2.911 h UT.

    Tolerance 1 min: Meeus interpolates a three-day table to 3 decimals of an hour.
    """
    site = Site(42.0 + 20.0 / 60.0, -(71.0 + 5.0 / 60.0))
    start = Instant.parse("1988-03-20T00:00:00Z")
    rising, setting = rise_and_set(Body("Venus"), start, site)
    assert_near(rising, "1988-03-20T12:25:26Z")
    assert_near(setting, "1988-03-20T02:54:40Z")


def test_sunrise_in_bluffton():
    """USNO one-day table, as in Skyfield 1.55 test_almanac.py: 11:13 and 23:50 UTC."""
    site = Site(40.8939, -83.8917)
    rising, setting = rise_and_set(Body("Sun"), Instant.parse("2018-09-12T04:00:00Z"), site)
    assert_near(rising, "2018-09-12T11:13:00Z")
    assert_near(setting, "2018-09-12T23:50:00Z")


@pytest.mark.parametrize(
    ("altitude", "dawn", "dusk"),
    [
        (-18.0, "04:44:39", "19:21:53"),
        (-12.0, "05:10:55", "18:55:38"),
        (-6.0, "05:37:05", "18:29:29"),
    ],
)
def test_twilight_on_the_equator(altitude, dawn, dusk):
    """Computed with astronomy-engine 2.1.19; ours agrees to 2 s."""
    sinking, climbing = sun_crossings(
        Instant.parse("2000-01-01T00:00:00Z"), Site(0.0, 0.0), altitude
    )
    assert_near(climbing, f"2000-01-01T{dawn}Z", 5.0)
    assert_near(sinking, f"2000-01-01T{dusk}Z", 5.0)


@pytest.mark.parametrize("name", ["Betelgeuse", "M42", "Saturn", "Moon"])
def test_events_are_where_they_say(name):
    """At rising and setting the place is on the horizon, in the east and in the west."""
    target = lookup.find_target(name)
    rising, setting = rise_and_set(target, NOON, RIDGE)
    limb = 0.27 if name == "Moon" else 0.0
    for event in (rising, setting):
        _, alt = place_of(target, event.instant, RIDGE, airless=True)
        assert alt == pytest.approx(-34.0 / 60.0 - limb, abs=0.02 if limb else 1e-3)
    assert (
        place_of(target, rising.instant, RIDGE)[0]
        < 180.0
        < place_of(target, setting.instant, RIDGE)[0]
    )


def test_never_and_always():
    up = rise_and_set(lookup.find_target("Polaris"), NOON, RIDGE)[1]
    assert up.instant is None
    assert "stays above" in up.reason
    down = rise_and_set(lookup.find_target("Canopus"), NOON, RIDGE)[0]
    assert down.instant is None
    assert "stays below" in down.reason


@pytest.mark.parametrize(
    ("lat", "utc", "words"),
    [
        (70.0, "2027-06-21T12:00:00Z", "polar day"),
        (90.0, "2027-06-21T12:00:00Z", "polar day"),
        (-90.0, "2027-06-21T12:00:00Z", "polar night"),
        (80.0, "2027-12-21T12:00:00Z", "polar night"),
    ],
)
def test_polar_day_and_night(lat, utc, words):
    n = night(Instant.parse(utc), Site(lat, 180.0))
    assert n.sunset.instant is None
    assert words in n.sunset.reason
    assert words in n.sunrise.reason


def test_white_night():
    """At 60 N in June it never gets darker than civil twilight, and the reason says so."""
    n = night(Instant.parse("2027-06-21T10:00:00Z"), Site(60.0, 20.0))
    assert n.sunset.instant is not None
    assert n.sunrise.instant is not None
    assert n.astronomical_dusk.instant is None
    assert "stays above -18" in n.astronomical_dusk.reason


def test_a_night_is_in_order():
    n = night(NOON, RIDGE)
    times = [getattr(n, k).instant for k in n.__slots__]
    assert times == sorted(times)
    assert times[-1].minus(times[0]) < 86400.0


def test_grazing_sun_is_not_missed():
    """Near the end of polar night the Sun is up for a few minutes: both crossings are found."""
    site = Site(67.6, 20.0)
    shortest = np.inf
    for day in range(1, 31):
        start = Instant.parse(f"2027-12-{day:02d}T00:00:00Z")
        rising, setting = rise_and_set(Body("Sun"), start, site)
        # Every rising within the day has a setting after it.
        if rising.instant is not None and rising.instant.minus(start) < 43200.0:
            assert setting.instant is not None
            shortest = min(shortest, setting.instant.minus(rising.instant))
    assert 0.0 < shortest < 3600.0


def test_words_for_the_light():
    assert [darkness(a) for a in (5.0, -3.0, -8.0, -15.0, -30.0)] == [
        "daylight", "bright twilight", "twilight", "almost dark", "dark",
    ]  # fmt: skip
