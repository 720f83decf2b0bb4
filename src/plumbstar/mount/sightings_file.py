"""Sightings as a table: what a person can keep in a spreadsheet.

Columns ``utc,star,az_reading_deg,alt_reading_deg``; or ``true_az_deg,true_alt_deg`` in place of
``utc,star``, and then no site is needed. A line with both has its true place from the table.
A star of "?" is one that nobody knew; "? orange" and "? white" say how it looked.
A column ``local_time`` may stand for ``utc``: date and time by the site's own clock.
``encoder_az_deg,encoder_alt_deg`` are accepted for the readings, and an ``eyepiece`` column may
follow. How the cells may be written: text/table.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from plumbstar.errors import UserError
from plumbstar.mount.sighting import Colour, Sighting, Unnamed
from plumbstar.sky.local_time import at_clock_of
from plumbstar.sky.times import Instant
from plumbstar.text import table
from plumbstar.text.advice import Advice, Do
from plumbstar.text.table import Repeat, Row, Table
from plumbstar.text.words import clean

#: Heading -> our name for it.
_HEADINGS = {
    "encoder_az_deg": "az_reading_deg",
    "encoder_alt_deg": "alt_reading_deg",
    **{
        name: name
        for name in (
            "utc", "local_time", "star", "az_reading_deg", "alt_reading_deg", "true_az_deg",
            "true_alt_deg", "eyepiece",
            "corrected_by_s",  # a remark of the logbook's export: the time beside it is corrected
        )
    },
}  # fmt: skip
WANTED = (
    "the columns utc,star,az_reading_deg,alt_reading_deg, or true_az_deg,true_alt_deg in place of "
    "utc,star"
)
_DEGREES = "a number of degrees"
#: What may be said of a star whose name nobody knows.
_COLOURS = {
    "orange": Colour.ORANGE, "red": Colour.ORANGE, "white": Colour.WHITE, "blue": Colour.WHITE,
    "not orange": Colour.WHITE,
}  # fmt: skip

#: Finds what a name stands for: (name, utc) -> (name for the log, azimuth deg, altitude deg), the
#: observed place. Raises UserError.
Place = Callable[[str, Instant], tuple[str, float, float]]


@dataclass(frozen=True, slots=True)
class SightingsTable:
    """What a table of sightings holds: each once, with its line, and which lines repeat one."""

    rows: tuple[Sighting | Unnamed, ...]
    lines: tuple[int, ...]
    repeats: tuple[Repeat, ...]
    source: str = ""

    @property
    def sightings(self) -> tuple[Sighting, ...]:
        """For who cannot name a star. Raises :class:`UserError` where one is "?"."""
        out = []
        for row, line in zip(self.rows, self.lines, strict=True):
            if isinstance(row, Unnamed):
                raise UserError(
                    f"{self.source or 'The table'}, line {line}: the star is '?'",
                    "the name of a star",
                    Advice(Do.NAME_THE_STARS),
                )
            out.append(row)
        return tuple(out)

    def named(self) -> list[Sighting]:
        """The sightings; one without a name is called by its line. Raises as above."""
        pairs = zip(self.sightings, self.lines, strict=True)
        return [s if s.star else replace(s, star=f"line {n}") for s, n in pairs]

    def entries(self) -> list[Sighting | Unnamed]:
        """The rows; a place without a name is called by its line."""
        pairs = zip(self.rows, self.lines, strict=True)
        return [
            replace(s, star=f"line {n}") if isinstance(s, Sighting) and not s.star else s
            for s, n in pairs
        ]

    def notes(self) -> list[str]:
        """What is to be said of the reading, one sentence each."""
        return [r.sentence for r in self.repeats]


def is_table(text: str) -> bool:
    """Whether text is a table of sightings, by its heading."""
    return any(name in table.heading(text) for name in ("az_reading_deg", "encoder_az_deg"))


def parse(
    text: str, place: Place | None = None, source: str = "", zone: str | None = None
) -> SightingsTable:
    """The sightings of a table; ``place`` finds those without a true place, ``zone`` is that of
    the site's clock, for a column ``local_time`` (None: not known).

    Raises :class:`plumbstar.text.table.TableError` naming source, line and column.
    """
    found = table.read(text, source, lambda name: _HEADINGS.get(name, ""), WANTED)
    _check_heading(found)
    found.needs_rows("sightings")
    seen = tuple(_sighting(row, place, zone) for row in found.rows)
    return SightingsTable(seen, tuple(row.line for row in found.rows), found.repeats, source)


def _check_heading(found: Table) -> None:
    for name in ("az_reading_deg", "alt_reading_deg"):
        if name not in found.named:
            raise found.error(f"no column '{name}'", WANTED)
    if not ({"true_az_deg", "true_alt_deg"} <= set(found.named)) and not (
        "star" in found.named and {"utc", "local_time"} & set(found.named)
    ):
        raise found.error(
            "neither the columns utc and star nor true_az_deg and true_alt_deg", WANTED
        )


def _unnamed(row: Row, star: str) -> tuple[bool, Colour | None]:
    """Whether the star is "?", and the colour said of it."""
    if not star.startswith("?"):
        return False, None
    said = star[1:].strip().casefold()
    if said and said not in _COLOURS:
        raise row.error(f"'{star}'", "a star's name, or ?, ? orange or ? white", "Correct it")
    return True, _COLOURS.get(said)


def _moment(row: Row, zone: str | None) -> Instant | None:
    """When it was: UTC, or what the site's clock showed."""
    name = "utc" if row.text("utc") else "local_time"
    text = row.text(name)
    if not text:
        return None
    if name == "local_time" and zone is None:
        raise row.error(
            f"the clock time '{text}'",
            "the site by whose clock it is",
            "Give --site with a site that you keep or coordinates near a town, or a column utc",
        )
    try:
        return Instant.parse(text) if name == "utc" else at_clock_of(text, zone or "")
    except UserError as e:
        raise row.at(e, name) from None


def _sighting(row: Row, place: Place | None, zone: str | None) -> Sighting | Unnamed:
    az_reading, alt_reading = (row.needed(f"{a}_reading_deg", _DEGREES) for a in ("az", "alt"))
    star = clean(row.text("star"))
    utc = _moment(row, zone)
    az, alt = (row.number(f"true_{a}_deg", _DEGREES) for a in ("az", "alt"))
    try:
        if az is None or alt is None:  # else its place is known, whatever it is called
            unnamed, colour = _unnamed(row, star)
            if unnamed and utc is None:
                raise row.error("a star '?' without its time", "utc", "Fill it in")
            if unnamed and utc is not None:
                eyepiece = clean(row.text("eyepiece"))
                return Unnamed(utc, az_reading, alt_reading, eyepiece, colour)
            star, az, alt = _placed(row, star, utc, place)
        return Sighting(star, az, alt, az_reading, alt_reading, utc, clean(row.text("eyepiece")))
    except table.TableError:
        raise
    except UserError as e:
        raise row.at(e) from None


def _placed(
    row: Row, star: str, utc: Instant | None, place: Place | None
) -> tuple[str, float, float]:
    if not star or utc is None:
        raise row.error(
            "neither a true place nor star and time",
            "true_az_deg and true_alt_deg, or utc and star",
            "Fill in one pair",
        )
    if place is None:
        raise row.error(
            f"only a name for {star}",
            "the site, from which its place in the sky follows",
            "Give --site LAT,LON[,ELEV_M], or the columns true_az_deg and true_alt_deg",
        )
    return place(star, utc)
