"""The logbook whole: entries, and what is kept beside them; import and export."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Self

import msgspec

from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import exchange
from plumbstar.logbook.base import to_json
from plumbstar.logbook.correct import Corrections
from plumbstar.logbook.records import NotSaved, Outing, clean, stamp
from plumbstar.logbook.slips import DESK, Slip, cuts, slips_in
from plumbstar.mount import sightings_file
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.sightings_file import Place
from plumbstar.sky.naming.names import fold
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do

LONGEST_NAME = 120
SITES = "sites"  # the setting that holds the named sites


def good_name(text: str) -> str:
    """The name on one line. Raises :class:`UserError` for an empty or endless one, and for one
    that reads as coordinates, as those come first wherever a site is asked for."""
    name = clean(text)
    if not fold(name) or len(name) > LONGEST_NAME:
        raise UserError(
            f"the name '{name[:70]}'",
            f"a name of up to {LONGEST_NAME} characters, with letters or figures",
            "Choose another",
        )
    try:
        Site.parse(name)
    except UserError:
        return name
    raise UserError(
        f"the name '{name}', which reads as coordinates", "a name", "Choose another name"
    )


def site_key(site: Site) -> str:
    """What a skyline is filed under: the site's name, or its place to about 100 m."""
    return clean(site.name) or f"{site.lat_deg:.3f},{site.lon_deg:.3f}"


