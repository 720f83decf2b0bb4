"""Actions on the clock: taken from a phone, trusted, and saved times that it shows to be wrong."""

from __future__ import annotations

from collections.abc import Callable

from plumbstar.errors import UserError
from plumbstar.logbook.words import signed_clock
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.outings import Outings
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.sun_words import answered_words


class ClockSetting:
    """What is known of the clock is ``timekeeping`` among the parts. ``reload``: the outing from
    the logbook again."""

    def __init__(
        self, parts: Parts, after: Consequences, outings: Outings, reload: Callable[[], None]
    ) -> None:
        self._p, self._after, self._outings, self._reload = parts, after, outings, reload

    def look(self) -> bool:
        """Whether what is to be said of the clock has changed since this was asked last."""
        return self._p.timekeeping is not None and self._p.timekeeping.doubts_have_changed()

    def take_phone(self, received: float, phone_s: float, round_trip_s: float) -> None:
        """Go by a phone's clock, by consent. ``received``: our steady moment of its question."""
        if self._p.timekeeping is not None:
            self.changed(self._p.timekeeping.take_phone(received, phone_s, round_trip_s))

    def changed(self, by_s: float) -> None:
        """The evening's clock was moved by so much: everything that knew the time begins again."""
        assert self._p.timekeeping is not None
        said = self._p.timekeeping.sentence
        self._outings.go_on_or_end()
        self._p.current.note_unasked(f"The clock was moved by {signed_clock(by_s)}. {said}")
        self._p.ground.take(self._p.ground.site)  # a new almanac
        self._reload()
        self._p.doubts.clock_moved(by_s)
        self._p.nameless.clock_moved(by_s)
        self._p.plan.forget_ranking()
        self._p.messages.say(said, "info")

    def is_right(self) -> None:
        """The observer says that the computer's clock is right, whatever spoke against it."""
        if self._p.timekeeping is not None:
            self._p.timekeeping.trust()
            self._outings.go_on_or_end()
            self._reload()

    def answer_sun(self, below: bool, by: str) -> None:
        """Whether the Sun is below the horizon, by somebody who looked; in the log at once."""
        if self._p.timekeeping is None:
            return
        outing = self._outings.start()
        said = self._p.sun_question.take_answer(below, by)
        zone = outing.site.time_zone if outing.site is not None else ""
        text = answered_words(said, zone)
        self._p.current.note_unasked(text)
        self._after.new_aim()
        self._p.messages.say(text, "info", about="sun")  # "no" does not stand beside a later "yes"

    def correct_saved(self, count: int, by: str) -> None:
        """Correct the saved times that the present clock shows to be wrong, as was asked about and
        consented to: so many sightings, by so much."""
        outing = self._p.current.need()
        offer = self._p.timekeeping.offer(outing) if self._p.timekeeping is not None else None
        if offer is None or (offer.count, offer.shifts.words) != (count, by):
            raise UserError(
                "The question about the times has changed since it was answered",
                "",
                "Nothing was corrected. Read the question again",
            )
        self._p.sightings.correct_times(offer.shifts)
        self._p.display.read()
        self._after.refit(log=True)
        self._p.messages.say(
            f"Times corrected by {by}. The times first saved are kept; Undo takes the correction "
            "back.",
            "info",
        )

    def leave_saved(self) -> None:
        """The saved times are right as they are."""
        if self._p.timekeeping is not None:
            self._p.timekeeping.leave(self._p.current.need())
