"""The logbook whole: its parts held together, under the names that everybody calls."""

from __future__ import annotations

import functools
import time
from collections.abc import Callable
from pathlib import Path
from typing import Self

from plumbstar.kit import Kit
from plumbstar.logbook import readable
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.correct import Corrections
from plumbstar.logbook.file import LogbookFile
from plumbstar.logbook.finds import Finds
from plumbstar.logbook.history import UndoHistory
from plumbstar.logbook.kept import Settings, Sites
from plumbstar.logbook.look_entries import LookEntries
from plumbstar.logbook.notes import Mends, Notes
from plumbstar.logbook.one_outing import copy_of_one
from plumbstar.logbook.outings import OutingEntries
from plumbstar.logbook.records import Outing, TimedBy, stamp
from plumbstar.logbook.sightings import SightingEntries
from plumbstar.logbook.transfer import Transfer
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant


class Logbook:
    """The observer's logbook: ``with Logbook.open(path) as book: ...``

    Each name below is a method of the part that it comes from; that is where it is described.
    """

    def __init__(self, file: LogbookFile) -> None:
        self.file = file
        outings = OutingEntries(file)
        sightings = SightingEntries(file, outings)
        finds = Finds(file, outings, sightings)
        settings = Settings(file)
        notes, mends = Notes(file, outings), Mends(file, settings)
        sites = Sites(file, settings)
        history = UndoHistory(file)
        looks = LookEntries(file, outings)
        corrections = Corrections(file, outings, sightings, finds, notes, looks)
        transfer = Transfer(file, outings, sightings, finds, notes, looks, mends)
        self._outings = outings

        self.path = file.path
        self.in_place, self.close, self.now = file.in_place, file.close, file.now
        self.version, self.elsewhere = file.version, file.elsewhere
        self.copy_to = file.copy_to
        self.copy_of_one = functools.partial(copy_of_one, file)

        self.outing, self.outings = outings.get, outings.all
        self.outings_over = outings.last_over
        self.current_outing, self.end_outing = outings.current, outings.end
        self.set_solar_filter = outings.set_solar_filter
        self.delete_outing, self.restore_outing = outings.delete, outings.restore
        self.state, self.update_state = outings.state, outings.update_state

        self.sightings, self.sighting = sightings.of, sightings.numbered
        self.add_sighting, self.sighting_of_request = sightings.add, sightings.of_request
        self.set_aside, self.put_back = sightings.set_aside, sightings.put_back
        self.rename_sightings = sightings.rename
        self.set_all_aside, self.outings_reading = sightings.set_all_aside, sightings.read_near
        self.delete_sighting, self.restore_sighting = sightings.delete, sightings.restore

        self.finds, self.add_find, self.add_found = finds.of, finds.add, finds.add_found
        self.fixes, self.add_fix = finds.fixes, finds.add_fix
        self.notes, self.add_note = notes.of, notes.add
        self.mends, self.add_mend, self.all_mends = mends.of, mends.add, mends.all

        self.looks, self.look, self.add_look = looks.of, looks.get, looks.add
        self.change_look, self.delete_look = looks.change, looks.delete
        self.look_of_request = looks.of_request
        self.sky_of_request, self.sketch_of_request = looks.sky_of_request, looks.sketch_of_request
        self.skies, self.tell_sky = looks.skies, looks.tell_sky
        self.sketches, self.sketch, self.add_sketch = looks.sketches, looks.sketch, looks.add_sketch
        self.delete_sketch = looks.delete_sketch

        self.mend_of_request = mends.of_request
        self.get_setting, self.set_setting = settings.get, settings.set
        self.skyline, self.set_skyline = sites.skyline, sites.set_skyline
        self.sites, self.site_named = sites.all, sites.named
        self.keep_site, self.forget_site = sites.keep, sites.forget

        self.history, self.undo, self.redo = history.last, history.undo, history.redo
        self.undo_mend, self.change_of_mend = history.undo_mend, history.of_mend
        self.purge = history.purge
        self.shifts_by, self.shifts_to = corrections.shifts_by, corrections.shifts_to
        self.correct_times = corrections.correct_times

        self.export_csv, self.export_json = transfer.export_csv, transfer.export_json
        self.import_csv, self.import_json = transfer.import_csv, transfer.import_json
        self.import_book = transfer.import_book
        self.import_sightings = transfer.import_sightings

    @classmethod
    def open(
        cls,
        path: Path | str | None = None,
        *,
        create: bool = True,
        clock: Callable[[], float] = time.time,
    ) -> Self:
        """As :meth:`LogbookFile.open`."""
        return cls(LogbookFile.open(path, create=create, clock=clock, before=readable.before))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def readonly(self) -> bool:
        """Whether it can only be read."""
        return self.file.readonly

    @property
    def basis(self) -> Callable[[], TimedBy | None]:
        """By which clock new entries are timed, asked at each; None where nobody can say."""
        return self.file.basis

    @basis.setter
    def basis(self, by: Callable[[], TimedBy | None]) -> None:
        self.file.basis = by

    def start_outing(self, site: Site | None, kit: Kit, kit_text: str, utc: Instant) -> Outing:
        """Begin an outing; one still open is ended at its last entry. Raises NotSaved."""
        with self.file.changing(ChangeKind.OUTING_STARTED) as steps:
            for (old,) in self.file.rows(
                "SELECT id FROM outings WHERE ended IS NULL AND deleted IS NULL"
            ):
                times = [s.sighting.utc for s in self.sightings(old, deleted=True)]
                times += [self.outing(old).started, *(f.utc for f in self.finds(old, deleted=True))]
                times += [x.utc for x in self.looks(old, deleted=True)]
                last = max(t for t in times if t is not None)
                self.file.set(steps, "outings", old, "ended", stamp(last))
            key = self._outings.insert(steps, site, kit.name, kit_text, utc, None)
        return self.outing(key)
