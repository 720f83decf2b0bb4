"""Where the parts meet: the evening on its own thread, the readings and the stream on the loop.

Three threads, each with one kind of work, so that nothing waits for what is slower: the event loop
(stream, requests, encoders), one worker for the evening's actions in order, one for long thinking
(ranking stars, learning from past outings).
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from plumbstar.clock.clock import EveningClock
from plumbstar.contract.picture import PairingRecord
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.logbook import LogbookTrouble
from plumbstar.mount.slips import CountSlip
from plumbstar.sky.times import Instant
from plumbstar.web.live.pulse import Pulse
from plumbstar.web.live.readings import LiveReadings
from plumbstar.web.live.recorder import Recorder
from plumbstar.web.live.rehearsing import Rehearsing
from plumbstar.web.live.stream import Hub
from plumbstar.web.live.thinking import Thinking, ThinkingWanted, wishes
from plumbstar.web.live.watch import Watch
from plumbstar.web.live.workers import Jobs, Workers

# The arithmetic (numpy, the sky) takes longer to load than the server takes to answer: it is
# loaded on the workers' threads, while the first page is already on its way.
if TYPE_CHECKING:
    from plumbstar.guide.aim import Aim
    from plumbstar.kit import Kit
    from plumbstar.sky.site import Site
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.views.agenda import AgendaMemory
    from plumbstar.web.views.hidden import HiddenTelescope
    from plumbstar.web.views.picture import PictureMaker

T = TypeVar("T")
R = TypeVar("R")


@dataclass(frozen=True)
class Present:
    """The evening at a glance: frozen things, so that whoever answers at once need not queue.

    ``target`` is its key, or empty. ``fix_holds``: nothing may have slipped or moved since the
    aim's fix, and its sightings do not contradict one another.
    """

    aim: Aim
    site: Site | None
    kit: Kit
    target: str
    fix_holds: bool


class Station:
    """Start it on the loop, stop it there. The evening is touched only through :meth:`do` and
    :meth:`ask`."""

    def __init__(
        self,
        make_evening: Callable[[], Evening],
        clock: EveningClock,
        *,
        pairing: PairingRecord | None = None,
        readings: LiveReadings | None = None,
        workers: Workers | None = None,
        recorder: Recorder | None = None,
        hidden: HiddenTelescope | None = None,
        rehearsing: Rehearsing | None = None,
    ) -> None:
        self.clock = clock
        self.hidden, self.rehearsing = hidden, rehearsing
        self._recorder = recorder
        self._learnt_recorded: object = None
        self.hub = Hub()
        self.readings = LiveReadings(clock) if readings is None else readings
        self.readings.recorder = recorder
        self.jobs = Jobs()
        #: Tonight's order as the pages were told it, once one has asked.
        self.orders: list[AgendaMemory] = []
        #: What goes on beside the evening once it is up, each given this station.
        self.beside: list[Callable[[Station], Coroutine[Any, Any, None]]] = []
        # Higher after every restart, so that a page that slept through it takes the new one.
        self.version = int(clock.system_unix())
        self.ready = asyncio.Event()
        self.failed: Exception | None = None
        self.on_failure: Callable[[], None] = lambda: None
        self._make = make_evening
        self._pairing = pairing
        self._evening: Evening | None = None
        self._pictures: PictureMaker | None = None
        self._workers = Workers() if workers is None else workers
        self._thinking = Thinking(self, self.jobs, self.orders)
        self._pulse = Pulse(
            *(self.readings, self.hub, clock, self._aim),
            *(self._slipped, self._went_unseen, self._way_changed),
        )
        self._watch = Watch(self, self.jobs, self.readings, self.hub, clock)
        self._shown = 0

    # ---- life ------------------------------------------------------------------------------

    async def start(self) -> None:
        """Begin; returns at once, the evening comes up beside it."""
        self.jobs.start(self._come_up())

    async def _come_up(self) -> None:
        try:
            await self._bring_up()
        except Exception as e:
            self.failed = e
            self.ready.set()
            self.on_failure()
            return
        self.ready.set()
        self.jobs.forever(self._pulse.run)
        self.jobs.forever(self._watch.run)
        for work in self.beside:
            self.jobs.start(work(self))

    async def _bring_up(self) -> None:
        """The evening and its readings, without what goes on by itself."""
        evening, self._pictures = await self._workers.evening(self._make_evening)
        if self._recorder is not None:
            start = (self.clock.monotonic(), self.clock.unix(), evening.encoders)
            begin = self._recorder.begin
            await self._workers.evening(lambda: begin(evening, *start))
        counts = await self._workers.evening(evening.counts.kept)
        await self.readings.use(evening.kit, counts, evening.slips.last_number)
        self.readings.acknowledge(evening.slips.settled_number)
        self._evening = evening
        await self.do(lambda e: None)

    def _make_evening(self) -> tuple[Evening, PictureMaker]:
        from plumbstar.web.views.picture import PictureMaker

        rehearsal = self.hidden.record if self.hidden is not None else None
        can = self.rehearsing is not None and rehearsal is None
        return self._make(), PictureMaker(self._pairing, rehearsal, can)

    def end(self) -> None:
        """The stop is near: the streams end, and presses that wait for their turn are refused."""
        self.hub.close()
        self._workers.end()

    async def stop(self) -> None:
        """End the streams, keep the encoders' counts, close the logbook."""
        self.end()
        if self.rehearsing is not None:
            await self.rehearsing.end()
        evening = self._evening
        if evening is not None:
            counts = self.readings.counts()
            with contextlib.suppress(Exception):
                await self._workers.last(lambda: evening.counts.keep(counts))
            with contextlib.suppress(Exception):
                await self._watch.copy(evening.book)
        await self.jobs.stop()
        await self.readings.stop()
        if evening is not None:
            await self._workers.last(evening.book.close)
        self._workers.shutdown()

    # ---- the evening -----------------------------------------------------------------------

    async def evening_ready(self) -> None:
        """Wait until the evening is up."""
        await self.ready.wait()
        if self.failed is not None:
            raise self.failed

    @property
    def present(self) -> Present:
        """The evening as it is; only once it is ready."""
        e = self._evening
        assert e is not None
        target = e.target  # read once: the worker may be changing it
        key = target.key if target is not None else ""
        return Present(e.guidance.aim, e.site, e.kit, key, e.fix_holds)

    async def ask(self, question: Callable[[Evening], T]) -> T:
        """Something read from the evening, in its own thread, between two actions."""
        await self.evening_ready()
        evening = self._evening
        assert evening is not None
        return await self._workers.evening(lambda: question(evening))

    async def do(self, action: Callable[[Evening], T]) -> tuple[T, int]:
        """Run an action, repaint, publish. Returns what it gave, and the new version.

        When it returns, what the action saved is on disk. A browser that goes away meanwhile does
        not stop it: the job belongs to the worker thread.
        """
        evening = self._evening
        assert evening is not None
        latest = self.readings.latest

        def job() -> tuple[T, bytes, int, ThinkingWanted]:
            if evening.changed_elsewhere():
                evening.reload()
            result = self._done(action, evening)
            if evening.instrument.learnt is not self._learnt_recorded:
                self._learnt_recorded = evening.instrument.learnt
                self.record(lambda r, now: r.learnt(evening, now))
            picture = self._paint(evening, latest)
            return result, picture, self.version, wishes(evening)

        result, picture, version, wanted = await self._workers.to_its_end(job)
        if version > self._shown:
            self._shown = version
            self.hub.publish_state(picture)
        self.readings.news.set()
        self._thinking.start(wanted)
        return result, version

    @staticmethod
    def _done(action: Callable[[Evening], T], evening: Evening) -> T:
        try:
            return action(evening)
        except LogbookTrouble:
            # Some parts have taken already what the disk then refused.
            with contextlib.suppress(UserError):
                evening.reload()
            raise

    async def snapshot(self) -> bytes:
        """The picture as it is now, for whoever does not listen to the stream."""
        await self.evening_ready()
        here, pictures = self.readings.latest, self._pictures
        assert pictures is not None
        return await self.ask(
            lambda e: msgspec.json.encode(pictures.make(e, self.version, here.az_deg, here.alt_deg))
        )

    def _paint(self, evening: Evening, here: Reading) -> bytes:
        assert self._pictures is not None
        self.version += 1
        return msgspec.json.encode(
            self._pictures.make(evening, self.version, here.az_deg, here.alt_deg)
        )

    def record(self, write: Callable[[Recorder, float], None]) -> None:
        """Write down what happens, if the observer wished so: the recorder, and the moment."""
        if self._recorder is not None:
            write(self._recorder, self.clock.monotonic())

    # ---- beside it -------------------------------------------------------------------------

    async def work(self, job: Callable[[], T]) -> T:
        """Long work on frozen things, beside the evening."""
        return await self._workers.thinking(job)

    async def think(self, prepare: Callable[[Evening], T], job: Callable[[T], R]) -> R:
        """A long answer: ``prepare`` takes what it needs from the evening, ``job`` runs beside."""
        prepared = await self.ask(prepare)
        return await self.work(lambda: job(prepared))

    async def choose(self, size: int, utc: Instant | None) -> int:
        """Start the ranking of stars; the answer comes in the state. Returns the version."""
        return await self._thinking.choose(size, utc)

    def _aim(self) -> Aim | None:
        return self._evening.guidance.aim if self._evening is not None else None

    def _slipped(self, slips: tuple[CountSlip, ...]) -> None:
        async def tell() -> None:
            still = [s for s in slips if s in self.readings.slips]  # or settled meanwhile
            settled, _ = await self.do(lambda e: e.observing.slipped(still))
            self.readings.acknowledge(settled)

        self.jobs.start(tell())

    def _went_unseen(self, deg: float) -> None:
        async def tell() -> None:
            await self.do(lambda e: e.since.went_unseen(deg))

        self.jobs.start(tell())

    def _way_changed(self) -> None:
        """The way to the target has come to pass the Sun, or no longer does: paint anew."""

        async def paint() -> None:
            await self.do(lambda e: None)

        self.jobs.start(paint())

    def greet(self) -> None:
        """Somebody has joined: the present reading at once, not at the next heartbeat."""
        if self._evening is not None:
            self._pulse.publish()
