"""The outings of a logbook, and what the pages share of one."""

from __future__ import annotations

import uuid
from typing import Any

import msgspec

from plumbstar.errors import UserError
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import LogbookFile, Row, Step, to_json
from plumbstar.logbook.records import NotSaved, Outing, clean, shifted, stamp, timed_by, when
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do

OUTINGS = (
    "SELECT id, uid, site, kit_name, kit_text, started, ended, solar_filter, deleted,"
    " (SELECT count(*) FROM sightings s WHERE s.outing_id = o.id AND s.deleted IS NULL),"
    " (SELECT count(*) FROM finds f WHERE f.outing_id = o.id AND f.deleted IS NULL),"
    " shift_s, end_shift_s, clock_boot, clock_zero FROM outings o"
)


def outing_from(r: Row) -> Outing:
    site = msgspec.json.decode(r[2], type=Site) if r[2] else None
    start, end = shifted(r[5], r[11]), shifted(r[6], r[12]) if r[6] else None
    rest = (r[11] or 0.0, r[12] or 0.0, timed_by(r[13], r[14]))
    return Outing(
        *(r[0], r[1], site, r[3], r[4], start, end, bool(r[7]), when(r[8]), r[9], r[10]), *rest
    )


class OutingEntries:
    """Begins, ends, lists and marks them. ``deleted=True`` also lists what is marked deleted."""

    def __init__(self, file: LogbookFile) -> None:
        self._file = file

    def insert(
        self,
        steps: list[Step],
        site: Site | None,
        kit_name: str,
        kit_text: str,
        started: Instant,
        ended: Instant | None,
        uid: str = "",
    ) -> int:
        """A new row inside a change; returns its id."""
        place = to_json(site) if site is not None else None
        end = stamp(ended) if ended is not None else None
        return self._file.add(
            steps,
            "outings",
            "(uid, site, kit_name, kit_text, started, ended, clock_boot, clock_zero)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(uid or uuid.uuid4().hex, place, clean(kit_name), kit_text, stamp(started), end),
                *self._file.timed_by(),
            ),
        )

    def end(self, outing_id: int, utc: Instant) -> None:
        """Mark its end. Sightings may still be added."""
        with self._file.changing(ChangeKind.OUTING_ENDED, outing_id=outing_id) as steps:
            self.need_open(outing_id)
            self._file.set(steps, "outings", outing_id, "end_shift_s", None)
            self._file.set(steps, "outings", outing_id, "ended", stamp(utc))

    def get(self, outing_id: int) -> Outing:
        """That outing, deleted or not. Raises :class:`UserError` when there is none."""
        rows = self._file.rows(f"{OUTINGS} WHERE id = ?", (outing_id,))
        if not rows:
            raise UserError(
                f"outing {outing_id}", "an outing of this logbook", Advice(Do.LIST_OUTINGS)
            )
        return outing_from(rows[0])

    def all(self, *, kit: str | None = None, deleted: bool = False) -> tuple[Outing, ...]:
        """All of them, by start; ``kit`` takes only those with the kit of that name."""
        where = "WHERE (? OR deleted IS NULL) AND (? IS NULL OR kit_name = ?)"
        rows = self._file.rows(f"{OUTINGS} {where}", (deleted, kit, kit))
        # Not by the file's text: a start that was corrected counts as what it is now.
        return tuple(sorted((outing_from(r) for r in rows), key=lambda o: (o.started, o.id)))

    def last_over(self, most: int) -> list[int]:
        """The ids of the latest that have ended, by start, the latest last; marked deleted or not.
        Asked at every press: the others are not read."""
        rows = self._file.rows(
            "SELECT id FROM outings WHERE ended IS NOT NULL"
            " ORDER BY julianday(started) + coalesce(shift_s, 0) / 86400.0 DESC, id DESC LIMIT ?",
            (most,),
        )
        return [int(r[0]) for r in reversed(rows)]

    def current(self) -> Outing | None:
        """The one begun last and not ended, or None."""
        rows = self._file.rows(
            f"{OUTINGS} WHERE ended IS NULL AND deleted IS NULL ORDER BY id DESC LIMIT 1"
        )
        return outing_from(rows[0]) if rows else None

    def set_solar_filter(self, outing_id: int, confirmed: bool) -> None:
        """Record that a full-aperture solar filter is on (or off). Not in the undo history."""
        with self._file.changing() as _:
            self.need_open(outing_id)
            self._file.db.execute(
                "UPDATE outings SET solar_filter = ? WHERE id = ?", (confirmed, outing_id)
            )

    def delete(self, outing_id: int) -> None:
        """Mark it deleted, with all in it. Undo or :meth:`restore` bring it back."""
        with self._file.changing(ChangeKind.OUTING_DELETED, outing_id=outing_id) as steps:
            self.need_open(outing_id)
            self._file.set(steps, "outings", outing_id, "deleted", stamp(self._file.now()))

    def restore(self, outing_id: int) -> None:
        """Take the mark off again."""
        self.get(outing_id)
        with self._file.changing(ChangeKind.OUTING_BROUGHT_BACK, outing_id=outing_id) as steps:
            self._file.set(steps, "outings", outing_id, "deleted", None)

    def need_open(self, outing_id: int) -> None:
        """Refuse to save into an outing that is deleted or unknown. Raises :class:`NotSaved`."""
        rows = self._file.rows("SELECT deleted FROM outings WHERE id = ?", (outing_id,))
        if not rows or rows[0][0] is not None:
            raise NotSaved(
                f"Nothing was saved. Outing {outing_id}"
                + (" is not in this logbook" if not rows else " is deleted"),
                "an outing that is kept",
                Advice(Do.FIND_A_DELETED_OUTING),
            )

    def state(self, outing_id: int) -> dict[str, Any]:
        """What the pages share of an outing: chosen stars, present target and the like."""
        rows = self._file.rows("SELECT state FROM outings WHERE id = ?", (outing_id,))
        return dict(msgspec.json.decode(rows[0][0])) if rows else {}

    def update_state(self, outing_id: int, **changes: Any) -> dict[str, Any]:
        """Change some keys, keeping what another page set of the others; None removes a key."""
        with self._file.changing() as _:
            merged = {k: v for k, v in (self.state(outing_id) | changes).items() if v is not None}
            self.need_open(outing_id)
            set_state = "UPDATE outings SET state = ? WHERE id = ?"
            self._file.db.execute(set_state, (to_json(merged), outing_id))
        return merged
