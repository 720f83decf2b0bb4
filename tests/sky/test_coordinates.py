"""Coordinates as people type them, and what is refused because it says two things."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbstar.errors import UserError
from plumbstar.sky.coordinates import Coordinates, parse, words
from plumbstar.sky.site import Site

RIDGE = (47.2, 11.6)
EXACT = (47 + 12 / 60 + 30 / 3600, 11.6)


@pytest.mark.parametrize(
    "text",
    [
        "47.2,11.6",
        "47.2 11.6",
        "47.2 N 11.6 E",
        "47.2N11.6E",
        "N47.2 E11.6",
        "N 47° 12.0' E 011° 36.0'",
        "N 47 12 E 011 36",
        "47°12'N 11°36'E",
        "47° 12′ N, 11° 36′ E",
        "47º12´ 11º36´",
        "47d12m 11d36m",
        "47 deg 12 min north, 11 deg 36 min east",
        "47 12 N 11 36 E",
        "47 12, 11 36",
        "47:12 11:36",
        "47,2; 11,6",
        "47,2 11,6",
        "47,2, 11,6",
        "47,2 N 11,6 E",
        "11.6 E, 47.2 N",
        "lon 11.6 lat 47.2",
        "lat: 47.2, lon: 11.6",
        "geo:47.2,11.6;u=35",
        "+47.2+011.6/",
        "(47.2, 11.6)",
        "47.2 N, +11.6",
    ],
)
def test_every_usual_form_is_the_same_place(text: str) -> None:
    c = parse(text)
    assert (c.lat_deg, c.lon_deg) == pytest.approx(RIDGE, abs=1e-12)
    assert (c.elevation_m, c.name) == (0.0, "")


@pytest.mark.parametrize(
    "text",
    [
        "47 12 30 N, 11 36 00 E",
        "47d12m30s 11d36m",
        "47d12m30s 11d36m00s",
        "47°12'30\"N 11°36'0\"E",
        "47°12'30''N 11°36'E",
        "47° 12′ 30″, 11° 36′",
        "47 12 30,11 36 00",
        "47:12:30, 11:36:00",
        "47° 12.5′ N 11° 36′ E",
    ],
)
def test_minutes_and_seconds(text: str) -> None:
    c = parse(text)
    assert (c.lat_deg, c.lon_deg) == pytest.approx(EXACT, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "lat", "lon"),
    [
        ("31.5 S 21 E", -31.5, 21),
        ("S31.5 W21", -31.5, -21),
        ("−31.5, −21", -31.5, -21),
        ("-31 30, 21 0", -31.5, 21),
        ("-0 30, -0 15", -0.5, -0.25),
        # The s after minutes is seconds, unless only as a hemisphere does the pair make sense.
        ("31d30m36s 21d0m36s", 31.51, 21.01),
        ("31d30m36s 21d0m36e", -31.51, 21.01),
        ("31d30m36sS 21d0m36sE", -31.51, 21.01),
    ],
)
def test_south_and_west(text: str, lat: float, lon: float) -> None:
    c = parse(text)
    assert (c.lat_deg, c.lon_deg) == pytest.approx((lat, lon), abs=1e-12)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("47.2,11.6,940", 940),
        ("47.2 11.6 940", 940),
        ("47.2N 11.6E (940 m)", 940),
        ("47°12' 11°36' 940m", 940),
        ("47.2 N 11.6 E 3084 ft", 940.0032),  # 3084 times 0.3048, the foot by definition
        ("47.2 N 11.6 E 3,084 ft", 940.0032),
        ("47,2; 11,6; 940", 940),
        ("lat 47.2 lon 11.6 height: 940 metres", 940),
        ("47.2, 11.6, -5 m", -5),
        ("geo:47.2,11.6,940", 940),
        ("47d12m, 11d36m, 40m", 40),
    ],
)
def test_heights_in_metres_and_feet(text: str, metres: float) -> None:
    c = parse(text)
    assert (c.lat_deg, c.lon_deg) == pytest.approx(RIDGE, abs=1e-12)
    assert c.elevation_m == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Thornback Ridge: 47.2, 11.6, 940", "Thornback Ridge"),
        ("Thornback Ridge 47.2 N 11.6 E 940 m", "Thornback Ridge"),
        ("Thornback Ridge, N47.2 E11.6, 940", "Thornback Ridge"),
        ("47.2,11.6,940 (Thornback  Ridge)", "Thornback Ridge"),
        ("47.2 11.6 940 m, Heron's field 2", "Heron's field 2"),
        ("Field 2: 47.2, 11.6, 940", "Field 2"),
        ("Räuberhöhle: 47.2, 11.6, 940", "Räuberhöhle"),
    ],
)
def test_a_name_before_or_after(text: str, name: str) -> None:
    assert parse(text) == Coordinates(47.2, 11.6, 940, name)
    assert Site.parse(text) == Site(47.2, 11.6, 940, name=name)


@pytest.mark.parametrize(
    "text",
    [
        "47 12 11",  # 47°12' and 11°, or 47° and 12° and 11 m?
        "47 12 11 36",
        "47 12 30 11 36 00",
        "47,11, 45",  # 47.11 and 45, or 47 and 11 and 45 m?
        "47° 11° 45 m",  # 11°45', or 45 metres?
        "31d30m12s -21",  # 12 seconds, or south?
        "Field 2, 47.2, 11.6",  # does the 2 belong to the name?
    ],
)
def test_what_could_be_two_places_is_refused_and_both_are_named(text: str) -> None:
    with pytest.raises(UserError, match=r"which could be .* or ") as e:
        parse(text)
    assert "comma" in e.value.remedy


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("47.2, -11.6 W", "says it twice"),
        ("-47.2 S, 11.6 E", "says it twice"),
        ("47.2 N, 31.5 S", "both longitudes"),
        ("47.2 N, 11.6", "has a letter and the other has none"),
        ("47 72 N, 11 E", "up to 59"),
        ("47.2", "the site '47.2'"),
        ("47.2,11.6,940,3", "the site"),
        ("47.2-11.6", "the site"),
        ("a,b", "the site"),
        ("", "the site ''"),
        ("Innenhof", "the site"),
        ("1" * 300, "300 characters"),
    ],
)
def test_what_says_no_place_is_refused_in_words(text: str, said: str) -> None:
    with pytest.raises(UserError) as e:
        parse(text)
    assert said in str(e.value).replace("or both as longitudes", "both longitudes")
    assert "47.2,11.6,940" in e.value.remedy
    assert len(str(e.value)) < 400


LAT = st.floats(-89.99, 89.99)
LON = st.floats(-179.99, 179.99)
HEIGHT = st.integers(-400, 8000)


@given(LAT, LON, HEIGHT)
def test_words_and_back(lat: float, lon: float, height: int) -> None:
    c = parse(words(lat, lon, height, 6))
    assert (c.lat_deg, c.lon_deg) == pytest.approx((lat, lon), abs=5.1e-7)
    assert c.elevation_m == height


@given(LAT, LON, HEIGHT, st.sampled_from(range(8)))
def test_any_place_in_any_form_comes_back(lat: float, lon: float, height: int, form: int) -> None:
    def dms(value: float, letters: str, marks: str) -> str:
        ticks = round(abs(value) * 360_000)
        d, rest = divmod(ticks, 360_000)
        m, s = divmod(rest, 6000)
        a, b, c = marks
        return f"{d}{a}{m}{b}{s / 100:.2f}{c}{letters[value < 0]}"

    north, east = "NS"[lat < 0], "EW"[lon < 0]
    text = [
        f"{lat:.6f},{lon:.6f},{height}",
        f"{lat:.6f} {lon:.6f} {height} m",
        f"{abs(lat):.6f} {north} {abs(lon):.6f} {east} {height} m",
        f"{north}{abs(lat):.6f} {east}{abs(lon):.6f}, {height}",
        f"{lat:.6f}; {lon:.6f}; {height}".replace(".", ","),
        f"{dms(lat, 'NS', '°′″')} {dms(lon, 'EW', '°′″')} {height} m",
        f"{dms(lat, 'NS', 'dms')} {dms(lon, 'EW', 'dms')} {height} m",
        f"{dms(lon, 'EW', '   ')}, {dms(lat, 'NS', '   ')}, {height}",
    ][form]
    c = parse(text)
    assert (c.lat_deg, c.lon_deg) == pytest.approx((lat, lon), abs=2e-6)
    assert c.elevation_m == height


@given(
    st.text(max_size=60)
    | st.text(alphabet="0123456789 .,;:-+°'\"dmsNSEW/abft−′″", max_size=24)
    | st.lists(
        st.sampled_from(["47", "11.6", "12", "-", ",", " ", "°", "'", "N", "s", "m", "Ridge", ":"]),
        max_size=14,
    ).map("".join)
)
def test_any_text_is_a_place_or_one_clear_error(text: str) -> None:
    with contextlib.suppress(UserError):
        c = parse(text)
        assert math.isfinite(c.lat_deg + c.lon_deg + c.elevation_m)
        assert parse(text) == c
        assert c.name.isprintable()


@pytest.mark.parametrize(
    "text", ["40,170,nan", "40, 170, NaN", "40,170 inf", "40.5 N 170 E null", "40,170,nan m"]
)
def test_a_height_that_is_no_number_is_no_name(text: str) -> None:
    with pytest.raises(UserError, match="the height must be a number"):
        parse(text)
    assert parse("Nan: 18.78, 100.78").name == "Nan"
