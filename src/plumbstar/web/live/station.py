"""Where the parts meet: the evening on its own thread, the telescope and the stream on the loop.

Three threads, each with one kind of work, so that nothing waits for what is slower: the event loop
(stream, requests, encoders), one worker for the evening's actions in order, one for long thinking
(ranking stars, learning from past outings).
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from plumbstar.clock.clock import EveningClock
from plumbstar.sky.times import Instant
from plumbstar.web.live.stream import Hub
from plumbstar.web.live.telescope import Telescope

# The arithmetic (numpy, the sky) takes longer to load than the server takes to answer: it is
# loaded on the workers' threads, while the first page is already on its way.
if TYPE_CHECKING:
    from plumbstar.guide.aim import Aim
    from plumbstar.kit import Kit
    from plumbstar.logbook import Logbook
    from plumbstar.sky.site import Site
    from plumbstar.web.evening.choosing import RankingInputs
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.views.agenda import Kept
    from plumbstar.web.views.picture import Painter

T = TypeVar("T")
R = TypeVar("R")
log = logging.getLogger("plumbstar.web")

#: Readings are at least this far apart. A little under a twentieth of a second: a board that sends
#: 20 a second is then passed on at once, where an equal beat would keep each line waiting for half
#: a beat on the average (bench/stream.py: 28 ms instead of 5).
TICK_S = 0.045
HEARTBEAT_S = 1.0
REPAINT_S = 15.0  # places, the Sun and hit chances move by themselves
COPY_S = 300.0  # how often the last good copy is renewed, when something has changed
COUNTS_S = 1.0  # how often the encoders' counts are kept, when they have changed


@dataclass(frozen=True)
class Present:
    """The evening at a glance: frozen things, so that whoever answers at once need not queue.

    ``target`` is its key, or empty.
    """

    aim: Aim
    site: Site | None
    kit: Kit
    target: str


class Station:
    """Start it on the loop, stop it there. ``evening`` is touched only through :meth:`do`."""

    def __init__(
        self,
        make_evening: Callable[[], Evening],
        clock: EveningClock,
        *,
        pairing: dict[str, Any] | None = None,
    ) -> None:
        self.clock = clock
        self.hub = Hub()
        self.telescope = Telescope(clock)
        self._make = make_evening
        self._evening: Evening | None = None
        self._pairing = pairing
        self._painter: Painter | None = None
        self._work = ThreadPoolExecutor(1, thread_name_prefix="evening")
        #: Tonight's order as the pages were told it, once one has asked.
        self.orders: list[Kept] = []
        self._think = ThreadPoolExecutor(1, thread_name_prefix="thinking")
        self._tasks: list[asyncio.Task[None]] = []
        #: What goes on beside the evening once it is up, each given this station.
        self.beside: list[Callable[[Station], Any]] = []
        self._jobs: set[asyncio.Task[None]] = set()
        # Higher after every restart, so that a page that slept through it takes the new one.
        self.version = int(clock.system_unix())
        self._shown = 0
        self.ready = asyncio.Event()
        self.failed: Exception | None = None
        self.on_failure: Callable[[], None] = lambda: None
        self._slip_seen = ""
        self._asked_next: Any = None
        self._asked_learn: Any = None

    # ---- life ------------------------------------------------------------------------------

    async def start(self) -> None:
        """Begin; returns at once, the evening comes up beside it."""
        self._tasks = [asyncio.create_task(self._come_up())]

    async def _come_up(self) -> None:
        try:
            evening, self._painter = await self._run(self._work, self._wake)
            counts = await self._run(self._work, evening.counts.kept)
            await self.telescope.use(evening.kit, counts)
        except Exception as e:
            self.failed = e
            self.ready.set()
            self.on_failure()
            return
        self._evening = evening
        self._tasks += [
            asyncio.create_task(self._forever(self._pulse)),
            asyncio.create_task(self._forever(self._slow)),
        ]
        await self.do(lambda e: None)
        self.ready.set()
        for work in self.beside:
            self._job(work(self))

    def _wake(self) -> tuple[Evening, Painter]:
        from plumbstar.web.views.picture import Painter

        return self._make(), Painter(self._pairing)

    async def stop(self) -> None:
        """End the streams, keep the encoders' counts, close the logbook."""
        self.hub.close()
        if self._evening is not None:
            counts = self.telescope.counts()
            keep = self._evening.counts.keep
            with contextlib.suppress(Exception):
                await self._run(self._work, lambda: keep(counts))
            with contextlib.suppress(Exception):
                await self._keep_copy()
        for task in [*self._tasks, *self._jobs]:
            task.cancel()
        await asyncio.gather(*self._tasks, *self._jobs, return_exceptions=True)
        await self.telescope.stop()
        if self._evening is not None:
            await self._run(self._work, self._evening.book.close)
        self._work.shutdown(wait=False)
        self._think.shutdown(wait=False, cancel_futures=True)

    @staticmethod
    async def _run(pool: ThreadPoolExecutor, job: Callable[[], T]) -> T:
        return await asyncio.get_running_loop().run_in_executor(pool, job)

    @staticmethod
    async def _forever(loop: Callable[[], Any]) -> None:
        """Keep a loop going: an error in one round is logged, and the next round comes."""
        while True:
            try:
                await loop()
            except Exception:
                log.exception("in a loop of the server")
                await asyncio.sleep(1.0)

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
        return Present(e.guidance.aim, e.site, e.kit, target.key if target is not None else "")

    async def ask(self, question: Callable[[Evening], T]) -> T:
        """Something read from the evening, in its own thread, between two actions."""
        await self.evening_ready()
        evening = self._evening
        assert evening is not None
        return await self._run(self._work, lambda: question(evening))

    async def do(self, action: Callable[[Evening], T]) -> tuple[T, int]:
        """Run an action, repaint, publish. Returns what it gave, and the new version.

        When it returns, what the action saved is on disk. A browser that goes away meanwhile does
        not stop it: the job belongs to the worker thread.
        """
        evening = self._evening
        assert evening is not None
        latest = self.telescope.latest

        def job() -> tuple[T, bytes, int, Any]:
            if evening.changed_elsewhere():
                evening.reload()
            result = action(evening)
            picture = self._paint(evening, latest.az_deg)
            return result, picture, self.version, self._wishes(evening)

        result, picture, version, wishes = await asyncio.shield(self._run(self._work, job))
        if version > self._shown:
            self._shown = version
            self.hub.publish_state(picture)
        self.telescope.news.set()
        self._start_jobs(*wishes)
        return result, version

    async def snapshot(self) -> bytes:
        """The picture as it is now, for whoever does not listen to the stream."""
        await self.evening_ready()
        az, painter = self.telescope.latest.az_deg, self._painter
        assert painter is not None

        return await self.ask(lambda e: msgspec.json.encode(painter.paint(e, self.version, az)))

    def _paint(self, evening: Evening, az_reading_deg: float | None) -> bytes:
        assert self._painter is not None
        self.version += 1
        return msgspec.json.encode(self._painter.paint(evening, self.version, az_reading_deg))

    async def think(self, prepare: Callable[[Evening], T], job: Callable[[T], R]) -> R:
        """A long answer: ``prepare`` takes what it needs from the evening, ``job`` runs beside."""
        prepared = await self.ask(prepare)
        return await self._run(self._think, lambda: job(prepared))

    # ---- long thinking ---------------------------------------------------------------------

    def _wishes(self, e: Evening) -> tuple[Any, Any]:
        """What the present fix and outing would like to have thought about: (next star, learning).

        Made in the evening's thread, from frozen things; started by the loop.
        """
        following = None
        sound = e.fix is not None and not e.fix.contradictory and e.slips.open is None
        if sound and e.plan.next_star is None and e.site is not None:
            from plumbstar.web.evening.choosing import inputs_of

            following = (e.fix, inputs_of(e, e.now()))
        learning = None
        if e.instrument.learnt_for != e.learning_key:
            learning = (e.learning_key, e.kit, e.outing.started if e.outing else None, e.book)
        return following, learning

    def _start_jobs(self, following: Any, learning: Any) -> None:
        if learning is not None and learning[0] != self._asked_learn:
            self._asked_learn = learning[0]
            self._job(self._learn(*learning))
        if following is not None and following[0] is not self._asked_next:
            self._asked_next = following[0]
            self._job(self._next_star(*following))

    def _job(self, work: Any) -> None:
        task = asyncio.create_task(work)
        self._jobs.add(task)
        task.add_done_callback(self._job_over)

    def _job_over(self, task: asyncio.Task[None]) -> None:
        self._jobs.discard(task)
        if not task.cancelled() and task.exception() is not None:
            log.error("in a job beside the evening", exc_info=task.exception())

    async def _learn(self, key: Any, kit: Any, before: Instant | None, book: Logbook) -> None:
        def learn() -> Any:
            from plumbstar.diagnose.teach import learnt_priors

            return learnt_priors(book, kit, before)

        try:
            learnt = await self._run(self._think, learn)
        except Exception as e:
            # Without what was learnt the kit's own priors serve; the evening goes on.
            log.exception("learning from past outings")
            text = f"Past outings could not be learnt from ({e}); the kit's own priors are used."

            def go_on(e: Evening) -> None:
                e.loading = False
                e.messages.say(text, "problem")

            await self.do(go_on)
            return

        def take(e: Evening) -> None:
            e.loading = False
            if key == e.learning_key:
                e.take_learnt(learnt, key)

        await self.do(take)

    async def _keep_copy(self) -> None:
        from plumbstar.errors import UserError
        from plumbstar.logbook import keep_copy

        book = await self.ask(lambda e: e.book)
        try:
            await self._run(self._think, lambda: keep_copy(book))
        except UserError as e:
            text = (
                f"The logbook's last good copy could not be renewed: {e.came}. {e.remedy_on_pages}."
            )
            await self.do(lambda ev: ev.messages.say(text, "problem"))

    async def _next_star(self, fix: Any, q: RankingInputs) -> None:
        from plumbstar.web.evening import choosing

        found = await self._run(self._think, lambda: choosing.next_star(q, fix))

        def take(e: Evening) -> None:
            if e.fix is fix:
                e.plan.next_star = found or {}

        await self.do(take)

    async def choose(self, size: int, utc: Instant | None) -> int:
        """Start the ranking of stars. Returns the version.

        The answer comes in the state: the pairs first, the triples when they are there. Asked by
        day without a time, it is for the next dusk.
        """

        def asked(e: Evening) -> tuple[int, RankingInputs]:
            from plumbstar.choose.ranking import when_to_sight
            from plumbstar.web.evening.choosing import inputs_of
            from plumbstar.web.views.agenda import Setup

            q = inputs_of(e, utc or when_to_sight(e.now(), e.ground.need_site()))
            if self.orders:
                q = replace(q, targets=self.orders[0].places(Setup.of(e)))
            return e.plan.ranking_asked(size, q.utc), q

        (token, q), version = await self.do(asked)

        async def work() -> None:
            from plumbstar.web.evening import choosing

            found = await self._run(self._think, lambda: choosing.pairs(q))
            first = {**found, "status": "ready" if size == 2 else "working"}
            await self.do(lambda e: e.plan.ranking_ready(token, first))
            more = await self._run(self._think, lambda: choosing.triples(q))
            both = {**found, "status": "ready", "triples": more}
            await self.do(lambda e: e.plan.ranking_ready(token, both))

        self._job(work())
        return version

    # ---- the loops -------------------------------------------------------------------------

    async def _pulse(self) -> None:
        """The reading to everybody: when it has changed, at most 20 times a second, and each
        second in any case."""
        last: Any = None
        sent = -1e9
        while True:
            monotonic = self.clock.monotonic()
            reading = self.telescope.latest
            key = (reading.az_deg, reading.alt_deg, reading.state, reading.slip, reading.problem)
            aim = self._evening.guidance.aim if self._evening is not None else None
            if (key, aim) != last or monotonic - sent >= HEARTBEAT_S:
                last, sent = (key, aim), monotonic
                if len(self.hub):
                    self.hub.publish_reading(self.reading_json())
                words = self.telescope.slip_words
                if words != self._slip_seen:
                    self._slip_seen = words
                    if words:
                        self._job(self._slipped(words, monotonic))
            self.telescope.news.clear()
            due = sent + HEARTBEAT_S - self.clock.monotonic()
            # Not wait_for: before Python 3.12 it can swallow a cancellation.
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(max(0.0, due)):
                    await self.telescope.news.wait()
            await asyncio.sleep(max(0.0, sent + TICK_S - self.clock.monotonic()))

    def greet(self) -> None:
        """Somebody has joined: the present reading at once, not at the next heartbeat."""
        if self._evening is not None:
            self.hub.publish_reading(self.reading_json())

    def reading_json(self) -> bytes:
        """The present reading with what is left to push, serialised once for all clients."""
        from plumbstar.guide import aim as aiming

        reading, now = self.telescope.latest, self.clock.now()
        aim = self._evening.guidance.aim if self._evening is not None else aiming.Aim()
        left = None
        if reading.az_deg is not None and reading.alt_deg is not None:
            left = aiming.left_from(aim, reading.az_deg, reading.alt_deg, now)
        return msgspec.json.encode(aiming.reading_event(reading, left, now, self.clock.monotonic()))

    async def _slipped(self, words: str, monotonic: float) -> None:
        await self.do(lambda e: e.slipped(words, monotonic))

    async def _slow(self) -> None:
        """Once a second: the Sun, another program's changes, the counts; and a repaint by time."""
        painted = kept = self.clock.monotonic()
        copied, outing = -COPY_S, None  # so once at the start
        while True:
            await asyncio.sleep(1.0)
            await self.evening_ready()
            now = self.clock.monotonic()
            # The outing's end is worth a copy at once.
            current = await self.ask(lambda e: e.outing.id if e.outing else None)
            if now - copied >= COPY_S or (outing is not None and current != outing):
                copied = now
                self._job(self._keep_copy())
            outing = current
            counts = None
            if now - kept >= COUNTS_S:
                kept, counts = now, self.telescope.counts()

            def look(e: Evening, counts: Any = counts) -> bool:
                changed = e.look_at_sun() | e.look_at_clock()
                if e.changed_elsewhere():
                    e.reload()
                    changed = True
                if counts is not None:
                    e.counts.keep(counts)
                return changed

            changed = await self.ask(look)
            if changed or (now - painted >= REPAINT_S and len(self.hub)):
                painted = now
                await self.do(lambda e: None)
