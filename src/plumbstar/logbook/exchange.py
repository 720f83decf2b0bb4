"""Whole outings as text that other programs read: JSON.

Pure: text in, records out, or a :class:`UserError` that names the line.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Annotated

import msgspec

from plumbstar.errors import UserError
from plumbstar.logbook.looks import EveningSky, LoggedLook, Sketch
from plumbstar.logbook.looks_text import (
    LookText,
    SketchText,
    SkyText,
    check_seen,
    look_to_text,
    saved_time,
    sketch_to_text,
    sky_to_text,
)
from plumbstar.logbook.records import (
    Find,
    LoggedFix,
    LoggedSighting,
    Mend,
    Note,
    Outing,
    short,
)
from plumbstar.logbook.shown import DisplayEntry, DisplayEventKind
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import Axis, Cut
from plumbstar.mount.terms import PERSISTENT
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

FORMAT = "plumbstar outings"


class _Strict(msgspec.Struct, forbid_unknown_fields=True, kw_only=True, omit_defaults=True):
    """As :class:`~plumbstar.logbook.looks_text.TextOfLooks`."""


#: An encoder's count; the file keeps whole numbers of 64 bits.
Count = Annotated[int, msgspec.Meta(ge=-(2**63), le=2**63 - 1)]


class SightingText(_Strict):
    """A sighting in JSON."""

    star: str
    az_reading_deg: float
    alt_reading_deg: float
    true_az_deg: float
    true_alt_deg: float
    utc: str | None = None
    eyepiece: str = ""
    typed: str = ""
    origin: str = "imported"
    az_count: Count | None = None
    alt_count: Count | None = None
    active: bool = True
    reason: str = ""
    #: Where the time was corrected: by how much, and what had been saved.
    corrected_by_s: float = 0.0
    saved_utc: str | None = None
    saved_true_az_deg: float | None = None
    saved_true_alt_deg: float | None = None

    def sighting(self) -> Sighting:
        """The plain fact. Raises :class:`UserError`."""
        utc = Instant.parse(self.utc) if self.utc else None
        readings = self.az_reading_deg, self.alt_reading_deg
        return Sighting(
            self.star, self.true_az_deg, self.true_alt_deg, *readings, utc, self.eyepiece
        )

    def as_saved(self) -> Sighting | None:
        """What was saved before its time was corrected, or None. Raises :class:`UserError`."""
        az, alt = self.saved_true_az_deg, self.saved_true_alt_deg
        given = (self.saved_utc, az, alt, self.corrected_by_s or None)
        if all(x is None for x in given):
            return None
        if self.saved_utc is None or az is None or alt is None or not self.corrected_by_s:
            raise UserError(
                "a corrected time without all of its parts",
                "corrected_by_s, saved_utc, saved_true_az_deg and saved_true_alt_deg together",
                "Give all four or none",
            )
        saved_time(self.saved_utc, -self.corrected_by_s)  # what it was corrected to
        readings = self.az_reading_deg, self.alt_reading_deg
        return Sighting(self.star, az, alt, *readings, Instant.parse(self.saved_utc), self.eyepiece)


class FindText(_Strict):
    """A find in JSON; without found_* it was looked for in vain."""

    target: str
    utc: str
    predicted_az_deg: float
    predicted_alt_deg: float
    field_radius_deg: float
    found_az_deg: float | None = None
    found_alt_deg: float | None = None
    eyepiece: str = ""
    corrected_by_s: float = 0.0


class RemarkText(_Strict):
    """A note in JSON."""

    utc: str
    text: str
    corrected_by_s: float = 0.0


class FixText(_Strict):
    """A fix in JSON."""

    utc: str
    body: dict[str, object]


class MoveText(_Strict):
    """Something moved: ``after`` so many of the sightings in JSON, and what (slips.py)."""

    after: Annotated[int, msgspec.Meta(ge=0)]
    moved: tuple[Axis, ...]


class BesideText(_Strict):
    """A press beside a closed controller (shown.py), at its corrected time."""

    event: DisplayEventKind
    utc: str
    star: str = ""
    number_deg: float | None = None
    left_az_deg: float | None = None
    left_alt_deg: float | None = None
    chosen: str = ""
    looked: list[tuple[float, float]] = []
    field_deg: float = 0.0
    promised: float | None = None
    landed: bool = False
    corrected_by_s: float = 0.0


class OutingText(_Strict):
    """An outing in JSON: what was deleted is left out, what was set aside is there."""

    uid: str
    started: str
    ended: str | None = None
    site: Site | None = None
    kit_name: str = ""
    kit_text: str = ""
    sightings: list[SightingText] = []
    finds: list[FindText] = []
    notes: list[RemarkText] = []
    fixes: list[FixText] = []
    moves: list[MoveText] = []
    beside: list[BesideText] = []
    looks: list[LookText] = []
    skies: list[SkyText] = []
    sketches: list[SketchText] = []
    start_corrected_by_s: float = 0.0
    end_corrected_by_s: float = 0.0


#: A thickness in mm and how many, as a kit's shim; minus: taken out.
PieceText = tuple[
    Annotated[float, msgspec.Meta(ge=0.01, le=100)],
    Annotated[int, msgspec.Meta(ge=-1000, le=1000)],
]


class MendText(_Strict):
    """A mend of a kit in JSON (records.py): it belongs to no outing, but says what is learnt of
    those before it."""

    kit_name: str
    utc: str
    terms: list[str]
    text: str = ""
    put: list[PieceText] = []
    box: list[PieceText] = []

    def check(self) -> None:
        """Raises :class:`UserError` for a time that is none, or a term that is none."""
        saved_time(self.utc)
        for name in self.terms:
            if name not in PERSISTENT:
                raise UserError(f"the term '{name}'", f"one of {', '.join(PERSISTENT)}", "Check it")


class BookText(_Strict):
    """A file in JSON. Older ones have no mends."""

    format: str
    version: int
    outings: list[OutingText]
    mends: list[MendText] = []


#: Looks, skies and sketches of an outing.
Seen = tuple[Iterable[LoggedLook], Iterable[EveningSky], Iterable[Sketch]]


def outing_to_text(
    outing: Outing,
    sightings: Iterable[LoggedSighting],
    finds: Iterable[Find],
    notes: Iterable[Note],
    fixes: Iterable[LoggedFix],
    moves: Iterable[Cut],
    beside: Iterable[DisplayEntry] = (),
    seen: Seen = ((), (), ()),
) -> OutingText:
    """Gather one outing for :func:`to_json_text`."""
    return OutingText(
        uid=outing.uid,
        started=short(outing.started),
        ended=short(outing.ended) if outing.ended is not None else None,
        site=outing.site,
        kit_name=outing.kit_name,
        kit_text=outing.kit_text,
        sightings=[
            SightingText(
                star=x.sighting.star,
                az_reading_deg=x.sighting.az_reading_deg,
                alt_reading_deg=x.sighting.alt_reading_deg,
                true_az_deg=x.sighting.true_az_deg,
                true_alt_deg=x.sighting.true_alt_deg,
                utc=short(x.sighting.utc) if x.sighting.utc is not None else None,
                eyepiece=x.sighting.eyepiece,
                typed=x.typed,
                origin=x.origin,
                az_count=x.az_count,
                alt_count=x.alt_count,
                active=x.active,
                reason=x.reason,
                corrected_by_s=x.corrected_by_s,
                saved_utc=short(x.as_saved.utc) if x.as_saved and x.as_saved.utc else None,
                saved_true_az_deg=x.as_saved.true_az_deg if x.as_saved else None,
                saved_true_alt_deg=x.as_saved.true_alt_deg if x.as_saved else None,
            )
            for x in sightings
        ],
        finds=[
            FindText(
                target=f.target,
                utc=short(f.utc),
                predicted_az_deg=f.predicted_az_deg,
                predicted_alt_deg=f.predicted_alt_deg,
                field_radius_deg=f.field_radius_deg,
                found_az_deg=f.found_az_deg,
                found_alt_deg=f.found_alt_deg,
                eyepiece=f.eyepiece,
                corrected_by_s=f.corrected_by_s,
            )
            for f in finds
        ],
        notes=[
            RemarkText(utc=short(n.utc), text=n.text, corrected_by_s=n.corrected_by_s)
            for n in notes
        ],
        fixes=[FixText(utc=short(x.utc), body=x.body) for x in fixes],
        moves=[MoveText(after=n, moved=what) for n, what in moves],
        beside=[
            BesideText(
                event=e.event,
                utc=short(e.utc),
                star=e.star,
                number_deg=e.number_deg,
                left_az_deg=e.left_az_deg,
                left_alt_deg=e.left_alt_deg,
                chosen=e.chosen,
                looked=list(e.looked),
                field_deg=e.field_deg,
                promised=e.promised,
                landed=e.landed,
                corrected_by_s=e.corrected_by_s,
            )
            for e in beside
        ],
        looks=[look_to_text(x) for x in seen[0]],
        skies=[sky_to_text(x) for x in seen[1]],
        sketches=[sketch_to_text(x) for x in seen[2]],
        start_corrected_by_s=outing.start_corrected_by_s,
        end_corrected_by_s=outing.end_corrected_by_s,
    )


def mend_to_text(m: Mend) -> MendText:
    """A mend for :func:`to_json_text`."""
    put, box = list(m.put), list(m.box)
    return MendText(
        kit_name=m.kit_name, utc=short(m.utc), terms=list(m.terms), text=m.text, put=put, box=box
    )


def to_json_text(outings: Sequence[OutingText], mends: Iterable[Mend] = ()) -> str:
    """One JSON object, indented, numbers to the last bit."""
    file = BookText(
        format=FORMAT,
        version=1,
        outings=list(outings),
        mends=[mend_to_text(m) for m in mends],
    )
    raw = msgspec.json.encode(file)
    return msgspec.json.format(raw, indent=2).decode() + "\n"


def _line_at_fault(text: str) -> int | None:
    """The line at which the text ceases to be JSON; None if that is not known."""
    try:
        json.loads(text)
    except json.JSONDecodeError as e:
        return e.lineno
    except RecursionError:
        return None
    # JSON by its form: then it is a character that cannot be written.
    bad = next((i for i, c in enumerate(text) if "\ud800" <= c <= "\udfff"), None)
    return None if bad is None else text[:bad].count("\n") + 1


def outings_from_json(text: str) -> tuple[OutingText, ...]:
    """The outings of :func:`book_from_json`."""
    return tuple(book_from_json(text).outings)


def book_from_json(text: str) -> BookText:
    """Read what :func:`to_json_text` wrote. Raises :class:`UserError` naming line or place."""
    try:
        file = msgspec.json.decode(text.encode(), type=BookText)
    except msgspec.ValidationError as e:
        raise UserError(
            str(e), "the keys and types docs/logbook.md gives", "Correct that value"
        ) from None
    except (msgspec.DecodeError, UnicodeEncodeError) as e:
        where = f"line {line}: " if (line := _line_at_fault(text)) else ""
        raise UserError(f"{where}{e}", "valid JSON", "Correct the line") from None
    if file.format != FORMAT or file.version != 1:
        raise UserError(
            f"format '{file.format}' version {file.version}",
            f"'{FORMAT}' version 1",
            "Update Plumbstar, or export again",
        )
    for o in file.outings:
        for number, s in enumerate(o.sightings, 1):
            try:
                s.sighting()
                s.as_saved()
                if s.utc:
                    saved_time(s.utc, s.corrected_by_s)
            except UserError as e:
                raise e.within(f"sighting {number}") from None
        saved_time(o.started, o.start_corrected_by_s)
        saved_time(o.ended or o.started, o.end_corrected_by_s)
        told = [("find", k, x.utc, x.corrected_by_s) for k, x in enumerate(o.finds, 1)]
        told += [("note", k, x.utc, x.corrected_by_s) for k, x in enumerate(o.notes, 1)]
        told += [("beside", k, x.utc, x.corrected_by_s) for k, x in enumerate(o.beside, 1)]
        told += [("look", k, x.utc, x.corrected_by_s) for k, x in enumerate(o.looks, 1)]
        told += [("sky", k, x.utc, x.corrected_by_s) for k, x in enumerate(o.skies, 1)]
        told += [("sketch", k, x.utc, x.corrected_by_s) for k, x in enumerate(o.sketches, 1)]
        for what, number, utc, by_s in told:
            try:
                saved_time(utc, by_s)
            except UserError as e:
                raise e.within(f"{what} {number}") from None
        check_seen(o.looks, o.skies, o.sketches)
        for fix in o.fixes:
            saved_time(fix.utc)
    for number, mend in enumerate(file.mends, 1):
        try:
            mend.check()
        except UserError as e:
            raise e.within(f"mend {number}") from None
    return file
