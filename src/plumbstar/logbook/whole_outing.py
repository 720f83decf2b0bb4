"""What reads and writes whole outings: the parts of the logbook that it needs, held together."""

from __future__ import annotations

from plumbstar.logbook.file import LogbookFile
from plumbstar.logbook.finds import Finds
from plumbstar.logbook.look_entries import LookEntries
from plumbstar.logbook.notes import Notes
from plumbstar.logbook.outings import OutingEntries
from plumbstar.logbook.sightings import SightingEntries


class WholeOutings:
    """The entries of an outing, and the file that they are in."""

    def __init__(
        self,
        file: LogbookFile,
        outings: OutingEntries,
        sightings: SightingEntries,
        finds: Finds,
        notes: Notes,
        looks: LookEntries,
    ) -> None:
        self._file = file
        self._outings = outings
        self._sightings = sightings
        self._finds = finds
        self._notes = notes
        self._looks = looks