class Logbook(Corrections):
    """The observer's logbook: ``with Logbook.open(path) as book: ...``"""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # The page's state, settings, skylines

    def state(self, outing_id: int) -> dict[str, Any]:
        """What the pages share of an outing: chosen stars, present target and the like."""
        rows = self._rows("SELECT state FROM outings WHERE id = ?", (outing_id,))
        return dict(msgspec.json.decode(rows[0][0])) if rows else {}

    def update_state(self, outing_id: int, **changes: Any) -> dict[str, Any]:
        """Change some keys, keeping what another page set of the others; None removes a key."""
        with self._changing() as _:
            merged = {k: v for k, v in (self.state(outing_id) | changes).items() if v is not None}
            self._open_outing(outing_id)
            set_state = "UPDATE outings SET state = ? WHERE id = ?"
            self._db.execute(set_state, (to_json(merged), outing_id))
        return merged

    def get_setting(self, key: str, default: Any = None) -> Any:
        """A setting, or ``default``."""
        rows = self._rows("SELECT value FROM settings WHERE key = ?", (key,))
        return msgspec.json.decode(rows[0][0]) if rows else default

    def set_setting(self, key: str, value: Any) -> None:
        """Keep a setting (anything JSON can hold)."""
        with self._changing() as _:
            self._put(key, value)

    def _put(self, key: str, value: Any) -> None:
        self._db.execute(
            "INSERT INTO settings VALUES (?, ?)"
            " ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            (key, to_json(value)),
        )

    def skyline(self, site: Site) -> tuple[tuple[float, float], ...] | None:
        """Points (azimuth, altitude) in degrees of the site's obstructions, or None."""
        rows = self._rows("SELECT body FROM skylines WHERE site = ?", (site_key(site),))
        if not rows or rows[0][0] is None:
            return None
        return tuple(msgspec.json.decode(rows[0][0], type=list[tuple[float, float]]))

    def set_skyline(self, site: Site, points_deg: Sequence[tuple[float, float]]) -> None:
        """Keep the site's skyline; :meth:`undo` brings back the one before."""
        for az, alt in points_deg:
            if not (math.isfinite(az) and -90.0 <= alt <= 90.0):
                raise NotSaved(
                    f"a skyline point at azimuth {az:g}, altitude {alt:g}",
                    "an altitude from -90 to 90°",
                    "Correct that point",
                )
        key = site_key(site)
        with self._changing(f"the skyline of {key}") as steps:
            self._db.execute("INSERT OR IGNORE INTO skylines (site) VALUES (?)", (key,))
            row = self._db.execute("SELECT id FROM skylines WHERE site = ?", (key,)).fetchone()[0]
            self._set(steps, "skylines", row, "body", to_json([list(p) for p in points_deg]))

    # Named sites. Not undoable: a site is typed again in a moment, and its skyline stays.

    def sites(self) -> tuple[Site, ...]:
        """The sites kept under a name, in the order of their names."""
        kept = msgspec.convert(self.get_setting(SITES, []), list[Site])
        return tuple(sorted(kept, key=lambda s: s.name.casefold()))

    def site_named(self, name: str) -> Site | None:
        """The site kept under that name, or None. Capitals, accents and spaces are forgiven."""
        return next((s for s in self.sites() if fold(s.name) == fold(name)), None)

    def keep_site(self, site: Site) -> Site:
        """Keep it under its name, in place of one so called, whose spelling stays: its skyline
        is filed under that. Raises :class:`UserError` for a name that will not do."""
        name = good_name(site.name)
        with self._changing() as _:
            old = self.site_named(name)
            site = replace(site, name=old.name if old is not None else name)
            rest = [s for s in self.sites() if s.name != site.name]
            self._put(SITES, [msgspec.to_builtins(s) for s in (*rest, site)])
        return site

    def forget_site(self, name: str) -> Site:
        """Take it off the list; its skyline is kept. Raises :class:`UserError` if none is so
        called."""
        with self._changing() as _:
            gone = self.site_named(name)
            if gone is None:
                raise NotSaved(f"no site called '{name}'", "a kept site", "List them")
            rest = [s for s in self.sites() if s.name != gone.name]
            self._put(SITES, [msgspec.to_builtins(s) for s in rest])
        return gone

    # Import and export

    def export_csv(self, outing_id: int, *, set_aside: bool = False) -> str:
        """The sightings used in the fix as CSV; ``set_aside=True`` for the others as well."""
        self.outing(outing_id)
        chosen = self.sightings(outing_id, active=None if set_aside else True)
        return exchange.sightings_to_csv(
            [s.sighting for s in chosen], [s.corrected_by_s for s in chosen]
        )

    def export_json(self, *outing_ids: int) -> str:
        """Those outings (none named: all) with everything in them that is not deleted."""
        ids = outing_ids or tuple(o.id for o in self.outings())
        return exchange.to_json_text(
            [
                exchange.outing_to_text(
                    self.outing(i),
                    self.sightings(i),
                    self.finds(i),
                    self.notes(i),
                    self.fixes(i),
                    cuts(slips_in(self.state(i)), [s.id for s in self.sightings(i)]),
                )
                for i in ids
            ]
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
        times = [s.utc for s in sightings if s.utc is not None] or [self.now()]
        with self._changing(f"the import of {len(sightings)} sightings", into) as steps:
            name = kit.name if kit is not None else ""
            key = into
            if key is None:
                key = self._new_outing(steps, site, name, kit_text, min(times), max(times))
            # Rows of a new outing need no undo steps of their own: they come and go with it.
            within = steps if into is not None else []
            for s in sightings:
                self._insert_sighting(within, key, s, "imported", None, s.star)
        return self.outing(key)

    def import_json(self, text: str) -> tuple[Outing, ...]:
        """Add the outings of a JSON export. An outing that is here already is refused.

        All or nothing, and one undo takes the whole import back. Raises :class:`UserError`.
        """
        files = exchange.outings_from_json(text)
        keys: list[int] = []
        with self._changing(f"the import of {len(files)} outings") as steps:
            for o in files:
                self._refuse_second(o.uid)
                started = Instant.parse(o.started)
                # An outing from elsewhere must not become the one in progress here.
                texts = [x.utc for x in o.sightings] + [x.utc for x in o.finds]
                seen = [Instant.parse(t) for t in texts if t]
                ended = Instant.parse(o.ended) if o.ended else max([started, *seen])
                shifts = (o.start_corrected_by_s, o.end_corrected_by_s if o.ended else 0.0)
                times = (started.plus_seconds(-shifts[0]), ended.plus_seconds(-shifts[1]))
                key = self._new_outing(steps, o.site, o.kit_name, o.kit_text, *times, o.uid)
                self._db.execute(
                    "UPDATE outings SET shift_s = ?, end_shift_s = ? WHERE id = ?",
                    (*(x or None for x in shifts), key),
                )
                keys.append(key)
                rows: list[int] = []
                for s in o.sightings:
                    counts = (s.az_count, s.alt_count)
                    saved = s.as_saved()
                    fact = saved or s.sighting()
                    row = self._insert_sighting(
                        [], key, fact, s.origin, counts, s.typed, None, s.active, s.reason
                    )
                    if saved is not None:
                        self._db.execute(
                            "UPDATE sightings SET shift_s = ?, shift_az_deg = ?, shift_alt_deg = ?"
                            " WHERE id = ?",
                            (s.corrected_by_s, s.true_az_deg, s.true_alt_deg, row),
                        )
                    rows.append(row)
                self._insert_moves(key, o, rows)
                self._insert_rest(key, o)
        return tuple(self.outing(k) for k in keys)

    def _insert_moves(self, key: int, o: exchange.OutingText, rows: list[int]) -> None:
        """Where something moved among the sightings, now that these have numbers here."""
        slips = tuple(
            Slip(([0, *rows])[min(m.after, len(rows))], m.moved, "imported", told=True)
            for m in o.moves
        )
        if slips:
            state = to_json({DESK: {"slips": msgspec.to_builtins(slips)}})
            self._db.execute("UPDATE outings SET state = ? WHERE id = ?", (state, key))

    def _refuse_second(self, uid: str) -> None:
        row = self._db.execute("SELECT id, deleted FROM outings WHERE uid = ?", (uid,)).fetchone()
        if row is not None:
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
            return stamp(Instant.parse(text).plus_seconds(-corrected_by_s))

        self._db.executemany(
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
        self._db.executemany(
            "INSERT INTO notes (outing_id, utc, text, shift_s) VALUES (?, ?, ?, ?)",
            [(key, at(n.utc, n.corrected_by_s), n.text, n.corrected_by_s or None) for n in o.notes],
        )
        self._db.executemany(
            "INSERT INTO fixes (outing_id, utc, body) VALUES (?, ?, ?)",
            [(key, at(x.utc), to_json(x.body)) for x in o.fixes],
        )
