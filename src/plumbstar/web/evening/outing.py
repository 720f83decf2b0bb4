"""The outing in progress, if there is one: begun, ended, and what is said of it as a whole."""

from __future__ import annotations

from collections.abc import Callable

from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook, Outing
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant


class OutingInProgress:
    """``outing`` is its record in the logbook, or None between two evenings."""

    def __init__(self, book: Logbook, now: Callable[[], Instant]) -> None:
        self._book, self._now = book, now
        self.outing: Outing | None = None

    def need(self) -> Outing:
        """The outing in progress. Raises UserError without one."""
        if self.outing is None:
            raise UserError("No outing has begun", "", "Start an outing first")
        return self.outing

    def find(self) -> None:
        """The one that the logbook says is open: another program may have begun or ended it."""
        self.outing = self._book.current_outing()

    def read(self) -> None:
        """The same outing's record again, after something was written into it."""
        if self.outing is not None:
            self.outing = self._book.outing(self.outing.id)

    def begin(self, site: Site, kit: Kit, kit_text: str) -> Outing:
        """A new one, here and now."""
        self.outing = self._book.start_outing(site, kit, kit_text, self._now())
        return self.outing

    def end(self) -> None:
        """Close it. Raises UserError without one."""
        self._book.end_outing(self.need().id, self._now())
        self.outing = None

    def discard(self) -> None:
        """Take one out of the log in which nothing was observed."""
        outing, self.outing = self.need(), None
        self._book.delete_outing(outing.id)

    def confirm_filter(self, confirmed: bool) -> None:
        """A full-aperture solar filter is on (or off): only the observer can know."""
        self._book.set_solar_filter(self.need().id, confirmed)
        self.read()

    @property
    def filter_confirmed(self) -> bool:
        """Whether the observer said that the solar filter is on."""
        return self.outing is not None and self.outing.solar_filter

    def note(self, text: str) -> None:
        """A remark for the log."""
        self._book.add_note(self.need().id, text[:4000], self._now())

    def note_unasked(self, text: str) -> None:
        """What became of the clock or of the readings: for the log, and not to be undone."""
        if self.outing is not None:
            self._book.add_note(self.outing.id, text, self._now(), undoable=False)
