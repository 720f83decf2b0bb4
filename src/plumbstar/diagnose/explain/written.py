"""Angles, compass points and clock times as people write them, found in a line of free text.

Each reader takes what it found out of the text, so that the name of the star is left over, and adds
to ``said`` whatever it had to assume.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from plumbstar.errors import UserError
from plumbstar.sky.local_time import offset_by_clock_s
from plumbstar.sky.times import Instant
from plumbstar.turns import half_turn_deg, one_turn_deg

_N = r"\d{1,3}(?:[.,]\d+)?"
#: 61.2, 61,2, -3.5°, 61°12'30", 61:12.
ANGLE = (
    rf"(?:(?P<sign>[-+−])\s*)?(?P<d>{_N})(?:\s*(?:°|º|degrees|degree|deg|d(?![a-z])))?"
    r"(?:\s*:?\s*(?P<m>[0-5]?\d(?:[.,]\d+)?)\s*(?P<mu>['′’]|arcmin|min|m(?![a-z]))"
    r"(?:\s*(?P<s>[0-5]?\d(?:[.,]\d+)?)\s*(?:[\"″”]|''|s(?![a-z])))?"
    r"|:(?P<m2>[0-5]\d(?:[.,]\d+)?)(?::(?P<s2>[0-5]\d(?:[.,]\d+)?))?"
    r"|(?!)(?P<m3>))?"
)
#: The same, and 61 12 for degrees and minutes.
SPACED = ANGLE.replace(r"(?!)(?P<m3>)", r"\s+(?P<m3>[0-5]\d)(?=\s*(?:$|[,;)]|[A-Za-z(]))")
AZ_LABEL = r"\b(?:azimuth|azi|az|bearing|across|sideways|left-?right)\b\.?"
ALT_LABEL = r"\b(?:altitude|alti|alt|elevation|elev|el|height|up-?down)\b\.?"
_IS = r"(?:is|was|reads?|of|[:=])?"
#: Clockwise from north, 22.5 deg apart.
_POINTS = (
    "n", "nne", "ne", "ene", "e", "ese", "se", "sse",
    "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw",
)  # fmt: skip
_CARDINAL = r"(?:north|south|east|west)"
_POINT = rf"(?:{_CARDINAL}(?:[\s-]*{_CARDINAL}){{0,2}}|[NSEW]{{1,3}}(?![A-Za-z]))"
_UTC = r"(?:UTC|UT|Z|GMT)"


@dataclass(frozen=True)
class Angle:
    """Degrees, the step to which they were given, and how they were written."""

    degrees: float
    grain: float
    text: str


@dataclass(frozen=True)
class ClockTime:
    """A clock time: seconds after midnight, on which clock, and which half of the day."""

    seconds: float
    utc: bool
    half: str  # "am", "pm" or "24", or "" when not said
    full: Instant | None = None  # with its date


def without(text: str, m: re.Match[str]) -> str:
    """The text with a match taken out."""
    return f"{text[: m.start()]} {text[m.end() :]}"


def _number(text: str | None) -> float:
    return float(text.replace(",", ".")) if text else 0.0


def angle_of(m: re.Match[str]) -> Angle:
    """The angle of a match of :data:`ANGLE`."""
    minutes = m["m"] or m["m2"] or m["m3"]
    seconds = m["s"] or m["s2"]
    value = _number(m["d"]) + _number(minutes) / 60.0 + _number(seconds) / 3600.0
    if m["sign"] and m["sign"] != "+":
        value = -value
    unit = 1.0 / 3600.0 if seconds else 1.0 / 60.0 if minutes else 1.0
    last = (seconds or minutes or m["d"]).replace(",", ".")
    return Angle(value, unit * 10.0 ** -len(last.partition(".")[2]), m[0])


def _labelled_of(m: re.Match[str]) -> Angle:
    """The angle with its own text as it was written, the label left out."""
    a = angle_of(m)
    start = m.start("sign") if m["sign"] else m.start("d")
    return Angle(a.degrees, a.grain, m.string[start : m.end()])


def altitude(text: str, angle: str) -> tuple[Angle | None, str]:
    """Altitude from a label before it, or from "up" or "high" behind."""
    m = re.search(rf"\b{ALT_LABEL}\s*{_IS}\s*{angle}", text, re.IGNORECASE)
    if m is not None:
        return _labelled_of(m), without(text, m)
    m = re.search(rf"{ANGLE}\s*(?:up|high|alt)\b", text, re.IGNORECASE)
    return (None, text) if m is None else (angle_of(m), without(text, m))


def azimuth(text: str, angle: str, said: list[str]) -> tuple[Angle | None, str]:
    """Azimuth from a quadrant (N 61 E, 39 degrees east of south), a label, or a compass point."""
    label = rf"(?:\b{AZ_LABEL}\s*[:=]?\s*)?"
    side = rf"(?:[NSEW]|{_CARDINAL})"
    quarter = re.search(rf"{label}\b(?P<from>{side})\s*{ANGLE}\s*(?P<to>{side})\b", text)
    quarter = quarter or re.search(
        rf"{label}{ANGLE}\s*(?P<to>{side})\s+of\s+(?P<from>{side})\b", text, re.IGNORECASE
    )
    if quarter:
        base = 90.0 * "nesw".index(quarter["from"][0].lower())
        toward = 90.0 * "nesw".index(quarter["to"][0].lower())
        a = angle_of(quarter)
        turn = 1.0 if one_turn_deg(toward - base) == 90.0 else -1.0
        value = one_turn_deg(base + turn * a.degrees)
        said.append(f"'{quarter[0].strip()}' taken as azimuth {value:g}°")
        return Angle(value, a.grain, quarter[0]), without(text, quarter)
    m = re.search(rf"\b{AZ_LABEL}\s*{_IS}\s*{angle}", text, re.IGNORECASE)
    if m is not None:
        return _with_its_point(text, m, said)
    m = re.search(rf"{label}\b(?P<p>{_POINT})\b", text)
    bearing = None if m is None else _point_deg(m["p"])
    if m is None or bearing is None:
        return None, text
    words = len(re.findall(_CARDINAL, m["p"].lower()))
    grain = 22.5 if (words or len(m["p"])) == 3 else 45.0
    said.append(
        f"'{m['p']}' is only a compass point: taken as {bearing:g}°, give or take {grain / 2:g}°"
    )
    return Angle(bearing, grain, m["p"]), without(text, m)


def _with_its_point(text: str, m: re.Match[str], said: list[str]) -> tuple[Angle, str]:
    """A labelled azimuth; E or W right behind it is its direction, a point elsewhere a remark."""
    a = _labelled_of(m)
    tail = text[m.end() :]
    side = re.match(r"\s*(?P<side>E|W|east|west)\b", tail)
    if side:
        west = side["side"][0].lower() == "w"
        value = one_turn_deg(-a.degrees) if west else a.degrees
        written = f"{a.text.strip()} {side['side']}"
        said.append(f"'{written}' taken as {'west' if west else 'east'} of north: {value:g}°")
        a = Angle(value, a.grain, written)
        tail = tail[side.end() :]
    rest = f"{text[: m.start()]} {tail}"
    point = re.search(rf"\(?\s*\b{_POINT}\b\s*\)?", rest)
    written = point[0].strip("() ") if point else ""
    where = _point_deg(written)
    if point is None or where is None:
        return a, rest
    if abs(half_turn_deg(where - a.degrees)) > 50.0:
        said.append(f"'{written}' does not go with azimuth {a.degrees:g}°")
    return a, without(rest, point)


def _point_deg(text: str) -> float | None:
    """Azimuth of a compass point, or None."""
    short = re.sub(r"[\s-]", "", text.lower())
    for word in ("north", "south", "east", "west"):
        short = short.replace(word, word[0])
    return 22.5 * _POINTS.index(short) if short in _POINTS else None


def stands_alone(text: str, m: re.Match[str]) -> bool:
    """Whether a number is no part of a designation (58 Ori, HIP 27989, pi3 Ori)."""
    before, after = text[: m.start()], text[m.end() :]
    if re.search(r"(?:[^\W\d]|HIP\s*|NGC\s*)$", before, re.IGNORECASE):
        return False
    flamsteed = re.match(r"\s+[A-Z][a-z]{2}", after)
    return not (flamsteed and "." not in m[0] and before.strip() == "")


def at_clock(day: dt.date, seconds: float, zone: str) -> Instant:
    """The moment when the zone's clock shows so many seconds after that day's midnight."""
    midnight = Instant.parse(f"{day.isoformat()}T00:00:00Z")
    return midnight.plus_seconds(seconds - offset_by_clock_s(day, seconds, zone))


def day_of(t: Instant) -> dt.date:
    """The date in UTC."""
    return dt.date.fromisoformat(t.iso()[:10])


_HALF = r"\s*(?P<half>[ap]\.?\s?m\.?(?![a-z]))"
_TIMES = (
    rf"(?<![\d.,])(?P<h>\d{{1,2}})\s*[:.h]?\s*(?P<m>\d{{2}})(?:[:.](?P<s>\d{{2}}))?{_HALF}",
    rf"(?<![\d.,])(?P<h>\d{{1,2}})(?P<m>)(?P<s>){_HALF}",
    r"(?<![\d.,:])(?P<h>\d{1,2})[:h](?P<m>\d{2})(?::(?P<s>\d{2}))?(?P<half>)(?!\d|\.\d)",
    r"\bat\s+(?P<h>\d{1,2})[.:]?(?P<m>\d{2})(?P<s>)(?P<half>)\b",
    # Four digits alone, as 1942: no reading has four, but a catalogue number may.
    r"(?<![\d.,:°])(?<!NGC )(?<!NGC)(?<!IC )(?<!IC)(?<!HIP )(?<!HIP)"
    r"(?P<h>[01]\d|2[0-3])(?P<m>[0-5]\d)(?P<s>)(?P<half>)(?![\d.,:°])",
)
_DATED = (
    r"(?P<day>\d{4}-\d{2}-\d{2})[T ]\s*(?P<time>\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)"
    rf"\s*(?P<zone>{_UTC}\b|[+-]\d{{2}}:?\d{{2}})?"
)


def clock(text: str, zone: str | None) -> tuple[ClockTime | None, str]:
    """A clock time, or date and time, of a clock of that zone unless it says otherwise.

    Raises :class:`UserError` for a time that no clock shows.
    """
    m = re.search(_DATED, text)
    if m is not None:
        mark = m["zone"] or ""
        full = Instant.parse(f"{m['day']}T{m['time']}{mark if mark[:1] in ('+', '-') else 'Z'}")
        if not mark and zone:
            # Written on the clock that --zone names, as every other time in the text is.
            day = day_of(full)
            full = at_clock(day, full.minus(Instant.parse(f"{day.isoformat()}T00:00:00Z")), zone)
        return ClockTime(0.0, bool(mark), "", full), without(text, m)
    m = next((f for p in _TIMES if (f := re.search(p, text, re.IGNORECASE))), None)
    if m is None:
        return None, text
    hour, minute, second = int(m["h"]), int(m["m"] or 0), int(m["s"] or 0)
    half = re.sub(r"[.\s]", "", (m["half"] or "").lower())
    if half and not 1 <= hour <= 12:
        raise UserError(f"the time '{m[0].strip()}'", "1 to 12 with am or pm", "Correct it")
    if hour > 24 or minute > 59 or second > 59:
        raise UserError(f"the time '{m[0].strip()}'", "hours:minutes", "Correct it")
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    elif hour > 12 or m["h"].startswith("0"):
        half = "24"
    rest = without(text, m)
    utc = re.search(rf"\b{_UTC}\b", rest)
    rest = without(rest, utc) if utc else rest
    return ClockTime(hour * 3600.0 + minute * 60 + second, utc is not None, half), rest


def clocks_hidden(text: str) -> str:
    """The same text, as long, with blanks for its clock times."""
    for pattern in (_DATED, *_TIMES):
        text = re.sub(pattern, lambda m: " " * len(m[0]), text, flags=re.IGNORECASE)
    return text
