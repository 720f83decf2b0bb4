"""The evening's parts, wired together: which of them knows which."""

from __future__ import annotations

from collections.abc import Callable

from plumbstar.logbook import Logbook
from plumbstar.sky.times import Instant
from plumbstar.web.evening.counts import EncoderCounts
from plumbstar.web.evening.desk import DeskKeeper
from plumbstar.web.evening.display import ControllerDisplay
from plumbstar.web.evening.doubts import Doubts
from plumbstar.web.evening.ground import Ground
from plumbstar.web.evening.guidance import Guidance
from plumbstar.web.evening.instrument import Instrument
from plumbstar.web.evening.messages import Messages
from plumbstar.web.evening.nameless import NamelessStars
from plumbstar.web.evening.outing import OutingInProgress
from plumbstar.web.evening.plan import StarPlan
from plumbstar.web.evening.search import Search
from plumbstar.web.evening.sightings import Sightings
from plumbstar.web.evening.since import SinceSighting
from plumbstar.web.evening.slips import Slips
from plumbstar.web.evening.sun_question import SunQuestion
from plumbstar.web.evening.timekeeping import Timekeeping
from plumbstar.web.evening.upright import UprightStop


class Parts:
    """Each keeps a little state of its own, saves it, and calls nothing above itself.

    ``timekeeping`` is what is known of the clock; None where the moments are beyond doubt.
    """

    def __init__(
        self,
        book: Logbook,
        now: Callable[[], Instant],
        encoders: bool,
        timekeeping: Timekeeping | None,
    ) -> None:
        self.book, self.now, self.timekeeping = book, now, timekeeping
        self.messages = Messages()
        self.current = OutingInProgress(book, now)
        self.keeper = DeskKeeper(book, self.current)
        self.ground = Ground(book)
        self.instrument = Instrument(book, self.keeper, encoders)
        self.plan = StarPlan(self.keeper)
        self.sightings = Sightings(book, self.current)
        self.since = SinceSighting(self.keeper, self.sightings)
        self.slips = Slips(self.keeper, self.sightings)
        self.doubts = Doubts(self.keeper)
        self.nameless = NamelessStars(self.keeper, self.sightings, self.slips)
        self.upright = UprightStop(self.keeper, self.current, self.sightings, now)
        self.display = ControllerDisplay(book, self.current)
        self.counts = EncoderCounts(book, self.current, self.upright)
        self.sun_question = SunQuestion(book, self.ground, now, timekeeping)
        self.guidance = Guidance(
            self.keeper, self.ground, now, self.clock_is_sure, self.sun_question
        )
        self.search = Search(self.keeper, self.guidance, self.sightings, self.display)

    def clock_is_sure(self) -> bool:
        """Whether the moment, and so the Sun's place, is known."""
        return self.timekeeping is None or not self.timekeeping.unknown

    def read(self) -> None:
        """The outing in progress and all that hangs on it, from the logbook."""
        self.current.find()
        self.sightings.read()
        self.display.read()
        self.keeper.read()
        self.plan.read()
        self.guidance.read()
