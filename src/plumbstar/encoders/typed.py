"""Readings from degree circles and an angle gauge, typed in by the observer.

A circle may be numbered either way. Inside, azimuth always grows to the right and altitude always
grows upward; ``reversed`` in the kit says that the circle on the mount does not:

* azimuth: the reading is 360 minus what is written on the circle;
* altitude: the gauge or circle is numbered from the zenith, so the reading is 90 minus it.
"""

from __future__ import annotations

import re
from dataclasses import replace

from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.turns import one_turn_deg

# "123.4", "-0.5", "123,4", "123 30" (degrees, minutes), "123°30'15\"", "123d30m"
_ANGLE = re.compile(
    r"""^\s*(?P<sign>[+-]?)\s*(?P<d>\d{1,3}(?:[.,]\d+)?)\s*(?:°|d|deg)?
        (?:\s*(?P<m>\d{1,2}(?:[.,]\d+)?)\s*(?:'|′|m|min)?
        (?:\s*(?P<s>\d{1,2}(?:[.,]\d+)?)\s*(?:"|″|s|sec)?)?)?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)

_LIMITS = {"azimuth": (-360.0, 720.0), "altitude": (-20.0, 180.0)}


class ReadingsWanted(UserError):
    """Both readings are to be typed, or typed again: there are none, or no circle shows them."""


def read_angle(text: str, axis: str = "azimuth") -> float:
    """Degrees from what a person types: "123.4", "123,4" or "123 30" (degrees and minutes).

    ``axis`` is "azimuth" or "altitude": it names the value in the message and sets its range.
    Raises :class:`ReadingsWanted`.
    """
    wanted = "degrees, as 123.4, or degrees and minutes, as 123 24"
    m = _ANGLE.match(text)
    if m is None:
        raise ReadingsWanted(f"the {axis} reading '{text.strip()}'", wanted, "Type it again")
    d, minute, second = (float((m[k] or "0").replace(",", ".")) for k in ("d", "m", "s"))
    if minute >= 60 or second >= 60 or (m["m"] and not d.is_integer()):
        raise ReadingsWanted(
            f"the {axis} reading '{text.strip()}'",
            wanted,
            "Give minutes below 60 after whole degrees",
        )
    return checked((-1.0 if m["sign"] == "-" else 1.0) * (d + minute / 60 + second / 3600), axis)


def checked(deg: float, axis: str) -> float:
    """The value unchanged if that circle can show it, else :class:`ReadingsWanted`."""
    low, high = _LIMITS[axis]
    if not low <= deg <= high:  # false for nan as well
        raise ReadingsWanted(
            f"an {axis} reading of {deg:g}°",
            f"{low:g} to {high:g}°",
            "Read the circle again",
        )
    return deg


def from_circles(kit: Kit, az_shown_deg: float, alt_shown_deg: float) -> tuple[float, float]:
    """Azimuth and altitude readings, degrees, from what the two circles show."""
    az = checked(az_shown_deg, "azimuth")
    alt = checked(alt_shown_deg, "altitude")
    return turned(az, alt, azimuth=kit.azimuth.reversed, altitude=kit.altitude.reversed)


def turned(az_deg: float, alt_deg: float, *, azimuth: bool, altitude: bool) -> tuple[float, float]:
    """Figures of circles that run the other way, azimuth and altitude, degrees, as readings; and of
    readings the figures: 360, or 90, less."""
    return one_turn_deg(-az_deg) if azimuth else az_deg, 90.0 - alt_deg if altitude else alt_deg


def exchanged(kit: Kit, reading: Reading) -> Reading | None:
    """The same two figures, had each been meant for the other circle; None where nobody typed them
    or the circles cannot show them so."""
    if reading.state != "typed":
        return None
    az, alt = turned(
        *reading.degrees(), azimuth=kit.azimuth.reversed, altitude=kit.altitude.reversed
    )
    try:
        az, alt = from_circles(kit, alt, az)
    except ReadingsWanted:
        return None
    return replace(reading, az_deg=az, alt_deg=alt)
