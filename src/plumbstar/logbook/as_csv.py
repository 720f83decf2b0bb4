"""Sightings as CSV that other programs read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from plumbstar.logbook.records import short
from plumbstar.mount.sighting import Sighting
from plumbstar.text import table
from plumbstar.text.words import clean

CSV_COLUMNS = (
    "utc",
    "star",
    "az_reading_deg",
    "alt_reading_deg",
    "true_az_deg",
    "true_alt_deg",
    "eyepiece",
)
#: A remark for the reader of a CSV file: the time beside it is the corrected one.
CORRECTED = "corrected_by_s"


def sightings_to_csv(sightings: Iterable[Sighting], corrected_by_s: Sequence[float] = ()) -> str:
    """CSV with a heading line; every number is written so that it is read back to the last bit.

    ``corrected_by_s``: by how much each time was corrected since it was saved. A column for it is
    written when one was.
    """
    told = any(corrected_by_s)
    rows = []
    for k, s in enumerate(sightings):
        utc = short(s.utc) if s.utc is not None else ""
        angles = (s.az_reading_deg, s.alt_reading_deg, s.true_az_deg, s.true_alt_deg)
        more = (repr(float(corrected_by_s[k])),) if told else ()
        rows.append(
            (utc, clean(s.star), *(repr(float(a)) for a in angles), clean(s.eyepiece), *more)
        )
    return table.write((*CSV_COLUMNS, CORRECTED) if told else CSV_COLUMNS, rows)
