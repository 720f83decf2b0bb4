"""Sightings as CSV: what a person can keep in a spreadsheet.

Columns ``utc,star,az_reading_deg,alt_reading_deg``; or ``true_az_deg,true_alt_deg`` in place of
``utc,star``, and then no site is needed. ``encoder_az_deg,encoder_alt_deg`` are accepted for the
readings, and an ``eyepiece`` column may follow. Lines that start with # are comments.

What a spreadsheet makes of such a table is understood too: semicolons or tabs between the columns,
decimal commas, capitals in the heading, empty columns and lines at the end.
"""

from __future__ import annotations

import csv
import io
import math
import sys
from collections.abc import Sequence
from pathlib import Path

from plumbstar.errors import UserError
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target, observed_many
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

_READING_NAMES = {
    "az": ("az_reading_deg", "encoder_az_deg"),
    "alt": ("alt_reading_deg", "encoder_alt_deg"),
}
_KNOWN = {
    "utc", "star", "true_az_deg", "true_alt_deg", "eyepiece",
    *_READING_NAMES["az"], *_READING_NAMES["alt"],
    "corrected_by_s",  # a remark of the logbook's export: the time beside it is the corrected one
}  # fmt: skip


def heading(text: str) -> str:
    """The first line that is no comment; "" for none."""
    return next((x for x in text.splitlines() if x.strip() and not x.lstrip().startswith("#")), "")


def is_table(text: str) -> bool:
    """Whether text is a table of sightings, by its heading."""
    return any(name in heading(text).casefold() for name in _READING_NAMES["az"])


def read(path: str, site: Site | None, repeats: list[str] | None = None) -> list[Sighting]:
    """Read a file, or standard input for ``-``. Raises :class:`UserError` naming file and line.

    ``repeats``: see :func:`parse`.
    """
    source = "standard input" if path == "-" else path
    try:
        raw = sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
    except OSError as e:
        raise UserError(
            f"the file {path} ({e.strerror})", "a readable CSV file", "Check the path"
        ) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UserError(
            f"{source}, which is not UTF-8 text", "a CSV file", "Save it again as CSV UTF-8"
        ) from None
    return parse(text, site, source, repeats)


