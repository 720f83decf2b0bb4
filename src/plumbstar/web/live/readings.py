"""The readings as they come: of encoders, or typed. Belongs to the event loop's thread.

They outlive many sources: another kit means another source.
"""

from __future__ import annotations

import asyncio
import contextlib
import math

from plumbstar.clock.clock import EveningClock
from plumbstar.encoders.counter import Snapshot
from plumbstar.encoders.limits import USUAL_LIMITS, Limits
from plumbstar.encoders.reading import KEEP_S, TYPED_KEEP_S, NothingCentred, Reading
from plumbstar.encoders.source import Source
from plumbstar.encoders.tracker import UPRIGHT_DEG
from plumbstar.encoders.typed import ReadingsWanted
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.slips import CountSlip
from plumbstar.web.evening.counts import KeptCounts
from plumbstar.web.live.recorder import Recorder, recorded

#: What a page may be late by. For encoders the source keeps readings for KEEP_S only.
LONGEST_AGO_MS = int(1000 * TYPED_KEEP_S)


STARTING = "The server has only just started and has no readings yet"


#: A tube that goes no further than this in so long is at rest. Common practice, no source.
REST_S, REST_DEG = 0.5, 0.5


class LiveReadings:
    """The present source, with news of it for one listener."""

    #: What separates a move of the hand from a jump of the count.
    limits: Limits = USUAL_LIMITS
    #: What it goes at most in REST_S while it is at rest, degrees.
    rest_deg: float = REST_DEG
    #: Writes down what the encoders say, where the observer wished so.
    recorder: Recorder | None = None

    def __init__(self, clock: EveningClock) -> None:
        self.clock = clock
        self.news = asyncio.Event()
        self.source: Source | None = None
        self._kit: Kit | None = None
        self._listener: asyncio.Task[None] | None = None
        self._used_typed: Reading | None = None
        self._slips_before = 0

    @property
    def typed(self) -> bool:
        """Whether readings are typed in, not heard."""
        return self.source is None or not self.source.kit.connection.heard

    async def use(self, kit: Kit, counts: KeptCounts | None = None, slips_before: int = 0) -> None:
        """Listen to this kit's encoders from now on. The same connection again changes nothing.

        ``slips_before``: the number of the outing's last slip; the next one has a higher.

        Raises UserError, and leaves all as it was, for a kit whose board cannot be asked.
        """
        old = self._kit
        if old is not None and (old.connection, old.circles) == (kit.connection, kit.circles):
            return
        source = self._source(kit)
        await self.stop()
        if counts is not None and kit.connection.heard:
            old_counts = Snapshot(counts.raw, counts.total, counts.slips, counts.slips_before)
            source.resume((old_counts, counts.zero_deg))
        source.count_slips_from(max(self._slips_before, slips_before))
        await source.start()
        self.source, self._kit = source, kit
        self._listener = asyncio.create_task(self._listen(source))
        self.news.set()

    def _source(self, kit: Kit) -> Source:
        clock = self.clock
        source = Source(kit, limits=self.limits, monotonic=clock.monotonic, unix=clock.unix)
        return source if self.recorder is None else recorded(source, self.recorder)

    def check(self, kit: Kit) -> None:
        """Whether :meth:`use` would take it. Raises UserError."""
        self._source(kit)

    async def _listen(self, source: Source) -> None:
        async for _ in source.subscribe():
            self.news.set()

    async def stop(self) -> None:
        """Close the connection."""
        if self._listener is not None:
            self._listener.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._listener
            self._listener = None
        if self.source is not None:
            await self.source.stop()
            self._slips_before = self.source.slips_before
        self.source = self._kit = None

    @property
    def latest(self) -> Reading:
        """The present reading, whatever its state."""
        return self.source.latest if self.source is not None else Reading(problem="starting")

    @property
    def slips(self) -> tuple[CountSlip, ...]:
        """The possible slips that are open, oldest first."""
        return self.source.slips if self.source is not None else ()

    def acknowledge(self, number: int) -> None:
        """The slips up to that number are settled."""
        if self.source is not None:
            self.source.acknowledge(number)

    def on_stop(self) -> float:
        """The tube rests on the upright stop: that is what the altitude reads from now on. Returns
        what it read before, degrees. Raises UserError without a live reading."""
        if self.source is None:
            raise UserError(STARTING, "", "Try again in a second")
        before = self.source.latest.alt_deg
        self.source.set_reading(alt_deg=UPRIGHT_DEG)
        return UPRIGHT_DEG if before is None else before

    def counts(self) -> KeptCounts | None:
        """What is needed to carry on after a restart, or None."""
        found = self.source.snapshot() if self.source is not None else None
        if found is None:
            return None
        s, zero = found
        return KeptCounts(s.raw, s.total, zero, s.slips, s.slips_before)

    def type_reading(self, az_deg: float, alt_deg: float) -> Reading:
        """What the circles show now. Raises UserError."""
        if self.source is None:
            raise UserError(STARTING, "", "Try again in a second")
        return self.source.type_reading(az_deg, alt_deg)

    def pushed_deg(self, moment: float) -> float:
        """How far the tube went in the half second before that moment of the steady clock; 0 where
        it was at rest, or where that is not known."""
        if self.typed or self.source is None:
            return 0.0
        then, before = self.source.reading_at(moment), self.source.reading_at(moment - REST_S)
        if then is None or before is None or then.slips_before != before.slips_before:
            return 0.0
        (az, alt), (az_0, alt_0) = then.degrees(), before.degrees()
        went = math.hypot((az - az_0) * math.cos(math.radians(alt)), alt - alt_0)
        return went if went > self.rest_deg else 0.0

    def refuse_moving(self, moment: float) -> None:
        """Raises UserError where the tube was being pushed at that moment of the steady clock: what
        nobody can name is then no star that was centred."""
        went = self.pushed_deg(moment)
        if went:
            raise NothingCentred(
                f"The tube was still being pushed: it went {went:.1f}° in the half second before",
                "",
                "Bring a bright star to the middle, let go, then tap",
            )

    def at_tap(
        self, received: float, ago_ms: float, typed: tuple[float, float] | None = None
    ) -> Reading:
        """The reading when the finger touched: ``received`` on the steady clock, less ``ago_ms``.

        ``typed`` holds what the circles show, if they came along. Raises UserError with the cause.
        """
        if self.source is None:
            raise UserError(STARTING, "", "Press again in a second")
        if self.typed:
            if typed is not None:
                reading = self.source.type_reading(*typed)
            else:
                reading = self.source.latest
                if reading.state != "typed" or reading is self._used_typed:
                    raise ReadingsWanted(
                        "There are no readings for this press yet",
                        "",
                        "Type both readings as the circles show them now, then press again",
                    )
            self._used_typed = reading
            return reading
        if typed is not None:
            raise UserError(
                "This telescope has encoders, so their readings are taken, not typed ones",
                "",
                "Nothing was recorded. When the encoders answer, press again",
            )
        if ago_ms > 1000.0 * KEEP_S:
            raise UserError(
                f"That press is {ago_ms / 60_000:.0f} minutes old, and readings are kept for "
                f"{KEEP_S / 60:.0f} minutes",
                "",
                "Nothing was recorded. Please sight it again",
            )
        reading_then = self.source.reading_at(received - ago_ms / 1000.0)
        if reading_then is None:
            why = self.source.latest.problem or "nothing was heard then"
            raise UserError(
                f"There was no reading at the moment you pressed: {why}",
                "",
                "Nothing was recorded. When the encoders answer again, press once more",
            )
        return reading_then
