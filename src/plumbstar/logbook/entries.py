"""The entries of a logbook: outings, sightings, finds, fixes, notes and mends."""

from __future__ import annotations

import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import msgspec

from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook.base import Book, Row, Step, to_json
from plumbstar.logbook.records import (
    ORIGINS,
    Clock,
    Find,
    LoggedFix,
    LoggedSighting,
    Mend,
    Note,
    NotSaved,
    Origin,
    Outing,
    clean,
    stamp,
)
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do

_OUTING = (
    "SELECT id, uid, site, kit_name, kit_text, started, ended, solar_filter, deleted,"
    " (SELECT count(*) FROM sightings s WHERE s.outing_id = o.id AND s.deleted IS NULL),"
    " (SELECT count(*) FROM finds f WHERE f.outing_id = o.id AND f.deleted IS NULL),"
    " shift_s, end_shift_s, clock_boot, clock_zero FROM outings o"
)
_SIGHTING = (
    "SELECT id, outing_id, number, star, true_az_deg, true_alt_deg, reading_az_deg,"
    " reading_alt_deg, utc, eyepiece, typed, origin, az_count, alt_count, active, reason, saved,"
    " deleted, shift_s, shift_az_deg, shift_alt_deg, clock_boot, clock_zero FROM sightings"
)
_FIND = (
    "SELECT id, outing_id, number, target, utc, predicted_az_deg, predicted_alt_deg,"
    " found_az_deg, found_alt_deg, field_radius_deg, eyepiece, deleted,"
    " shift_s, clock_boot, clock_zero FROM finds"
)


def _when(text: str | None) -> Instant | None:
    return Instant.parse(text) if text else None


def _clock(boot: str | None, zero: float | None) -> Clock | None:
    return Clock(boot, zero) if boot is not None and zero is not None else None


def _shifted(text: str, shift_s: float | None) -> Instant:
    saved = Instant.parse(text)
    return saved.plus_seconds(shift_s) if shift_s else saved


def _outing(r: Row) -> Outing:
    site = msgspec.json.decode(r[2], type=Site) if r[2] else None
    start, end = _shifted(r[5], r[11]), _shifted(r[6], r[12]) if r[6] else None
    rest = (r[11] or 0.0, r[12] or 0.0, _clock(r[13], r[14]))
    return Outing(
        *(r[0], r[1], site, r[3], r[4], start, end, bool(r[7]), _when(r[8]), r[9], r[10]), *rest
    )


def _sighting(r: Row) -> LoggedSighting:
    s = Sighting(r[3], r[4], r[5], r[6], r[7], _when(r[8]), r[9])
    a, b, saved, deleted = r[:3], r[10:14], Instant.parse(r[16]), _when(r[17])
    right, as_saved = s, None
    if r[18] and s.utc is not None:
        right = replace(s, utc=s.utc.plus_seconds(r[18]), true_az_deg=r[19], true_alt_deg=r[20])
        as_saved = s
    return LoggedSighting(
        *(a[0], a[1], a[2], right, b[0], b[1], b[2], b[3], bool(r[14]), r[15], saved, deleted),
        *(r[18] or 0.0, as_saved, _clock(r[21], r[22])),
    )


def _find(r: Row) -> Find:
    place = (r[5], r[6], r[7], r[8], r[9], r[10])
    told = (_when(r[11]), r[12] or 0.0, _clock(r[13], r[14]))
    return Find(r[0], r[1], r[2], r[3], _shifted(r[4], r[12]), *place, *told)


