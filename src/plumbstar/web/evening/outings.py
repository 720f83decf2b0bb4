"""Actions on the outing as a whole: begun, ended, gone on with, remarked on."""

from __future__ import annotations

from plumbstar.logbook import Outing
from plumbstar.web.evening import resume
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.not_found import log_unfinished_search
from plumbstar.web.evening.parts import Parts


class Outings:
    """The one in progress; the record itself is ``current`` among the parts."""

    def __init__(self, parts: Parts, after: Consequences) -> None:
        self._p, self._after = parts, after

    def go_on_or_end(self, *, sure: bool = True) -> Outing | None:
        """End an outing that was left open on another evening; else go on with it. ``sure``:
        whether the clock can be believed."""
        resume.end_if_forgotten(self._p.book, self._p.now(), self._p.messages, sure=sure)
        self._p.current.find()
        return self._p.current.outing

    def start(self) -> Outing:
        """Begin an outing here and now. One in progress is kept as it is."""
        if self._p.current.outing is not None:
            return self._p.current.outing
        site = self._p.ground.need_site()
        told = self._p.upright.told  # this evening: before the outing, which would hold it for good
        outing = self._p.current.begin(site, self._p.instrument.kit, self._p.instrument.kit_text)
        if self._p.timekeeping is not None and self._p.timekeeping.sentence:
            self._p.current.note_unasked(self._p.timekeeping.sentence)
        self._p.sightings.read()
        self._p.display.read()
        still_open = self._p.slips.open
        self._p.keeper.carry_into_outing((still_open,) if still_open is not None else (), told)
        self._p.upright.log()
        self._after.refit()
        return outing

    def end(self) -> None:
        """Close it. The plan goes with it."""
        self._p.current.need()
        self._p.doubts.refuse_to_end()
        log_unfinished_search(self._p, self._after.fix)
        self._p.guidance.leave()
        self._p.current.end()
        self._p.sightings.read()
        self._p.display.read()
        self._p.keeper.clear()
        self._p.plan.put_away()
        self._p.messages.changed()
        self._after.refit()

    def confirm_filter(self, confirmed: bool) -> None:
        """A full-aperture solar filter is on (or off): only the observer can know."""
        self.start()
        self._p.current.confirm_filter(confirmed)
        self._after.new_aim()

    def note(self, text: str) -> None:
        """A remark for the log."""
        self.start()
        self._p.current.note(text)
