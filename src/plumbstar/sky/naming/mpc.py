"""Orbital elements in the open formats of the Minor Planet Center: text in, bodies out.

Read are the line for a comet ("Export format for comet orbits"), the line for a minor planet
("Export format for minor-planet orbits", MPCORB), and the same as JSON (its keys named as there).
Columns and keys are from memory of the published descriptions. Each line tells by its own look
which it is, so that a file may hold both. What cannot be read is named, and the rest kept.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from plumbstar.errors import UserError
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.orbits import SunOrbit
from plumbstar.turns import half_turn_deg

#: More than this is nobody's choice for an evening.
MOST = 20_000
_DEGREES_A_DAY = 0.9856076686  # of mean motion at 1 au: Gauss's constant in degrees
#: The line of a comet: number, kind of orbit, year, month and day of perihelion.
_COMET = re.compile(r"^[\d ]{4}[CPDXAI].{9} *(\d{1,4}) (\d\d| \d) ([ \d]\d\.\d*)")
_AFTER_DASHES = re.compile(r"^-{20,}$")
_PARTS = re.compile(r"^(?P<whole>(?P<mark>[^(/]+(?:/[^(]+)?)\s*\((?P<name>[^()]+)\))$")
_NUMBERED = re.compile(r"^(?P<mark>\d+[PDI])/(?P<name>.+)$")
#: Of a comet's brightness where the elements have no slope: n = 4. Of a minor planet: G = 0.15.
_USUAL_N, _USUAL_G = 4.0, 0.15


@dataclass(frozen=True, slots=True)
class BadLine:
    """What could not be read, and where: ``line`` counts from 1 (in JSON the entry)."""

    source: str
    line: int
    came: str
    wanted: str

    @property
    def sentence(self) -> str:
        return f"{self.source}, line {self.line}: {UserError(self.came, self.wanted, '').trouble}."


@dataclass(frozen=True, slots=True)
class ElementsRead:
    """What a file held, and what of it could not be read."""

    bodies: tuple[MinorBody, ...]
    bad: tuple[BadLine, ...]


class _Wrong(Exception):
    """(what came, what was wanted) of one line."""


def read(text: str, source: str = "the elements") -> ElementsRead:
    """All bodies of a text, in its order; one that comes again takes the place of the first.

    Raises :class:`UserError` for JSON that is none, and for more than :data:`MOST` bodies.
    """
    found: dict[str, MinorBody] = {}
    bad: list[BadLine] = []
    for line, entry in _entries(text, source):
        try:
            body = _from_json(entry) if isinstance(entry, Mapping) else _from_line(entry)
        except _Wrong as e:
            came, wanted = e.args
            bad.append(BadLine(source, line, came, wanted))
            continue
        found[body.name] = body
        if len(found) > MOST:
            raise UserError(
                f"More than {MOST:,} bodies in {source}", f"at most {MOST:,}",
                "Keep the lines of those that you want to look for",
            )  # fmt: skip
    return ElementsRead(tuple(found.values()), tuple(bad))


def _entries(text: str, source: str) -> Iterator[tuple[int, str | Mapping[str, Any]]]:
    if text.lstrip()[:1] in ("[", "{"):
        try:
            entries = json.loads(text)
        except (ValueError, RecursionError) as e:
            raise UserError(
                f"{source}: {e}", "a list of elements as JSON", "Fetch the file again"
            ) from None
        many = entries if isinstance(entries, list) else [entries]
        for k, entry in enumerate(many, 1):
            yield k, entry if isinstance(entry, Mapping) else str(entry)
        return
    lines = text.splitlines()
    # The long file of minor planets begins with a page of words, ended by a line of dashes. In a
    # file put together by hand such a line may part one body from the next.
    start = next((k + 1 for k, x in enumerate(lines[:200]) if _AFTER_DASHES.match(x.strip())), 0)
    if any(_is_body(x) for x in lines[:start]):
        start = 0
    for k, line in enumerate(lines[start:], start + 1):
        bare = line.strip()
        if bare and not bare.startswith("#") and not _AFTER_DASHES.match(bare):
            yield k, line.rstrip()


def _is_body(line: str) -> bool:
    try:
        _from_line(line)
    except _Wrong:
        return False
    return True


def _from_line(line: str) -> MinorBody:
    # A mail or a page may have taken the blanks before a comet's line, or added some.
    bare = line.lstrip()
    for whole in (line, bare, f"    {bare}"):
        if _COMET.match(whole):
            return _comet_line(whole)
    if len(line) >= 100 and line[19:20] != ":" and any(c.isdigit() for c in line[26:103]):
        return _minor_line(line)
    raise _Wrong(f"'{line[:40].strip()}'", "the line of a comet or a minor planet, whole")


# ---- one line -----------------------------------------------------------------------------------


def _column(line: str, first: int, last: int, what: str, low: float, high: float) -> float:
    """The number in columns counted from 1, both named in the descriptions."""
    text = line[first - 1 : last].strip()
    return _number(text, f"{what} '{text}' in columns {first} to {last}", what, low, high)


def _number(text: object, came: str, what: str, low: float, high: float) -> float:
    try:
        value = float(str(text))
    except ValueError:
        value = math.nan
    if not low <= value <= high:  # also false for nan
        raise _Wrong(came, f"{what} from {low:g} to {high:g}")
    return value


def _or_nan(text: object, low: float, high: float, what: str) -> float:
    """nan for nothing."""
    if text is None or not str(text).strip():
        return math.nan
    return _number(text, f"{what} '{str(text).strip()[:20]}'", what, low, high)


def _jd(year: float, month: float, day: float) -> float:
    try:
        midnight = dt.date(int(year), int(month), 1).toordinal() + 1721424.5
    except ValueError:
        raise _Wrong(f"the date {year:g}-{month:g}-{day:g}", "a day that exists") from None
    if not 1.0 <= day < 32.0:
        raise _Wrong(f"the day {day:g}", "a day of the month")
    return midnight + day - 1.0


def _comet_line(line: str) -> MinorBody:
    """Columns: number 1-4, orbit 5, perihelion 15-29, q 31-39, e 42-49, angles 52-59, 62-69 and
    72-79, epoch 82-89, magnitudes 92-100, name 103-158."""
    line = line.ljust(103)
    perihelion = _jd(
        _column(line, 15, 18, "a year", 1, 9999), _column(line, 20, 21, "a month", 1, 12),
        _column(line, 23, 29, "a day", 1, 31.99999),
    )  # fmt: skip
    epoch = perihelion
    if line[81:89].strip():
        epoch = _jd(
            _column(line, 82, 85, "a year", 1, 9999), _column(line, 86, 87, "a month", 1, 12),
            _column(line, 88, 89, "a day", 1, 31),
        )  # fmt: skip
    orbit = SunOrbit(
        perihelion_au=_column(line, 31, 39, "a perihelion distance (au)", 0.0001, 1000),
        eccentricity=_column(line, 42, 49, "an eccentricity", 0, 20),
        argument_deg=_column(line, 52, 59, "an argument of perihelion", 0, 360),
        node_deg=_column(line, 62, 69, "a node", 0, 360),
        inclination_deg=_column(line, 72, 79, "an inclination", 0, 180),
        perihelion_tt_jd=perihelion,
        epoch_tt_jd=epoch,
    )
    name = " ".join(line[102:158].split()) or " ".join(line[:12].split())
    slope = _or_nan(line[96:100], 0, 50, "a slope")
    return _comet(name, orbit, _or_nan(line[91:95], -10, 40, "a magnitude"), slope)


def _refuse_unshowable(name: str) -> None:
    if not name.isprintable():
        raise _Wrong("a name with a character that cannot be shown", "a name of printed letters")


def _comet(name: str, orbit: SunOrbit, h_mag: float, slope: float) -> MinorBody:
    if not name:
        raise _Wrong("no name", "a comet's designation and name")
    _refuse_unshowable(name)
    parts = _PARTS.match(name) or _NUMBERED.match(name)
    also = (parts["mark"].strip(), parts["name"].strip()) if parts else ()
    return MinorBody(
        name, "comet", orbit, h_mag, _USUAL_N if math.isnan(slope) else slope, also
    )  # fmt: skip


def _minor_line(line: str) -> MinorBody:
    """Columns: number or designation 1-7, H 9-13, G 15-19, epoch 21-25 (packed), M 27-35, angles
    38-46, 49-57 and 60-68, e 71-79, a 93-103, readable name 167-194."""
    designation = line[:7].strip()
    readable = " ".join(line[166:194].split()) or designation.lstrip("0")
    if not readable:
        raise _Wrong("no designation", "the line of a comet or a minor planet, whole")
    return _minor(
        readable, _unpacked(line[20:25]),
        mean=_column(line, 27, 35, "a mean anomaly", 0, 360),
        argument=_column(line, 38, 46, "an argument of perihelion", 0, 360),
        node=_column(line, 49, 57, "a node", 0, 360),
        inclination=_column(line, 60, 68, "an inclination", 0, 180),
        e=_column(line, 71, 79, "an eccentricity under 1", 0, 0.9999),
        axis=_column(line, 93, 103, "a semimajor axis (au)", 0.05, 5000),
        h_mag=_or_nan(line[8:13], -10, 40, "a magnitude"),
        slope=_or_nan(line[14:19], -1, 1, "a slope"),
    )  # fmt: skip


def _unpacked(packed: str) -> float:
    """A packed date, "K239D": century by letter (I 18, J 19, K 20), year, month and day by digit
    or letter."""
    m = re.fullmatch(r"([IJK])(\d\d)([1-9A-C])([1-9A-V])", packed.strip())
    if m is None:
        raise _Wrong(f"the epoch '{packed.strip()}' in columns 21 to 25", "a packed date, as K239D")
    return _jd(100 * (ord(m[1]) - 55) + int(m[2]), int(m[3], 36), int(m[4], 36))


def _minor(
    name: str, epoch: float, *, mean: float, argument: float, node: float, inclination: float,
    e: float, axis: float, h_mag: float, slope: float,
) -> MinorBody:  # fmt: skip
    _refuse_unshowable(name)
    turn = half_turn_deg(mean)
    orbit = SunOrbit(
        axis * (1.0 - e), e, argument, node, inclination,
        epoch - turn / (_DEGREES_A_DAY / axis**1.5), epoch,
    )  # fmt: skip
    parts = re.fullmatch(r"\((\d+)\)(?: (.+))?", name)
    also: tuple[str, ...] = ()
    if parts and parts[2]:
        also = (parts[2], f"{parts[1]} {parts[2]}")
    return MinorBody(
        name, "minor planet", orbit, h_mag, _USUAL_G if math.isnan(slope) else slope, also
    )  # fmt: skip


# ---- JSON ---------------------------------------------------------------------------------------


def _from_json(entry: Mapping[str, Any]) -> MinorBody:
    def get(key: str, what: str, low: float, high: float) -> float:
        return _number(entry.get(key), f"{key} {entry.get(key)!r}"[:60], what, low, high)

    angles = {
        "argument": get("Peri", "an argument of perihelion", 0, 360),
        "node": get("Node", "a node", 0, 360),
        "inclination": get("i", "an inclination", 0, 180),
    }
    h_mag = _or_nan(entry.get("H"), -10, 40, "a magnitude")
    if "Perihelion_dist" in entry:
        perihelion = _jd(
            get("Year_of_perihelion", "a year", 1, 9999),
            get("Month_of_perihelion", "a month", 1, 12),
            get("Day_of_perihelion", "a day", 1, 31.99999),
        )
        epoch = perihelion
        if entry.get("Epoch_year"):
            epoch = _jd(
                get("Epoch_year", "a year", 1, 9999), get("Epoch_month", "a month", 1, 12),
                get("Epoch_day", "a day", 1, 31),
            )  # fmt: skip
        orbit = SunOrbit(
            get("Perihelion_dist", "a perihelion distance (au)", 0.0001, 1000),
            get("e", "an eccentricity", 0, 20), angles["argument"], angles["node"],
            angles["inclination"], perihelion, epoch,
        )  # fmt: skip
        name = " ".join(str(entry.get("Designation_and_name", "")).split())
        return _comet(name, orbit, h_mag, _or_nan(entry.get("G"), 0, 50, "a slope"))
    named = (entry.get("Number"), entry.get("Name"))
    name = " ".join(str(x) for x in named if x) or str(entry.get("Principal_desig") or "")
    if not name.strip():
        raise _Wrong("an entry without Name or Principal_desig", "the name of a body")
    return _minor(
        " ".join(name.split()), get("Epoch", "a Julian date", 1e6, 5e6),
        mean=get("M", "a mean anomaly", 0, 360), e=get("e", "an eccentricity under 1", 0, 0.9999),
        axis=get("a", "a semimajor axis (au)", 0.05, 5000), h_mag=h_mag,
        slope=_or_nan(entry.get("G"), -1, 1, "a slope"), **angles,
    )  # fmt: skip
