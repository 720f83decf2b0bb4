"""The observer's own objects, as a table with a heading: text in, objects out, and back."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from plumbstar.errors import UserError
from plumbstar.sky.lists.deepsky import DeepSky, mean_surface_brightness
from plumbstar.sky.naming import lookup
from plumbstar.sky.naming.names import fold
from plumbstar.text import table
from plumbstar.text.table import Repeat, Row, Table
from plumbstar.turns import line_deg

KIND = "own object"
MOST = 20_000
COLUMNS = ("name", "ra_deg", "dec_deg", "v_mag", "size_arcmin", "minor_arcmin",
           "position_angle_deg", "kind")  # fmt: skip

#: Headings that people write -> ours. Folded first: case, spaces and punctuation do not matter.
_HEADINGS = {
    "name": "name", "object": "name",
    "coordinates": "coordinates", "position": "coordinates", "place": "coordinates",
    "ra": "ra", "rightascension": "ra", "dec": "dec", "declination": "dec", "decl": "dec",
    "rahours": "ra_hours", "rah": "ra_hours", "radeg": "ra_deg", "radegrees": "ra_deg",
    "decdeg": "dec", "decdegrees": "dec",
    "mag": "v_mag", "magnitude": "v_mag", "vmag": "v_mag", "v": "v_mag",
    "size": "size_arcmin", "sizearcmin": "size_arcmin", "majorarcmin": "size_arcmin",
    "minor": "minor_arcmin", "minorarcmin": "minor_arcmin",
    "positionangle": "position_angle_deg", "positionangledeg": "position_angle_deg",
    "pa": "position_angle_deg", "padeg": "position_angle_deg",
    "kind": "kind", "type": "kind",
}  # fmt: skip
_RANGES = {
    "v_mag": (-30.0, 40.0, "a magnitude from -30 to 40"),
    "size_arcmin": (0.001, 10800.0, "a size in arcminutes, more than nothing"),
    "minor_arcmin": (0.001, 10800.0, "a size in arcminutes, more than nothing"),
    "position_angle_deg": (0.0, 360.0, "an angle from 0 to 360 degrees"),
}
_EXAMPLE = (
    "For example a file with the two lines 'name,ra,dec,mag' and 'My pair,05h35m17s,-05d23m,8.5'"
)


_WANTED = "a heading with 'name', and 'ra' and 'dec' (or 'coordinates'), and one line an object"


@dataclass(frozen=True, slots=True)
class OwnTable:
    """The objects of a table, each once, and which of its lines repeat one."""

    objects: tuple[DeepSky, ...]
    repeats: tuple[Repeat, ...]


def parse(
    text: str, source: str = "the table", taken: Callable[[str], str | None] | None = None
) -> OwnTable:
    """The objects of a table. Raises :class:`TableError` naming line, column, what was wanted.

    Needed: ``name``, and ``ra`` with ``dec`` (with units), or ``ra_hours`` or ``ra_deg`` with
    ``dec``, or one column ``coordinates`` in any form that the look-up reads. Optional: ``mag``
    (V), ``size`` and ``minor`` (arcminutes), ``pa`` (degrees), ``kind``. Other columns are left
    alone. ``taken(name)`` says what else goes by a name already, or None.
    """
    found = _table(text, source)
    made: dict[str, DeepSky] = {}
    for row in found.rows:
        name = " ".join(row.text("name").split())
        if not fold(name):
            raise row.error("no name", "a name with a letter or a number in it")
        if len(name) > 60 or not name.isprintable() or ";" in name or "|" in name:
            raise row.error(
                f"the name '{name[:70]}'",
                "at most 60 characters that can be shown, none of them ; or |",
            )
        if fold(name) in made:
            raise row.error(f"the name '{name}' a second time", "each name once")
        other = taken(name) if taken else None
        if other:
            raise row.error(
                f"the name '{name}', which is {other} already", "a name of its own",
                f"For example 'my {name}'",
            )  # fmt: skip
        made[fold(name)] = _object(name, row)
    return OwnTable(tuple(made.values()), found.repeats)


def _table(text: str, source: str) -> Table:
    found = table.read(
        text, source, lambda name: _HEADINGS.get(fold(name), ""), _WANTED, only_known=False
    )
    names = set(found.named)
    if "name" not in names or not (
        "coordinates" in names or ("dec" in names and {"ra", "ra_hours", "ra_deg"} & names)
    ):
        came = f"the heading '{table.heading(text)[:80]}'"
        raise found.error(came, _WANTED, _EXAMPLE)
    if len(found.rows) > MOST:
        came = f"{len(found.rows)} objects in {source or 'a table'}"
        raise UserError(came, f"at most {MOST}", "Split the file")
    return found


def _number(row: Row, column: str) -> float:
    """NaN for an empty cell."""
    low, high, wanted = _RANGES[column]
    value = row.number(column, wanted)
    if value is not None and not low <= value <= high:
        raise row.error(f"'{row.text(column)[:40]}'", wanted, column=column)
    return math.nan if value is None else value


def _place(row: Row) -> DeepSky:
    """Where it is, from whichever columns give it."""
    text = _decimal_points(row, "coordinates") or _two_columns(row)
    try:
        place = lookup.parse_coordinates(text)
    except UserError as e:
        raise row.at(e) from None
    if place is None:
        raise row.error(
            f"the coordinates '{text[:60]}'",
            "ICRS (J2000) right ascension and declination",
            "For example 05h35m17s -05d23m",
        )
    return place


def _decimal_points(row: Row, column: str) -> str:
    """The cell with a point for a decimal comma, where a comma cannot part two numbers."""
    text = row.text(column)
    if column == "coordinates" and ("." in text or row.mark == ","):
        return text
    return re.sub(r"(?<=\d),(?=\d)", ".", text)


def _two_columns(row: Row) -> str:
    """Right ascension and declination as one text, with the unit that the heading gives."""
    of = next((c for c in ("ra", "ra_deg", "ra_hours") if row.text(c)), "ra")
    ra, dec = _decimal_points(row, of), _decimal_points(row, "dec")
    for word, given in (("right ascension", ra), ("declination", dec)):
        if not given:
            raise row.error(f"no {word}", "both coordinates", _EXAMPLE)
    if of == "ra_deg":
        ra = re.sub(r"\s*[d°º]$", "", ra)
    if re.fullmatch(r"\d+(\.\d*)?", ra) is None:
        return f"{ra} {dec}"
    if of == "ra":
        raise row.error(
            f"right ascension '{ra[:40]}', which may be hours or degrees",
            "a unit, as in 5h35m17s",
            "Or call the column ra_hours or ra_deg",
        )
    if of == "ra_hours":
        return f"{float(ra)}h {dec}"
    # parse_coordinates takes degrees when both are bare numbers.
    dec = re.sub(r"\s*[d°º]$", "", dec)
    if not re.fullmatch(r"[-+−–]?\d+(\.\d*)?", dec):
        ra = f"{float(ra) / 15.0:.10f}h"
    return f"{ra} {dec}"


def _object(name: str, row: Row) -> DeepSky:
    place = _place(row)
    v, size, minor = (_number(row, c) for c in ("v_mag", "size_arcmin", "minor_arcmin"))
    if minor > size:
        size, minor = minor, size
    if math.isnan(size) and not math.isnan(minor):
        raise row.error("a short axis without a long one", "size, or both axes")
    surface = float(mean_surface_brightness(v, size, minor))
    kind = " ".join(row.text("kind").split())
    if len(kind) > 40 or not kind.isprintable():
        raise row.error(f"the kind '{kind[:50]}'", "at most 40 characters")
    return DeepSky(
        key=f"own {fold(name)}",
        name=name,
        label=name,
        kind=kind.casefold() or KIND,
        constellation="",
        ra_deg=place.ra_deg,
        dec_deg=place.dec_deg,
        v_mag=v,
        size_arcmin=size,
        names=(name,),
        minor_arcmin=minor,
        position_angle_deg=line_deg(_number(row, "position_angle_deg")),
        surface_brightness=surface,
        surface_estimated=not math.isnan(surface),
    )


def to_csv(objects: Sequence[DeepSky]) -> str:
    """The table that :func:`parse` reads back to the same objects, places to 0.04 arcsec."""

    def cell(x: float, form: str) -> str:
        return "" if math.isnan(x) else format(x, form)

    rows = (
        [o.name, f"{o.ra_deg:.5f}", f"{o.dec_deg:.5f}", cell(o.v_mag, ".6g"),
         cell(o.size_arcmin, ".6g"), cell(o.minor_arcmin, ".6g"),
         cell(o.position_angle_deg, ".6g"), "" if o.kind == KIND else o.kind]
        for o in objects
    )  # fmt: skip
    return table.write(COLUMNS, rows)
