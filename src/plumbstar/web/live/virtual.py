"""An evening without a clock, a port or a browser: bytes and presses handed in, each with its time.

The server's own parts (parser, counter, station, actions, evening) do the work; only what waits is
replaced: the clock shows what it is told, the encoders say what is handed in, and the evening's
thread is the caller's. For replaying a recording (replaying.py) and for random evenings.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from plumbstar.clock.clock import EveningClock
from plumbstar.encoders.source import Source
from plumbstar.kit import Kit
from plumbstar.web.live import actions
from plumbstar.web.live.pulse import TICK_S
from plumbstar.web.live.readings import LiveReadings
from plumbstar.web.live.recorder import Recorder, recorded
from plumbstar.web.live.station import Station
from plumbstar.web.live.thinking import Thinking, ThinkingWanted
from plumbstar.web.live.workers import Workers

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening

T = TypeVar("T")


class VirtualClock(EveningClock):
    """Shows what it is told. ``steady_s`` seconds of the steady clock, ``unix_s`` of the
    system's."""

    def __init__(self, steady_s: float, unix_s: float, boot: str = "virtual") -> None:
        self.steady_s, self.unix_s = float(steady_s), float(unix_s)
        super().__init__(unix=lambda: self.unix_s, monotonic=lambda: self.steady_s, boot=boot)

    def go_to(self, steady_s: float) -> None:
        """Both clocks run on to that moment of the steady one."""
        self.unix_s += float(steady_s) - self.steady_s
        self.steady_s = float(steady_s)

    def set_system(self, by_s: float) -> None:
        """Somebody sets the system's clock."""
        self.unix_s += by_s


class FedSource(Source):
    """A source that opens nothing: what is heard is handed in."""

    async def start(self) -> None:
        self._running = True

    def opened(self) -> None:
        """The port or socket is open."""
        self._tracker.opened(self._now())
        self._publish()

    def lost(self, why: str) -> None:
        """It is shut."""
        self._tracker.lost(self._now(), why)
        self._publish()

    def heard(self, data: bytes) -> None:
        """These bytes came now."""
        self._heard(data)

    def quiet_since(self, heard_s: float) -> None:
        """Nothing more since then: an unfinished line is a whole reply."""
        self._lines += self._tracker.flush(heard_s, self._now(), self._unix())
        self._publish()


class FedReadings(LiveReadings):
    """Readings of such a source."""

    def _source(self, kit: Kit) -> Source:
        clock = self.clock
        source = FedSource(kit, limits=self.limits, monotonic=clock.monotonic, unix=clock.unix)
        return source if self.recorder is None else recorded(source, self.recorder)


class HereAndNow(Workers):
    """No threads: each job is done by whoever asks."""

    def __init__(self) -> None:
        pass

    async def evening(self, job: Callable[[], T]) -> T:
        return job()

    async def to_its_end(self, job: Callable[[], T]) -> T:
        return job()

    async def thinking(self, job: Callable[[], T]) -> T:
        return job()

    def shutdown(self) -> None:
        pass


class _NoThinking(Thinking):
    def start(self, wanted: ThinkingWanted) -> None:
        pass


class VirtualStation(Station):
    """A station whose time is ``clock``'s. It thinks of no next star, and of past outings knows
    what it is told."""

    def __init__(
        self,
        make_evening: Callable[[], Evening],
        clock: VirtualClock,
        recorder: Recorder | None = None,
    ) -> None:
        super().__init__(
            *(make_evening, clock),
            readings=FedReadings(clock),
            workers=HereAndNow(),
            recorder=recorder,
        )
        self._virtual = clock
        self._thinking = _NoThinking(self, self.jobs, self.orders)
        self._looked_s = clock.steady_s
        self._counts_s = clock.steady_s

    @property
    def evening(self) -> Evening:
        """The evening, to look at."""
        assert self._evening is not None
        return self._evening

    @property
    def source(self) -> FedSource:
        """The encoders, to be fed."""
        source = self.readings.source
        assert isinstance(source, FedSource)
        return source

    async def start(self) -> None:
        """Up when this returns."""
        await self._bring_up()
        self.ready.set()

    async def go_to(self, steady_s: float) -> None:
        """Time runs on to that moment; what looks at the readings by itself does."""
        self._virtual.go_to(steady_s)
        if steady_s - self._looked_s >= TICK_S:
            self._looked_s = steady_s
            await self.look()

    async def look(self) -> None:
        """What the pulse does about twenty times a second: has a slip been seen?"""
        self._pulse.look_for_slips()
        while self.jobs.running:
            await asyncio.gather(*self.jobs.running, return_exceptions=True)

    async def keep_counts(self) -> None:
        """What the watch does each second."""
        counts = self.readings.counts()
        await self.ask(lambda e: e.counts.keep(counts))

    async def act(self, name: str, raw: bytes, received: float | None = None) -> Any:
        """A page's request, received now or just before. Raises what the action raises."""
        at = self._virtual.steady_s if received is None else received
        done = await actions.run(self, name, raw, at)
        await self.look()
        return done
