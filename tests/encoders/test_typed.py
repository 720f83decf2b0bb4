"""Angles as people type them, and circles numbered the other way."""

import msgspec
import pytest

from plumbstar import kit as kits
from plumbstar.encoders.typed import from_circles, read_angle
from plumbstar.errors import UserError


@pytest.mark.parametrize(
    ("text", "deg"),
    [
        ("123.4", 123.4),
        (" 123,4 ", 123.4),
        ("-0.5", -0.5),
        ("+12", 12.0),
        ("123 30", 123.5),
        ("123°30'", 123.5),
        ("123d30m36s", 123.51),
        ("-0 30", -0.5),
        ("45°", 45.0),
    ],
)
def test_angles_are_read(text, deg):
    assert read_angle(text) == pytest.approx(deg, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "abc", "12 70", "12.5 30", "1e3", "nan", "12 30 99", "1 2 3 4"]
)
def test_nonsense_is_refused_with_words(text):
    with pytest.raises(UserError, match="azimuth reading"):
        read_angle(text)


@pytest.mark.parametrize(("text", "axis"), [("-999", "azimuth"), ("200", "altitude")])
def test_out_of_range_is_refused(text, axis):
    with pytest.raises(UserError, match=axis):
        read_angle(text, axis)


def kit(reversed_az, reversed_alt):
    k = kits.Kit()
    return msgspec.structs.replace(
        k,
        azimuth=kits.Circle(reversed=reversed_az),
        altitude=kits.Circle(reversed=reversed_alt),
    )


def test_a_circle_numbered_the_other_way():
    assert from_circles(kit(True, True), 10.0, 30.0) == (350.0, 60.0)
    assert from_circles(kit(False, False), 10.0, 30.0) == (10.0, 30.0)
