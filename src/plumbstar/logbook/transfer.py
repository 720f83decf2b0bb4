"""Outings taken in from text, and given out as text."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from plumbstar.kit import Kit
from plumbstar.logbook import exchange
from plumbstar.logbook.as_csv import sightings_to_csv
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import LogbookFile, to_json
from plumbstar.logbook.finds import Finds
from plumbstar.logbook.look_entries import LookEntries
from plumbstar.logbook.looks import good_words
from plumbstar.logbook.looks_text import saved_time
from plumbstar.logbook.notes import Mends, Notes
from plumbstar.logbook.outings import OutingEntries
from plumbstar.logbook.records import Mend, NotSaved, Outing, clean, stamp
from plumbstar.logbook.shown import (
    DISPLAY,
    DISPLAY_TIMES,
    DisplayEntry,
    as_saved,
    load_display,
)
from plumbstar.logbook.sightings import SightingEntries
from plumbstar.logbook.slips import DESK, Slip, cuts, slips_in
from plumbstar.logbook.whole_outing import WholeOutings
from plumbstar.mount import sightings_file
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.sightings_file import Place
from plumbstar.mount.slips import SlipCause
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import many


class Transfer(WholeOutings):
    """Outings in and out of one logbook, with the mends of their kits."""

    def __init__(
        self,
        file: LogbookFile,
        outings: OutingEntries,
        sightings: SightingEntries,
        finds: Finds,
        notes: Notes,
        looks: LookEntries,
        mends: Mends,
    ) -> None:
        super().__init__(file, outings, sightings, finds, notes, looks)
        self._mends = mends

    def export_csv(self, outing_id: int, *, set_aside: bool = False) -> str:
        """The sightings used in the fix as CSV; ``set_aside=True`` for the others as well."""
        self._outings.get(outing_id)
        chosen = self._sightings.of(outing_id, active=None if set_aside else True)
        return sightings_to_csv([s.sighting for s in chosen], [s.corrected_by_s for s in chosen])

    def export_json(self, *outing_ids: int) -> str:
        """Those outings (none named: all) with everything in them that is not deleted, and the
        mends of their kits (none named: all mends)."""
        ids = outing_ids or tuple(o.id for o in self._outings.all())
        kits = {self._outings.get(i).kit_name for i in ids}
        mends = [m for m in self._mends.all() if not outing_ids or m.kit_name in kits]
        return exchange.to_json_text(
            [
                exchange.outing_to_text(
                    self._outings.get(i),
                    self._sightings.of(i),
                    self._finds.of(i),
                    self._notes.of(i),
                    self._finds.fixes(i),
                    cuts(slips_in(self._outings.state(i)), [s.id for s in self._sightings.of(i)]),
                    load_display(self._outings.state(i)),
                    (self._looks.of(i), self._looks.skies(i), self._looks.sketches(i)),
                )
                for i in ids
            ],
            mends,
        )

    def import_csv(
        self,
        text: str,
        *,
        into: int | None = None,
        site: Site | None = None,
        kit: Kit | None = None,
        kit_text: str = "",
        place: Place | None = None,
    ) -> Outing:
        """As :meth:`import_sightings`, of a table. ``place`` finds a star without a true place."""
        sightings = sightings_file.parse(text, place).sightings
        return self.import_sightings(sightings, into=into, site=site, kit=kit, kit_text=kit_text)

    def import_sightings(
        self,
        sightings: Sequence[Sighting],
        *,
        into: int | None = None,
        site: Site | None = None,
        kit: Kit | None = None,
        kit_text: str = "",
    ) -> Outing:
        """Add sightings to outing ``into``, or to a new, ended one.

        All or nothing, and one undo takes the whole import back. Raises :class:`UserError`.
        """
        times = [s.utc for s in sightings if s.utc is not None] or [self._file.now()]
        about = many(len(sightings), "sighting")
        with self._file.changing(ChangeKind.IMPORTED, about, into) as steps:
            name = kit.name if kit is not None else ""
            key = into
            if key is None:
                key = self._outings.insert(steps, site, name, kit_text, min(times), max(times))
            # Rows of a new outing need no undo steps of their own: they come and go with it.
            within = steps if into is not None else []
            for s in sightings:
                self._sightings.insert(within, key, s, "imported", None, s.star)
        return self._outings.get(key)

    def import_json(self, text: str) -> tuple[Outing, ...]:
        """Add the outings and mends of a JSON export. An outing that is here already is refused, a
        mend that is here already stays the one that it is.

        All or nothing, and one undo takes the whole import back. Raises :class:`UserError`.
        """
        return self.import_book(exchange.book_from_json(text))

    def import_book(self, book: exchange.BookText) -> tuple[Outing, ...]:
        """As :meth:`import_json`, of what was read already."""
        files = book.outings
        keys: list[int] = []
        about = many(len(files), "outing")
        if not files and book.mends:
            about = many(len(book.mends), "mend")
        with self._file.changing(ChangeKind.IMPORTED, about) as steps:
            self._mends.bring_in(
                steps,
                [
                    Mend(
                        *(0, m.kit_name, Instant.parse(m.utc), tuple(m.terms), m.text, None),
                        *(tuple(m.put), tuple(m.box)),
                    )
                    for m in book.mends
                ],
            )
            for o in files:
                self._refuse_second(o.uid)
                started = Instant.parse(o.started)
                # An outing from elsewhere must not become the one in progress here.
                texts = [x.utc for x in o.sightings] + [x.utc for x in o.finds]
                texts += [x.utc for x in o.beside] + [x.utc for x in o.looks]
                seen = [Instant.parse(t) for t in texts if t]
                ended = Instant.parse(o.ended) if o.ended else max([started, *seen])
                shifts = (o.start_corrected_by_s, o.end_corrected_by_s if o.ended else 0.0)
                times = (started.plus_seconds(-shifts[0]), ended.plus_seconds(-shifts[1]))
                key = self._outings.insert(steps, o.site, o.kit_name, o.kit_text, *times, o.uid)
                self._file.db.execute(
                    "UPDATE outings SET shift_s = ?, end_shift_s = ? WHERE id = ?",
                    (*(x or None for x in shifts), key),
                )
                keys.append(key)
                rows: list[int] = []
                for s in o.sightings:
                    counts = (s.az_count, s.alt_count)
                    saved = s.as_saved()
                    fact = saved or s.sighting()
                    row = self._sightings.insert(
                        [], key, fact, s.origin, counts, s.typed, None, s.active, s.reason
                    )
                    if saved is not None:
                        self._file.db.execute(
                            "UPDATE sightings SET shift_s = ?, shift_az_deg = ?, shift_alt_deg = ?"
                            " WHERE id = ?",
                            (s.corrected_by_s, s.true_az_deg, s.true_alt_deg, row),
                        )
                    rows.append(row)
                self._insert_moves(key, o, rows)
                self._insert_rest(key, o)
        return tuple(self._outings.get(k) for k in keys)

    def _insert_moves(self, key: int, o: exchange.OutingText, rows: list[int]) -> None:
        """Where something moved among the sightings, now that these have numbers here; and what
        was pressed beside a closed controller."""
        slips = tuple(
            Slip(
                ([0, *rows])[min(m.after, len(rows))],
                m.moved,
                told=True,
                causes=(SlipCause("imported", m.moved),),
            )
            for m in o.moves
        )
        entries = tuple(
            DisplayEntry(
                f"imported-{o.uid}-{k}",
                saved_time(e.utc, e.corrected_by_s).to_unix(),
                e.event, clean(e.star), e.number_deg, e.left_az_deg, e.left_alt_deg,
                clean(e.chosen), tuple(e.looked), e.field_deg, corrected_by_s=e.corrected_by_s,
                promised=e.promised, landed=e.landed,
            )
            for k, e in enumerate(o.beside)
        )  # fmt: skip
        held: dict[str, object] = {}
        if slips:
            held[DESK] = {"slips": msgspec.to_builtins(slips)}
        if entries:
            held[DISPLAY] = as_saved(entries)
            held[DISPLAY_TIMES] = {e.press: e.corrected_by_s for e in entries if e.corrected_by_s}
        if held:
            state = to_json(held)
            self._file.db.execute("UPDATE outings SET state = ? WHERE id = ?", (state, key))

    def _refuse_second(self, uid: str) -> None:
        for row in self._file.rows("SELECT id, deleted FROM outings WHERE uid = ?", (uid,)):
            raise NotSaved(
                f"Nothing was imported. The file holds outing {row[0]}, which is here already"
                + (", marked deleted" if row[1] else ""),
                "outings that are not in this logbook yet",
                Advice(Do.BRING_BACK_AN_OUTING, str(row[0]))
                if row[1]
                else "Leave it out of the file",
            )

    def _insert_rest(self, key: int, o: exchange.OutingText) -> None:
        def at(text: str, corrected_by_s: float = 0.0) -> str:
            return stamp(saved_time(text, corrected_by_s))

        self._file.db.executemany(
            "INSERT INTO finds (outing_id, number, target, utc, predicted_az_deg,"
            " predicted_alt_deg, found_az_deg, found_alt_deg, field_radius_deg, eyepiece,"
            " shift_s) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (
                    *(key, n, clean(f.target), at(f.utc, f.corrected_by_s)),
                    *(f.predicted_az_deg, f.predicted_alt_deg, f.found_az_deg, f.found_alt_deg),
                    *(f.field_radius_deg, clean(f.eyepiece), f.corrected_by_s or None),
                )
                for n, f in enumerate(o.finds, 1)
            ],
        )
        for look in o.looks:
            utc = saved_time(look.utc, look.corrected_by_s)
            more = (look.seen, look.eyepiece, good_words(look.words), look.more, None)
            self._looks.insert([], key, look.target, utc, *more, look.corrected_by_s)
        for s in o.skies:
            utc = saved_time(s.utc, s.corrected_by_s)
            told = (s.seeing, s.transparency, s.zenith_mag, s.faintest_mag)
            words = good_words(s.words)
            self._looks.insert_sky([], key, utc, told, words, None, s.corrected_by_s)
        for d in o.sketches:
            utc = saved_time(d.utc, d.corrected_by_s)
            rest = (d.kind, d.body, None, d.corrected_by_s)
            self._looks.insert_sketch([], key, d.target, utc, *rest)
        self._file.db.executemany(
            "INSERT INTO notes (outing_id, utc, text, shift_s) VALUES (?, ?, ?, ?)",
            [(key, at(n.utc, n.corrected_by_s), n.text, n.corrected_by_s or None) for n in o.notes],
        )
        self._file.db.executemany(
            "INSERT INTO fixes (outing_id, utc, body) VALUES (?, ?, ?)",
            [(key, at(x.utc), to_json(x.body)) for x in o.fixes],
        )
