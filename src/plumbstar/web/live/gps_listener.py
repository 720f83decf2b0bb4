"""A satellite receiver beside the server: listened to until it has a fix, then left alone."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from plumbstar.clock.clock import EveningClock
from plumbstar.clock.gps import GpsFix, Receiver
from plumbstar.clock.gps_port import listen
from plumbstar.clock.say import no_fix_yet
from plumbstar.errors import UserError
from plumbstar.web.evening.timekeeping import not_before

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.live.station import Station

SLICE_S = 1.0
#: So long a receiver may take before a word is said of it.
SILENT_S = 60.0
#: A cable pulled is looked for again after so long.
RETRY_S = 5.0


class GpsListener:
    """``open_again`` gives the port anew after a cable was pulled; ``port`` is open already."""

    def __init__(self, port: Any, open_again: Callable[[], Any], clock: EveningClock) -> None:
        self._port, self._open, self._clock = port, open_again, clock
        self._receiver = Receiver(not_before())
        self._stop = False

    async def run(self, station: Station) -> None:
        """Listen beside the evening; at the first fix hand it over and end."""
        try:
            fix = await self._fix(station)
            from plumbstar.web.evening.gps import take_gps  # the arithmetic comes with it

            await station.do(lambda e: take_gps(e, fix))
            station.orders.clear()  # tonight's order may be for another hour
        finally:
            self._stop = True
            self._close()

    async def _fix(self, station: Station) -> GpsFix:
        said, waited = "", 0.0
        while True:
            text, pause = "", 0.0
            try:
                if self._port is None:
                    self._port = await asyncio.to_thread(self._open)
                fix = await asyncio.to_thread(self._slice)
                if fix is not None:
                    return fix
                waited += SLICE_S
                if waited >= SILENT_S and not said:
                    text = no_fix_yet(self._receiver).on_pages()
            except UserError as e:
                self._close()
                text, pause = e.on_pages(), RETRY_S
            if text and text != said:
                said = text
                await station.do(_saying(text))
            await asyncio.sleep(pause)

    def _slice(self) -> GpsFix | None:
        return listen(
            self._port, self._receiver, self._clock.steady, SLICE_S, stop=lambda: self._stop
        )

    def _close(self) -> None:
        if self._port is not None:
            with contextlib.suppress(Exception):
                self._port.close()
        self._port = None


def _saying(text: str) -> Callable[[Evening], None]:
    return lambda e: e.messages.say(text, "problem")
