"""What a closed controller showed this evening, as it was pressed and typed: on disk at once.

It lies in the outing's state. An alignment is what came since the tube was last on the stop.
"""

from __future__ import annotations

import msgspec

from plumbstar.logbook import Logbook
from plumbstar.logbook.shown import DISPLAY, DisplayEntry, alignments, as_saved, load_display
from plumbstar.web.evening.came_before import came_in_an_outing_before
from plumbstar.web.evening.outing import OutingInProgress

REHEARSED = "controller_rehearsed"  # a setting of the logbook

#: Rehearsals that are kept: the last so many.
MOST_REHEARSALS = 30


class ControllerDisplay:
    """``entries``: all of this outing's, in the order of their moments."""

    def __init__(self, book: Logbook, current: OutingInProgress) -> None:
        self._book, self._current = book, current
        self.entries: tuple[DisplayEntry, ...] = ()

    def read(self) -> None:
        """From the logbook."""
        outing = self._current.outing
        self.entries = load_display(self._book.state(outing.id)) if outing else ()

    def known(self, press: str) -> bool:
        """Whether that press came before, in an outing that is over, too."""
        here = any(e.press == press for e in self.entries)
        return here or came_in_an_outing_before(self._book, press)

    def add(self, entry: DisplayEntry) -> None:
        """On disk when it returns. One that comes late takes its place by its moment."""
        clock = self._book.basis()
        if clock is not None:
            entry = msgspec.structs.replace(entry, boot=clock.boot, zero=clock.zero)
        self._keep(tuple(sorted((*self.entries, entry), key=lambda e: e.at_unix)))

    def take_back(self) -> DisplayEntry | None:
        """The last one, gone; None where there is none."""
        if not self.entries:
            return None
        last = self.entries[-1]
        self._keep(self.entries[:-1])
        return last

    def _keep(self, entries: tuple[DisplayEntry, ...]) -> None:
        outing = self._current.need()
        self._book.update_state(outing.id, **{DISPLAY: as_saved(entries)})
        self.entries = entries

    # ---- the present alignment -------------------------------------------------------------

    @property
    def alignment(self) -> tuple[DisplayEntry, ...]:
        """What belongs to the two stars in use: since the stop, or since the stars before."""
        return alignments(self.entries)[-1]

    @property
    def stars(self) -> tuple[DisplayEntry, ...]:
        """The stars told to the controller, two at most."""
        return tuple(e for e in self.alignment if e.event == "star")

    @property
    def number(self) -> DisplayEntry | None:
        """The number typed last."""
        found = [e for e in self.alignment if e.event == "number"]
        return found[-1] if found else None

    @property
    def look_back(self) -> DisplayEntry | None:
        """The second star chosen as an object, before anything else was centred."""
        stars, centred = self.stars, self.centred
        if len(stars) == 2 and centred and centred[0].star == stars[1].star:
            return centred[0]
        return None

    @property
    def centred(self) -> tuple[DisplayEntry, ...]:
        """All that was centred with what was then left."""
        return tuple(e for e in self.alignment if e.event == "centred")

    @property
    def finds(self) -> tuple[DisplayEntry, ...]:
        """Objects looked for since the two stars: found or not."""
        back = self.look_back
        return tuple(
            e for e in self.alignment if e.event in ("centred", "missed") and e is not back
        )

    # ---- rehearsals ------------------------------------------------------------------------

    @property
    def rehearsed_s(self) -> tuple[float, ...]:
        """From the stop to the second star, in each rehearsal kept, the last one last."""
        kept = self._book.get_setting(REHEARSED) or []
        return tuple(float(x) for x in kept)

    def rehearsed(self, seconds: float) -> None:
        """One more."""
        kept = (*self.rehearsed_s, round(seconds, 1))[-MOST_REHEARSALS:]
        self._book.set_setting(REHEARSED, list(kept))
