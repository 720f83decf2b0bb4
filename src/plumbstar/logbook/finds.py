"""The finds of a logbook, and the fixes that led to them."""

from __future__ import annotations

import math
from collections.abc import Mapping

import msgspec

from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import LogbookFile, Row, Step, to_json
from plumbstar.logbook.outings import OutingEntries
from plumbstar.logbook.records import (
    Find,
    LoggedFix,
    NotSaved,
    Origin,
    clean,
    shifted,
    stamp,
    timed_by,
    when,
)
from plumbstar.logbook.sightings import SightingEntries
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.times import Instant

FINDS = (
    "SELECT id, outing_id, number, target, utc, predicted_az_deg, predicted_alt_deg,"
    " found_az_deg, found_alt_deg, field_radius_deg, eyepiece, deleted,"
    " shift_s, clock_boot, clock_zero FROM finds"
)


def find_from(r: Row) -> Find:
    place = (r[5], r[6], r[7], r[8], r[9], r[10])
    told = (when(r[11]), r[12] or 0.0, timed_by(r[13], r[14]))
    return Find(r[0], r[1], r[2], r[3], shifted(r[4], r[12]), *place, *told)


class Finds:
    """Adds and lists them. ``deleted=True`` also lists what is marked deleted."""

    def __init__(
        self, file: LogbookFile, outings: OutingEntries, sightings: SightingEntries
    ) -> None:
        self._file = file
        self._outings = outings
        self._sightings = sightings

    def add(
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
            raise NotSaved(
                f"a find of {target} with {numbers}", "numbers of degrees", "Correct them"
            )
        kind = ChangeKind.NOT_FOUND if found_deg is None else ChangeKind.FOUND
        with self._file.changing(kind, clean(target), outing_id) as steps:
            return self._insert(
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
        with self._file.changing(ChangeKind.FOUND, clean(sighting.star), outing_id) as steps:
            known = self._sightings.of_request(request)
            if known is not None:
                return known
            made = self._sightings.insert(
                steps, outing_id, sighting, origin, counts, sighting.star, request
            )
            found = (sighting.az_reading_deg, sighting.alt_reading_deg)
            self._insert(
                *(steps, outing_id, sighting.star, utc, predicted_deg, found),
                *(field_radius_deg, sighting.eyepiece, request),
            )
            return made

    def _insert(
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
        if (before := self._file.made_by(request, "finds")) is not None:
            return before
        self._outings.need_open(outing_id)
        return self._file.add(
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
                *self._file.timed_by(),
            ),
        )

    def of(self, outing_id: int, *, deleted: bool = False) -> tuple[Find, ...]:
        """Those of an outing, in order."""
        rows = self._file.rows(
            f"{FINDS} WHERE outing_id = ? AND (? OR deleted IS NULL) ORDER BY number",
            (outing_id, deleted),
        )
        return tuple(find_from(r) for r in rows)

    def add_fix(self, outing_id: int, body: Mapping[str, object], utc: Instant) -> int:
        """Keep a fix as JSON (arrays become lists). Derived: it is not in the undo history."""
        with self._file.changing() as _:
            self._outings.need_open(outing_id)
            cursor = self._file.db.execute(
                "INSERT INTO fixes (outing_id, utc, body) VALUES (?, ?, ?)",
                (outing_id, stamp(utc), to_json(body)),
            )
        return int(cursor.lastrowid or 0)

    def fixes(self, outing_id: int) -> tuple[LoggedFix, ...]:
        """The fixes kept for an outing, oldest first."""
        rows = self._file.rows(
            "SELECT id, outing_id, utc, body FROM fixes WHERE outing_id = ? ORDER BY id",
            (outing_id,),
        )
        return tuple(
            LoggedFix(r[0], r[1], Instant.parse(r[2]), msgspec.json.decode(r[3])) for r in rows
        )