class Entries(Book):
    """Adds, lists and marks. ``deleted=True`` also lists what is marked deleted."""

    # Outings

    def start_outing(self, site: Site | None, kit: Kit, kit_text: str, utc: Instant) -> Outing:
        """Begin an outing; one still open is ended at its last entry. Raises :class:`NotSaved`."""
        with self._changing("start of an outing") as steps:
            for (old,) in self._db.execute(
                "SELECT id FROM outings WHERE ended IS NULL AND deleted IS NULL"
            ).fetchall():
                times = [s.sighting.utc for s in self.sightings(old, deleted=True)]
                times += [self.outing(old).started, *(f.utc for f in self.finds(old, deleted=True))]
                last = max(t for t in times if t is not None)
                self._set(steps, "outings", old, "ended", stamp(last))
            key = self._new_outing(steps, site, kit.name, kit_text, utc, None)
        return self.outing(key)

    def _new_outing(
        self,
        steps: list[Step],
        site: Site | None,
        kit_name: str,
        kit_text: str,
        started: Instant,
        ended: Instant | None,
        uid: str = "",
    ) -> int:
        place = to_json(site) if site is not None else None
        end = stamp(ended) if ended is not None else None
        return self._add(
            steps,
            "outings",
            "(uid, site, kit_name, kit_text, started, ended, clock_boot, clock_zero)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(uid or uuid.uuid4().hex, place, clean(kit_name), kit_text, stamp(started), end),
                *self._timed_by(),
            ),
        )

    def _timed_by(self) -> tuple[str | None, float | None]:
        clock = self.basis()
        return (clock.boot, clock.zero) if clock is not None else (None, None)

    def end_outing(self, outing_id: int, utc: Instant) -> None:
        """Mark its end. Sightings may still be added."""
        with self._changing(f"end of outing {outing_id}", outing_id) as steps:
            self._open_outing(outing_id)
            self._set(steps, "outings", outing_id, "end_shift_s", None)
            self._set(steps, "outings", outing_id, "ended", stamp(utc))

    def outing(self, outing_id: int) -> Outing:
        """That outing, deleted or not. Raises :class:`UserError` when there is none."""
        rows = self._rows(f"{_OUTING} WHERE id = ?", (outing_id,))
        if not rows:
            raise UserError(
                f"outing {outing_id}", "an outing of this logbook", Advice(Do.LIST_OUTINGS)
            )
        return _outing(rows[0])

    def outings(self, *, kit: str | None = None, deleted: bool = False) -> tuple[Outing, ...]:
        """All of them, by start; ``kit`` takes only those with the kit of that name."""
        where = "WHERE (? OR deleted IS NULL) AND (? IS NULL OR kit_name = ?)"
        rows = self._rows(f"{_OUTING} {where}", (deleted, kit, kit))
        # Not by the file's text: a start that was corrected counts as what it is now.
        return tuple(sorted((_outing(r) for r in rows), key=lambda o: (o.started, o.id)))

    def current_outing(self) -> Outing | None:
        """The one begun last and not ended, or None."""
        rows = self._rows(
            f"{_OUTING} WHERE ended IS NULL AND deleted IS NULL ORDER BY id DESC LIMIT 1"
        )
        return _outing(rows[0]) if rows else None

    def set_solar_filter(self, outing_id: int, confirmed: bool) -> None:
        """Record that a full-aperture solar filter is on (or off). Not in the undo history."""
        with self._changing() as _:
            self._open_outing(outing_id)
            self._db.execute(
                "UPDATE outings SET solar_filter = ? WHERE id = ?", (confirmed, outing_id)
            )

    def delete_outing(self, outing_id: int) -> None:
        """Mark it deleted, with all in it. :meth:`undo` or :meth:`restore_outing` bring it back."""
        with self._changing(f"deletion of outing {outing_id}", outing_id) as steps:
            self._open_outing(outing_id)
            self._set(steps, "outings", outing_id, "deleted", stamp(self.now()))

    def restore_outing(self, outing_id: int) -> None:
        """Take the mark off again."""
        self.outing(outing_id)
        with self._changing(f"return of outing {outing_id}", outing_id) as steps:
            self._set(steps, "outings", outing_id, "deleted", None)

    def _open_outing(self, outing_id: int) -> None:
        row = self._db.execute("SELECT deleted FROM outings WHERE id = ?", (outing_id,)).fetchone()
        if row is None or row[0] is not None:
            raise NotSaved(
                f"Nothing was saved. Outing {outing_id}"
                + (" is not in this logbook" if row is None else " is deleted"),
                "an outing that is kept",
                Advice(Do.FIND_A_DELETED_OUTING),
            )

    # Sightings

    def add_sighting(
        self,
        outing_id: int,
        sighting: Sighting,
        origin: Origin,
        counts: tuple[int, int] | None = None,
        *,
        typed: str = "",
        request: str | None = None,
    ) -> int:
        """Save one sighting; it is on disk when this returns its id.

        ``counts`` are the raw (azimuth, altitude) counts; ``typed`` the star as typed, if not as
        in ``sighting.star``. A ``request`` already seen returns the id it had: a page may send
        the same press twice. The time is kept to the nanosecond, names without control characters.
        Raises :class:`NotSaved`.
        """
        with self._changing(f"a sighting of {clean(sighting.star)}", outing_id) as steps:
            if request is not None and (made := self.sighting_of_request(request)) is not None:
                return made
            return self._insert_sighting(
                steps, outing_id, sighting, origin, counts, typed or sighting.star, request
            )

    def _insert_sighting(
        self,
        steps: list[Step],
        outing_id: int,
        s: Sighting,
        origin: str,
        counts: tuple[int | None, int | None] | None,
        typed: str,
        request: str | None = None,
        active: bool = True,
        reason: str = "",
    ) -> int:
        self._open_outing(outing_id)
        if origin not in ORIGINS:
            raise NotSaved(f"a sighting's origin '{origin}'", ", ".join(ORIGINS), "Use one of them")
        return self._add(
            steps,
            "sightings",
            "(outing_id, number, typed, star, utc, az_count, alt_count,"
            " reading_az_deg, reading_alt_deg, true_az_deg, true_alt_deg, eyepiece, origin,"
            " active, reason, saved, request, clock_boot, clock_zero) VALUES (?1, (SELECT"
            " coalesce(max(number), 0) + 1 FROM sightings WHERE outing_id = ?1),"
            " ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                outing_id,
                clean(typed),
                clean(s.star),
                stamp(s.utc) if s.utc is not None else None,
                *(counts or (None, None)),
                *(s.az_reading_deg, s.alt_reading_deg, s.true_az_deg, s.true_alt_deg),
                clean(s.eyepiece),
                *(origin, active, clean(reason), stamp(self.now()), request),
                *(self._timed_by() if origin != "imported" else (None, None)),
            ),
        )

    def sightings(
        self, outing_id: int, *, active: bool | None = None, deleted: bool = False
    ) -> tuple[LoggedSighting, ...]:
        """Those of an outing as they were made; ``active=True`` leaves out those set aside."""
        rows = self._rows(
            f"{_SIGHTING} WHERE outing_id = ? AND (? OR deleted IS NULL)"
            " AND (? IS NULL OR active = ?) ORDER BY number",
            (outing_id, deleted, active, active),
        )
        return tuple(_sighting(r) for r in rows)

    def sighting(self, outing_id: int, number: int) -> LoggedSighting:
        """The one that ``log show`` numbers so, deleted or not. Raises :class:`UserError`."""
        rows = self._rows(f"{_SIGHTING} WHERE outing_id = ? AND number = ?", (outing_id, number))
        if not rows:
            raise UserError(
                f"sighting {number} of outing {outing_id}",
                "one that is there",
                Advice(Do.LIST_SIGHTINGS, str(outing_id)),
            )
        return _sighting(rows[0])

    def sighting_of_request(self, request: str) -> int | None:
        """The id of the sighting that this request made (deleted since or not), or None."""
        rows = self._rows("SELECT id FROM sightings WHERE request = ?", (request,))
        return int(rows[0][0]) if rows else None

    def set_aside(self, sighting_id: int, reason: str) -> None:
        """Leave it out of the fix, saying why; it stays in the log."""
        self._mark_sighting(sighting_id, "set aside", active=0, reason=clean(reason))

    def put_back(self, sighting_id: int) -> None:
        """Use a sighting again that was set aside."""
        self._mark_sighting(sighting_id, "put back", active=1, reason="")

    def delete_sighting(self, sighting_id: int) -> None:
        """Mark it deleted; :meth:`undo` or :meth:`restore_sighting` bring it back."""
        self._mark_sighting(sighting_id, "deleted", deleted=stamp(self.now()))

    def restore_sighting(self, sighting_id: int) -> None:
        """Take the mark off again."""
        self._mark_sighting(sighting_id, "brought back", deleted=None)

    def _mark_sighting(self, sighting_id: int, what: str, **cells: Any) -> None:
        rows = self._rows(f"{_SIGHTING} WHERE id = ?", (sighting_id,))
        if not rows:
            raise NotSaved(f"no sighting {sighting_id}", "one that is there", "Reload the page")
        s = _sighting(rows[0])
        text = f"sighting {s.number} ({s.sighting.star}) of outing {s.outing_id} {what}"
        with self._changing(text, s.outing_id) as steps:
            for column, value in cells.items():
                self._set(steps, "sightings", sighting_id, column, value)

    # Finds, fixes, notes

    def add_find(
        self,
        outing_id: int,
        target: str,
        utc: Instant,
        predicted_deg: tuple[float, float],
        found_deg: tuple[float, float] | None,
        field_radius_deg: float,
        eyepiece: str = "",
        *,
        request: str | None = None,
    ) -> int:
        """Save what became of a target: readings (azimuth, altitude) predicted and, if it was
        centred, found; None says that it was not there. ``request`` as for sightings."""
        numbers = (*predicted_deg, *(found_deg or ()), field_radius_deg)
        if not all(math.isfinite(x) for x in numbers):
            raise NotSaved(f"a find of {target} with {numbers}", "finite degrees", "Correct them")
        what = "the search for" if found_deg is None else "the find of"
        with self._changing(f"{what} {clean(target)}", outing_id) as steps:
            return self._insert_find(
                *(steps, outing_id, target, utc, predicted_deg, found_deg),
                *(field_radius_deg, eyepiece, request),
            )

    def add_found(
        self,
        outing_id: int,
        sighting: Sighting,
        origin: Origin,
        counts: tuple[int, int] | None,
        predicted_deg: tuple[float, float],
        field_radius_deg: float,
        *,
        request: str,
    ) -> int:
        """A target centred by one press: its sighting and its find, both on disk or neither, and
        one undo takes back both. Returns the sighting's id; ``request`` as for sightings.
        Raises :class:`NotSaved`."""
        utc = sighting.utc
        if utc is None or not all(math.isfinite(x) for x in (*predicted_deg, field_radius_deg)):
            raise NotSaved(
                f"a find of {sighting.star} without time or degrees", "both", "Give them"
            )
        with self._changing(f"the find of {clean(sighting.star)}", outing_id) as steps:
            known = self.sighting_of_request(request)
            if known is not None:
                return known
            made = self._insert_sighting(
                steps, outing_id, sighting, origin, counts, sighting.star, request
            )
            found = (sighting.az_reading_deg, sighting.alt_reading_deg)
            self._insert_find(
                *(steps, outing_id, sighting.star, utc, predicted_deg, found),
                *(field_radius_deg, sighting.eyepiece, request),
            )
            return made

    def _insert_find(
        self,
        steps: list[Step],
        outing_id: int,
        target: str,
        utc: Instant,
        predicted_deg: tuple[float, float],
        found_deg: tuple[float, float] | None,
        field_radius_deg: float,
        eyepiece: str,
        request: str | None,
    ) -> int:
        self._open_outing(outing_id)
        seen = self._db.execute("SELECT id FROM finds WHERE request = ?", (request,))
        if request is not None and (row := seen.fetchone()) is not None:
            return int(row[0])
        return self._add(
            steps,
            "finds",
            "(outing_id, number, target, utc, predicted_az_deg,"
            " predicted_alt_deg, found_az_deg, found_alt_deg, field_radius_deg, eyepiece,"
            " request, clock_boot, clock_zero) VALUES (?1, (SELECT coalesce(max(number), 0) + 1"
            " FROM finds WHERE outing_id = ?1), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(outing_id, clean(target), stamp(utc), *predicted_deg),
                *(found_deg or (None, None)),
                *(field_radius_deg, clean(eyepiece), request),
                *self._timed_by(),
            ),
        )

    def finds(self, outing_id: int, *, deleted: bool = False) -> tuple[Find, ...]:
        """Those of an outing, in order."""
        rows = self._rows(
            f"{_FIND} WHERE outing_id = ? AND (? OR deleted IS NULL) ORDER BY number",
            (outing_id, deleted),
        )
        return tuple(_find(r) for r in rows)

    def add_fix(self, outing_id: int, body: Mapping[str, Any], utc: Instant) -> int:
        """Keep a fix as JSON (arrays become lists). Derived: it is not in the undo history."""
        with self._changing() as _:
            self._open_outing(outing_id)
            cursor = self._db.execute(
                "INSERT INTO fixes (outing_id, utc, body) VALUES (?, ?, ?)",
                (outing_id, stamp(utc), to_json(body)),
            )
        return int(cursor.lastrowid or 0)

    def fixes(self, outing_id: int) -> tuple[LoggedFix, ...]:
        """The fixes kept for an outing, oldest first."""
        rows = self._rows(
            "SELECT id, outing_id, utc, body FROM fixes WHERE outing_id = ? ORDER BY id",
            (outing_id,),
        )
        return tuple(
            LoggedFix(r[0], r[1], Instant.parse(r[2]), msgspec.json.decode(r[3])) for r in rows
        )

    def add_note(self, outing_id: int, text: str, utc: Instant, *, undoable: bool = True) -> int:
        """Save a remark; line breaks are kept. Raises :class:`UserError` when it is empty.

        ``undoable=False`` for what the program itself notes: undo is for what the observer did.
        """
        text = "\n".join(clean(line) for line in text.splitlines()).strip()
        if not text:
            raise NotSaved("an empty note", "some words", "Write them after the outing's number")
        with self._changing(f"a note on outing {outing_id}", outing_id) as steps:
            self._open_outing(outing_id)
            return self._add(
                steps if undoable else [],
                "notes",
                "(outing_id, utc, text, clock_boot, clock_zero) VALUES (?, ?, ?, ?, ?)",
                (outing_id, stamp(utc), text, *self._timed_by()),
            )

    def notes(self, outing_id: int, *, deleted: bool = False) -> tuple[Note, ...]:
        """The remarks on an outing."""
        rows = self._rows(
            "SELECT id, outing_id, utc, text, deleted, shift_s, clock_boot, clock_zero FROM notes"
            " WHERE outing_id = ? AND (? OR deleted IS NULL) ORDER BY id",
            (outing_id, deleted),
        )
        return tuple(
            Note(
                *(r[0], r[1], _shifted(r[2], r[5]), r[3], _when(r[4])),
                *(r[5] or 0.0, _clock(r[6], r[7])),
            )
            for r in rows
        )

    def add_mend(self, kit_name: str, terms: Sequence[str], text: str, utc: Instant) -> int:
        """Record that the kit was changed, so that ``terms`` are learnt anew from ``utc`` on."""
        with self._changing(f"the mend '{clean(text)}' of {clean(kit_name)}") as steps:
            return self._add(
                steps,
                "mends",
                "(kit_name, utc, terms, text) VALUES (?, ?, ?, ?)",
                (clean(kit_name), stamp(utc), to_json(list(terms)), clean(text)),
            )

    def mends(self, kit_name: str) -> tuple[Mend, ...]:
        """The mends of a kit, oldest first."""
        rows = self._rows(
            "SELECT id, kit_name, utc, terms, text, deleted FROM mends"
            " WHERE kit_name = ? AND deleted IS NULL ORDER BY utc, id",
            (clean(kit_name),),
        )
        return tuple(
            Mend(r[0], r[1], Instant.parse(r[2]), tuple(msgspec.json.decode(r[3])), r[4], None)
            for r in rows
        )