def parse(
    text: str, site: Site | None, source: str, repeats: list[str] | None = None
) -> list[Sighting]:
    """Parse CSV text; every error names the source and line. Raises :class:`UserError`.

    A line that repeats another to the last figure is one sighting written twice. It is refused, or,
    given a list ``repeats``, left out and the list told so in a sentence.
    """
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    lines = [(n, line) for n, line in lines if not line.lstrip().startswith("#")]
    if not lines:
        raise UserError(f"{source}, which is empty", "sightings", "See docs/commands.md")
    heading = lines[0][1]
    mark = "," if "," in heading else ";" if ";" in heading else "\t" if "\t" in heading else ","
    header = [h.strip().casefold() for h in next(csv.reader([heading], delimiter=mark))]
    while header and not header[-1]:  # empty columns at the right edge of a spreadsheet
        header.pop()
    if len(set(header)) != len(header):
        raise UserError(f"{source}: a column named twice", "each column once", "Remove one")
    az_name = next((c for c in _READING_NAMES["az"] if c in header), None)
    alt_name = next((c for c in _READING_NAMES["alt"] if c in header), None)
    placed = {"true_az_deg", "true_alt_deg"} <= set(header)
    timed = {"utc", "star"} <= set(header)
    unknown = [h for h in header if h not in _KNOWN]
    if az_name is None or alt_name is None or not (placed or timed) or unknown:
        odd = f" (unknown: {', '.join(unknown)})" if unknown else ""
        raise UserError(
            f"{source}: the columns {', '.join(header)}{odd}",
            "utc,star,az_reading_deg,alt_reading_deg, or true_az_deg,true_alt_deg in place of "
            "utc,star",
            "Correct the heading line",
        )
    for names in _READING_NAMES.values():
        if set(names) <= set(header):
            raise UserError(
                f"{source}: both {' and '.join(names)}", "one of the two", "Remove one column"
            )
    rows: list[tuple[int, dict[str, str]]] = []
    for number, line in lines[1:]:
        cells = [c.strip() for c in next(csv.reader(io.StringIO(line), delimiter=mark))]
        if not any(cells):
            continue
        while len(cells) > len(header) and not cells[-1]:
            cells.pop()
        if len(cells) != len(header):
            raise UserError(
                f"{source}, line {number}: {len(cells)} values",
                f"{len(header)}, one for each column",
                "Correct that line",
            )
        rows.append((number, dict(zip(header, cells, strict=True))))
    if not rows:
        raise UserError(
            f"{source}: a heading and nothing else", "one or more sightings", "Add them"
        )

    first_at: dict[tuple[str, ...], int] = {}
    for number, row in rows:
        earlier = first_at.setdefault(tuple(row.values()), number)
        if earlier != number and repeats is None:
            raise UserError(
                f"{source}: line {number}, which repeats line {earlier}",
                "each sighting once, or it would count twice",
                "Remove one of them",
            )
        if earlier != number and repeats is not None:
            repeats.append(f"Line {number} repeats line {earlier} and is counted once.")
    rows = [(number, row) for number, row in rows if first_at[tuple(row.values())] == number]

    def at_line(number: int, error: UserError) -> UserError:
        return UserError(f"{source}, line {number}: {error.came}", error.wanted, error.remedy)

    def value(number: int, row: dict[str, str], column: str) -> float:
        # A comma here is a decimal comma, since it does not part the columns.
        text = row[column].replace("−", "-").replace(",", ".").rstrip("°")
        try:
            x = float(text)
        except ValueError:
            x = math.nan
        if not math.isfinite(x):
            raise UserError(
                f"{source}, line {number}: {column} = '{row[column]}'",
                "a number of degrees",
                "Correct that value",
            )
        return x

    targets: list[Target] = []
    instants: list[Instant] = []
    if not placed:
        if site is None:
            raise UserError(
                f"{source}: stars and times, and no site",
                "--site LAT,LON[,ELEV_M]",
                "Say where the telescope stood, so that the stars' true places can be computed",
            )
        for number, row in rows:
            try:
                targets.append(find_target(row["star"]))
                instants.append(Instant.parse(row["utc"]))
            except UserError as e:
                raise at_line(number, e) from None
        places = true_places(targets, instants, site)
    out = []
    for k, (number, row) in enumerate(rows):
        if placed:
            az, alt = value(number, row, "true_az_deg"), value(number, row, "true_alt_deg")
        else:
            az, alt = places[k]
        name = row.get("star") or f"line {number}"
        try:
            utc = Instant.parse(row["utc"]) if row.get("utc") else None
            if alt < -2.0 and not placed:
                raise UserError(
                    f"{name}, which was {-alt:.0f} degrees below the horizon at {utc}",
                    "a star that was up",
                    "Check the star, the time (UTC, not local) and the site (east is positive)",
                )
            out.append(
                Sighting(
                    star=targets[k].label if not placed else name,
                    true_az_deg=az,
                    true_alt_deg=alt,
                    az_reading_deg=value(number, row, az_name),
                    alt_reading_deg=value(number, row, alt_name),
                    utc=utc,
                    eyepiece=row.get("eyepiece", ""),
                )
            )
        except UserError as e:
            if str(e).startswith(source):
                raise
            if e.came.startswith(f"line {number}: "):  # a sighting without a name is called that
                raise UserError(f"{source}, {e.came}", e.wanted, e.remedy) from None
            raise at_line(number, e) from None
    return out


def true_places(
    targets: Sequence[Target], instants: Sequence[Instant], site: Site
) -> list[tuple[float, float]]:
    """Observed azimuth and altitude, degrees, of each target at its own moment."""
    az, alt = observed_many(list(targets), list(instants), site)
    deg = 180.0 / math.pi
    return [(float(a) * deg % 360.0, float(h) * deg) for a, h in zip(az, alt, strict=True)]
