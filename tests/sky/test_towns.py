"""Towns: found however they are typed, with zones that the zone database knows."""

from __future__ import annotations

import math
import zoneinfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.errors import UserError
from plumbstar.sky.lists import towns
from plumbstar.sky.site import Site
from samples import tries

TOWNS = towns.load()


def test_every_zone_is_known_and_every_place_on_earth() -> None:
    known = zoneinfo.available_timezones()
    assert len(TOWNS) > 60_000
    step = range(0, len(TOWNS), 97)
    for t in (TOWNS[i] for i in step):
        assert t.time_zone in known
        assert t.name
        assert len(t.country) > 2, t
        Site(t.lat_deg, t.lon_deg, time_zone=t.time_zone)


@pytest.mark.parametrize(
    ("typed", "label"),
    [
        ("zurich", "Zürich, Switzerland"),
        ("  ZÜRICH ", "Zürich, Switzerland"),
        ("wien", "Vienna, Austria"),
        ("vienna, us", "Vienna, VA, United States"),
        ("den haag", "The Hague, The Netherlands"),
        ("st johns", "St. John's, Canada"),
        ("springfield, il", "Springfield, IL, United States"),
        ("paris, texas", ""),
        ("paris, tx", "Paris, TX, United States"),
        ("Sao Paulo", "São Paulo, Brazil"),
        ("Capetown", "Cape Town, South Africa"),
        ("Insbruk", "Innsbruck, Austria"),
        ("Kopenhagen", "Copenhagen, Denmark"),
    ],
)
def test_towns_as_they_are_typed(typed: str, label: str) -> None:
    found = TOWNS.find(typed)
    assert (found[0].label if found else "") == label


def test_a_town_with_several_names_alike_is_given_once() -> None:
    labels = [t.label for t in towns.find("nirobi")]
    assert labels[0] == "Nairobi, Kenya"
    assert len(labels) == len(set(labels))


@pytest.mark.parametrize("typed", ["", "x", "qqqqzzzz", ",", "wien, japan", "1" * 500])
def test_no_town_is_one_clear_error(typed: str) -> None:
    with pytest.raises(UserError) as e:
        towns.find(typed)
    assert len(str(e.value)) < 250


@pytest.mark.parametrize(
    ("name", "lat", "lon", "zone"),
    [
        # Geographic coordinates to a tenth of a degree, and zones: from memory.
        ("Innsbruck", 47.3, 11.4, "Europe/Vienna"),
        ("Denver", 39.7, -105.0, "America/Denver"),
        ("Cape Town", -33.9, 18.4, "Africa/Johannesburg"),
        ("Sydney", -33.9, 151.2, "Australia/Sydney"),
    ],
)
def test_some_known_places(name: str, lat: float, lon: float, zone: str) -> None:
    t = TOWNS.find(name)[0]
    assert (t.lat_deg, t.lon_deg) == pytest.approx((lat, lon), abs=0.1)
    assert t.time_zone == zone


def test_the_zone_is_that_of_the_nearest_town() -> None:
    assert TOWNS.zone_at(47.2, 11.6) == "Europe/Vienna"
    assert TOWNS.zone_at(-31.5, 21.0) == "Africa/Johannesburg"
    assert TOWNS.zone_at(-45.0, -120.0) == ""  # the open ocean


@given(st.floats(-90, 90), st.floats(-180, 360))
@settings(max_examples=tries(13, 40))
def test_nearest_is_nearest(lat: float, lon: float) -> None:
    town, km = TOWNS.nearest(lat, lon)

    def apart(t: towns.Town) -> float:
        # The angle between unit vectors, by the chord: another form than the module's.
        a, b, c, d = map(math.radians, (lat, lon, t.lat_deg, t.lon_deg))
        u = (math.cos(a) * math.cos(b), math.cos(a) * math.sin(b), math.sin(a))
        v = (math.cos(c) * math.cos(d), math.cos(c) * math.sin(d), math.sin(c))
        return 2 * 6371.0 * math.asin(min(1.0, math.dist(u, v) / 2))

    assert apart(town) == pytest.approx(km, abs=0.01)
    assert min(apart(TOWNS[i]) for i in range(0, len(TOWNS), 501)) >= km - 0.01


@given(st.text(max_size=40))
@settings(max_examples=tries(10, 25), deadline=None)
def test_any_text_is_towns_or_none(text: str) -> None:
    assert len(TOWNS.find(text, 3)) <= 3
