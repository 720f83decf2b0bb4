"""Once a second: the Sun, the clock, another program's changes, the counts, the good copy."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from plumbstar.clock.clock import EveningClock
from plumbstar.errors import UserError
from plumbstar.web.evening.counts import KeptCounts
from plumbstar.web.live.host import Host
from plumbstar.web.live.readings import LiveReadings
from plumbstar.web.live.stream import Hub
from plumbstar.web.live.workers import Jobs

if TYPE_CHECKING:
    from plumbstar.logbook import Logbook
    from plumbstar.web.evening.evening import Evening

LOOK_S = 1.0
REPAINT_S = 15.0  # places, the Sun and hit chances move by themselves
COPY_S = 300.0  # how often the last good copy is renewed, when something has changed
COPY = "copy"  # what a message about it is about
COUNTS_S = 1.0  # how often the encoders' counts are kept, when they have changed


class Watch:
    """What changes although nobody has pressed anything."""

    def __init__(
        self, host: Host, jobs: Jobs, readings: LiveReadings, hub: Hub, clock: EveningClock
    ) -> None:
        self._host, self._jobs, self._readings = host, jobs, readings
        self._hub, self._clock = hub, clock

    async def run(self) -> None:
        """For as long as the server is up."""
        painted = kept = self._clock.monotonic()
        copied, outing = -COPY_S, None  # so once at the start
        while True:
            await asyncio.sleep(LOOK_S)
            now = self._clock.monotonic()
            # The outing's end is worth a copy at once.
            current = await self._host.ask(lambda e: e.outing.id if e.outing else None)
            if now - copied >= COPY_S or (outing is not None and current != outing):
                copied = now
                self._jobs.start(self.keep_copy())
            outing = current
            counts = None
            if now - kept >= COUNTS_S:
                kept, counts = now, self._readings.counts()

            def look(e: Evening, counts: KeptCounts | None = counts) -> bool:
                changed = e.targeting.look_at_sun() | e.clock_setting.look()
                if e.changed_elsewhere():
                    e.reload()
                    changed = True
                return e.keep(counts) | changed

            changed = await self._host.ask(look)
            if changed or (now - painted >= REPAINT_S and len(self._hub)):
                painted = now
                await self._host.do(lambda e: None)

    async def keep_copy(self) -> None:
        """Renew the logbook's last good copy; where that cannot be done, say so."""
        book = await self._host.ask(lambda e: e.book)
        try:
            await self.copy(book)
        except UserError as e:
            text = (
                f"The logbook's last good copy could not be renewed: {e.came}. {e.remedy_on_pages}."
            )
            await self._host.do(lambda ev: ev.messages.say(text, "problem", about=COPY))
        else:
            if await self._host.ask(lambda ev: ev.messages.settled(COPY)):
                await self._host.do(lambda ev: None)

    async def copy(self, book: Logbook) -> None:
        """Renew it. Raises :class:`UserError`."""
        from plumbstar.logbook import keep_copy

        # In a thread of its own: behind long thinking it would hold up the server's end.
        await asyncio.to_thread(keep_copy, book)
