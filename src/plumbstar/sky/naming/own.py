"""The observer's own objects, as a table with a heading: text in, objects out, and back."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from plumbstar.errors import UserError
from plumbstar.sky.lists.deepsky import DeepSky, mean_surface_brightness
from plumbstar.sky.naming import lookup
from plumbstar.sky.naming.names import fold

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
_MEND = "Mend that line and try again"
_EXAMPLE = (
    "For example a file with the two lines 'name,ra,dec,mag' and 'My pair,05h35m17s,-05d23m,8.5'"
)


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of the table: its cells by our headings, and where it stands."""

    cells: dict[str, str]
    where: str

    def error(self, came: str, wanted: str, remedy: str = _MEND) -> UserError:
        return UserError(f"{self.where}: {came}", wanted, remedy)

    def number(self, column: str) -> float:
        text = self.cells.get(column, "").replace("−", "-")
        if not text:
            return math.nan
        low, high, wanted = _RANGES[column]
        try:
            value = float(text)
        except ValueError:
            raise self.error(f"{column} '{text[:40]}'", wanted) from None
        if not low <= value <= high:
            raise self.error(f"{column} '{text[:40]}'", wanted)
        return value

    def place(self) -> DeepSky:
        """Where it is, from whichever columns give it."""
        c = self.cells
        if c.get("coordinates"):
            text = c["coordinates"]
        else:
            ra = c.get("ra") or c.get("ra_deg") or c.get("ra_hours") or ""
            dec = c.get("dec", "")
            for word, given in (("right ascension", ra), ("declination", dec)):
                if not given:
                    raise self.error(f"no {word}", "both coordinates", _EXAMPLE)
            bare = re.fullmatch(r"\d+(\.\d*)?", ra) is not None
            if bare and c.get("ra"):
                raise self.error(
                    f"right ascension '{ra[:40]}', which may be hours or degrees",
                    "a unit, as in 5h35m17s",
                    "Or call the column ra_hours or ra_deg",
                )
            if bare and not c.get("ra_deg"):
                ra = f"{float(ra)}h"
            elif bare:
                # parse_coordinates takes degrees when both are bare numbers.
                dec = re.sub(r"[d°]$", "", dec)
                if not re.fullmatch(r"[-+−–]?\d+(\.\d*)?", dec):
                    ra = f"{float(ra) / 15.0:.10f}h"
            text = f"{ra} {dec}"
        try:
            place = lookup.parse_coordinates(text)
        except UserError as e:
            raise self.error(e.came, e.wanted, e.remedy) from None
        if place is None:
            raise self.error(
                f"the coordinates '{text[:60]}'",
                "ICRS (J2000) right ascension and declination",
                "For example 05h35m17s -05d23m",
            )
        return place


def _table(text: str, source: str) -> list[_Line]:
    """The lines under the heading; comma, semicolon or tab between the cells."""
    kept = [
        (k, line)
        for k, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not kept:
        raise UserError(f"{source}, which is empty", "a heading and one line an object", _EXAMPLE)
    if "\0" in text:
        raise UserError(f"{source}, which is no text", "a table of text", _EXAMPLE)
    first = kept[0][1]
    between = max("\t;,", key=first.count)

    def cells(line: str) -> list[str]:
        try:
            return [c.strip() for c in next(csv.reader(io.StringIO(line), delimiter=between))]
        except (csv.Error, StopIteration):
            return [line]

    headings = [_HEADINGS.get(fold(h), "") for h in cells(first)]
    place = "coordinates" in headings or (
        "dec" in headings and {"ra", "ra_hours", "ra_deg"} & set(headings)
    )
    if "name" not in headings or not place:
        raise UserError(
            f"line {kept[0][0]} of {source}: the heading '{first.strip()[:80]}'",
            "a column 'name', and 'ra' and 'dec' (or 'coordinates')",
            _EXAMPLE,
        )
    double = next((h for h in headings if h and headings.count(h) > 1), None)
    if double:
        raise UserError(
            f"line {kept[0][0]} of {source}: two columns for {double}", "one", "Leave one out"
        )
    lines = []
    for k, line in kept[1:]:
        found = cells(line)
        if between == ";":  # where a comma is written for the point in numbers
            found = [re.sub(r"(?<=\d),(?=\d)", ".", c) if h not in ("name", "kind") else c
                     for h, c in zip(headings, found, strict=False)]  # fmt: skip
        where = f"line {k} of {source}"
        if len(found) > len(headings):
            raise UserError(
                f"{where}: {len(found)} cells under {len(headings)} headings",
                "as many as the heading has",
                "Put quotes round a cell that holds the mark between cells",
            )
        lines.append(_Line({h: c for h, c in zip(headings, found, strict=False) if h}, where))
    if len(lines) > MOST:
        raise UserError(f"{len(lines)} objects in {source}", f"at most {MOST}", "Split the file")
    return lines


def parse(
    text: str, source: str = "the table", taken: Callable[[str], str | None] | None = None
) -> list[DeepSky]:
    """The objects of a table. Raises :class:`UserError` naming the line and what was wanted.

    Needed: ``name``, and ``ra`` with ``dec`` (with units), or ``ra_hours`` or ``ra_deg`` with
    ``dec``, or one column ``coordinates`` in any form that the look-up reads. Optional: ``mag``
    (V), ``size`` and ``minor`` (arcminutes), ``pa`` (degrees), ``kind``. Other columns are left
    alone. ``taken(name)`` says what else goes by a name already, or None.
    """
    made: dict[str, DeepSky] = {}
    for line in _table(text, source):
        name = " ".join(line.cells.get("name", "").split())
        if not fold(name):
            raise line.error("no name", "a name with a letter or a number in it")
        if len(name) > 60 or not name.isprintable() or ";" in name or "|" in name:
            raise line.error(
                f"the name '{name[:70]}'", "at most 60 characters, none of them ; or |"
            )
        if fold(name) in made:
            raise line.error(f"the name '{name}' a second time", "each name once")
        other = taken(name) if taken else None
        if other:
            raise line.error(
                f"the name '{name}', which is {other} already", "a name of its own",
                f"For example 'my {name}'",
            )  # fmt: skip
        made[fold(name)] = _object(name, line)
    return list(made.values())


def _object(name: str, line: _Line) -> DeepSky:
    place = line.place()
    v, size, minor = (line.number(c) for c in ("v_mag", "size_arcmin", "minor_arcmin"))
    if minor > size:
        size, minor = minor, size
    if math.isnan(size) and not math.isnan(minor):
        raise line.error("a short axis without a long one", "size, or both axes")
    surface = float(mean_surface_brightness(v, size, minor))
    kind = " ".join(line.cells.get("kind", "").split())
    if len(kind) > 40 or not kind.isprintable():
        raise line.error(f"the kind '{kind[:50]}'", "at most 40 characters")
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
        position_angle_deg=line.number("position_angle_deg") % 180.0,
        surface_brightness=surface,
        surface_estimated=not math.isnan(surface),
    )


def to_csv(objects: Sequence[DeepSky]) -> str:
    """The table that :func:`parse` reads back to the same objects, places to 0.04 arcsec."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)

    def cell(x: float, form: str) -> str:
        return "" if math.isnan(x) else format(x, form)

    for o in objects:
        writer.writerow(
            [o.name, f"{o.ra_deg:.5f}", f"{o.dec_deg:.5f}", cell(o.v_mag, ".6g"),
             cell(o.size_arcmin, ".6g"), cell(o.minor_arcmin, ".6g"),
             cell(o.position_angle_deg, ".6g"), "" if o.kind == KIND else o.kind]
        )  # fmt: skip
    return out.getvalue()
