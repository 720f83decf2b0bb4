"""Sightings, or a controller's taps, as ECSV: CSV whose head says each column's unit and type, for
astronomers' tools.

The format is the open one of Astropy Proposal for Enhancement 6 (version 1.0; from memory): a head
of YAML in comment lines, then plain CSV. Written by hand, since the head is short and its YAML can
be JSON; tests read it with ``astropy.table``.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable

from plumbstar.logbook import shown_table
from plumbstar.logbook.records import LoggedSighting, Outing, clean, short
from plumbstar.logbook.shown import DisplayEntry

_COLUMNS: tuple[tuple[str, str, str, str], ...] = (
    ("utc", "string", "", "moment of the sighting, ISO 8601 UTC"),
    ("star", "string", "", "what was centred"),
    ("az_reading", "float64", "deg", "azimuth as the circle or encoder read"),
    ("alt_reading", "float64", "deg", "altitude as the circle or encoder read"),
    ("true_az", "float64", "deg", "observed azimuth, from north through east"),
    ("true_alt", "float64", "deg", "observed altitude, with refraction"),
    ("eyepiece", "string", "", "the eyepiece it was centred in"),
    ("used", "bool", "", "False where it was set aside"),
    ("corrected_by", "float64", "s", "what was added since to the moment that was saved"),
)


_Columns = tuple[tuple[str, str, str, str], ...]


def _head(columns: _Columns, meta: dict[str, str | float]) -> list[str]:
    lines = ["%ECSV 1.0", "---", "delimiter: ','", "datatype:"]
    for name, kind, unit, what in columns:
        column = {"name": name, "datatype": kind, "description": what}
        if unit:
            column["unit"] = unit
        # JSON is YAML; ASCII, so that no reader's encoding matters.
        lines.append(f"- {json.dumps(column)}")
    lines.append("meta: !!omap")
    lines += [f"- {json.dumps({key: value})}" for key, value in meta.items()]
    lines.append("schema: astropy-2.0")
    return [f"# {line}" for line in lines]


def sightings_to_ecsv(outing: Outing, sightings: Iterable[LoggedSighting]) -> str:
    """The sightings of an outing with units; its site, kit and start in the head."""
    return _table(outing, _COLUMNS, (_row(logged) for logged in sightings))


def shown_to_ecsv(outing: Outing, entries: Iterable[DisplayEntry]) -> str:
    """The same of what a closed controller was told and showed."""
    return _table(outing, shown_table.COLUMNS, shown_table.rows_of(entries))


def _table(outing: Outing, columns: _Columns, rows: Iterable[tuple[str, ...]]) -> str:
    site = outing.site
    meta: dict[str, str | float] = {
        "started": short(outing.started),
        "kit": outing.kit_name,
        "program": "Plumbstar",
        "azimuth": "from north through east",
    }
    if site is not None:
        meta |= {
            "site": site.name,
            "lat_deg": site.lat_deg,
            "lon_deg_east": site.lon_deg,
            "elevation_m": site.elevation_m,
        }
    return ecsv_text(columns, meta, rows)


def ecsv_text(
    columns: _Columns, meta: dict[str, str | float], rows: Iterable[Iterable[str]]
) -> str:
    """Rows of cells under a head that tells of each column its name, type, unit and what it is."""
    out = io.StringIO()
    out.write("\n".join(_head(columns, meta)) + "\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(name for name, *_ in columns)
    writer.writerows(rows)
    return out.getvalue()


def _row(logged: LoggedSighting) -> tuple[str, ...]:
    s = logged.sighting
    angles = (s.az_reading_deg, s.alt_reading_deg, s.true_az_deg, s.true_alt_deg)
    return (
        short(s.utc) if s.utc is not None else "",
        clean(s.star),
        *(repr(float(a)) for a in angles),
        clean(s.eyepiece),
        str(logged.active),
        repr(float(logged.corrected_by_s)),
    )
