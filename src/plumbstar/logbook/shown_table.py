"""What a closed controller was told and showed in an outing, as a table.

The columns are those that ``controller forecast`` reads, and what a reader of the log wants beside.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from plumbstar.logbook.records import short
from plumbstar.logbook.shown import DisplayEntry
from plumbstar.text import table
from plumbstar.text.words import clean

#: Name, type, unit, and what it is.
COLUMNS: tuple[tuple[str, str, str, str], ...] = (
    ("utc", "string", "", "moment of the tap, ISO 8601 UTC"),
    ("event", "string", "", "upright, star, number, centred or missed"),
    ("star", "string", "", "the star told, what was centred, or what was looked for"),
    ("number_deg", "float64", "deg", "the number as shown"),
    ("left_az_deg", "float64", "deg", "what was left to push, right positive"),
    ("left_alt_deg", "float64", "deg", "what was left to push, up positive"),
    ("chosen", "string", "", "what was chosen on the controller, where it does not know the other"),
    ("corrected_by_s", "float64", "s", "what was added since to the moment that was saved"),
)


def rows_of(entries: Iterable[DisplayEntry]) -> Iterator[tuple[str, ...]]:
    """One row a tap; of a search in vain one a field, or one without figures where none is known.

    An empty cell is a figure that was not shown.
    """
    for e in entries:
        left: Iterable[tuple[float | None, float | None]] = ((e.left_az_deg, e.left_alt_deg),)
        if e.looked:
            left = ((-az, -alt) for az, alt in e.looked)
        for az, alt in left:
            yield (
                short(e.utc),
                e.event,
                clean(e.star),
                *(_figure(x) for x in (e.number_deg, az, alt)),
                clean(e.chosen),
                repr(float(e.corrected_by_s)),
            )


def shown_to_csv(entries: Iterable[DisplayEntry]) -> str:
    """CSV with a heading line."""
    return table.write(tuple(name for name, *_ in COLUMNS), list(rows_of(entries)))


def _figure(x: float | None) -> str:
    return "" if x is None else repr(float(x) + 0.0)
