"""The reading to every phone, with what is left to push: as it changes, and each second."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import TYPE_CHECKING

import msgspec

from plumbstar.clock.clock import EveningClock
from plumbstar.encoders.reading import Reading
from plumbstar.mount.slips import CountSlip
from plumbstar.web.live.readings import LiveReadings
from plumbstar.web.live.stream import Hub

if TYPE_CHECKING:
    from plumbstar.guide.aim import Aim

#: Readings are at least this far apart. A little under a twentieth of a second: a board that sends
#: 20 a second is then passed on at once, where an equal beat would keep each line waiting for half
#: a beat on the average (bench/stream.py: 28 ms instead of 5).
TICK_S = 0.045
HEARTBEAT_S = 1.0
#: So far between lines that could hide a jump is worth a word to the evening: a hundredth of a
#: chance is three times as much.
UNSEEN_DEG = 10.0

Seen = tuple[float | None, float | None, str, bool, str, "Aim | None"]


class Pulse:
    """``aim`` gives what to push to now, None before the evening is up. ``slipped`` is told of each
    possible slip that is new, ``unseen`` of each UNSEEN_DEG that the tube went between lines that
    could hide a jump. ``way_changed`` is told when the Sun begins or ceases to stand in the way."""

    def __init__(
        self,
        readings: LiveReadings,
        hub: Hub,
        clock: EveningClock,
        aim: Callable[[], Aim | None],
        slipped: Callable[[tuple[CountSlip, ...]], None],
        unseen: Callable[[float], None],
        way_changed: Callable[[], None],
    ) -> None:
        self._readings, self._hub, self._clock = readings, hub, clock
        self._aim, self._slipped, self._unseen = aim, slipped, unseen
        self._way_changed = way_changed
        self._slip_seen = 0
        self._unseen_told_deg = 0.0
        self._barred = False

    async def run(self) -> None:
        """At most 20 times a second, and each second in any case."""
        last: Seen | None = None
        sent = -1e9
        while True:
            monotonic = self._clock.monotonic()
            seen = self._seen(self._readings.latest)
            if seen != last or monotonic - sent >= HEARTBEAT_S:
                last, sent = seen, monotonic
                if len(self._hub):
                    self.publish()
                self.look_for_slips()
            self._readings.news.clear()
            due = sent + HEARTBEAT_S - self._clock.monotonic()
            # Not wait_for: before Python 3.12 it can swallow a cancellation.
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(max(0.0, due)):
                    await self._readings.news.wait()
            await asyncio.sleep(max(0.0, sent + TICK_S - self._clock.monotonic()))

    def _seen(self, r: Reading) -> Seen:
        """What a phone would show otherwise if it were another. An aim is never changed, only
        replaced."""
        return (r.az_deg, r.alt_deg, r.state, r.slip, r.problem, self._aim())

    def look_for_slips(self) -> None:
        """Tell of possible slips that are new, and of what the lines could hide."""
        new = tuple(s for s in self._readings.slips if s.number > self._slip_seen)
        if new:
            self._slip_seen = new[-1].number
            self._slipped(new)
        unseen_deg = self._readings.latest.unseen_deg
        if unseen_deg < self._unseen_told_deg:  # other encoders
            self._unseen_told_deg = 0.0
        if unseen_deg - self._unseen_told_deg >= UNSEEN_DEG:
            self._unseen(unseen_deg - self._unseen_told_deg)
            self._unseen_told_deg = unseen_deg

    def publish(self) -> None:
        """The present reading to everybody, serialised once."""
        from plumbstar.guide import aim as aiming

        reading, now = self._readings.latest, self._clock.now()
        aim = self._aim() or aiming.Aim()
        left, barred = None, False
        if reading.az_deg is not None and reading.alt_deg is not None:
            barred = aiming.way_there(aim, reading.az_deg, reading.alt_deg, now) is not None
            left = aiming.left_from(aim, reading.az_deg, reading.alt_deg, now)
        if barred != self._barred:
            self._barred = barred
            self._way_changed()
        at_s = self._clock.monotonic()
        event = aiming.reading_event(reading, left, now, at_s, barred, aim.place)
        self._hub.publish_reading(msgspec.json.encode(event), at_s)
