"""The evening as it is: the state, the stream, the actions, the clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from plumbstar.contract.asked import ClockAnswer, VersionAnswer
from plumbstar.contract.parts import ClockFinding
from plumbstar.web.live import actions
from plumbstar.web.live.station import Station
from plumbstar.web.live.stream import EventStream
from plumbstar.web.routes.answers import number_of, refuse, reply, text_of

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening


#: A page gives a request up after 8 s (static/store.js): none has been under way for longer.
LONGEST_WAY_S = 10.0


def _sent(request: Request, came: float) -> float:
    """When a page sent its request, seconds of our steady clock; ``came`` where that is not told.

    A press tells how long ago it was, and over a slow link the request itself is under way for some
    tenths of a second: counted from when it came, the reading is one of after the finger, when the
    hand may be pushing again. A page hears our steady clock with each reading, so what it believes
    is late by the quickest way here and never early: the reading is one of before the finger, while
    the hand held still.
    """
    told = request.headers.get("x-plumbstar-sent", "")
    if not told.isascii() or not told.isdigit() or len(told) > 15:
        return came
    sent = int(told) / 1000.0
    return sent if came - LONGEST_WAY_S <= sent <= came else came


class EveningRoutes:
    """What every page needs."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self.stream = Stream(station)

    async def do(self, request: Request) -> Response:
        """An action by its name."""
        received = _sent(request, self._station.clock.monotonic())
        name = request.path_params["name"]
        if name not in actions.TABLE:
            return refuse(404, f"No action '{name}'", "Reload the page")
        return reply(await actions.run(self._station, name, await request.body(), received))

    async def state(self, request: Request) -> Response:
        """The whole picture, for whoever does not listen to the stream."""
        return Response(await self._station.snapshot(), media_type="application/json")

    async def version(self, request: Request) -> Response:
        """Whether anything has changed."""
        return reply(VersionAnswer(version=self._station.version))

    async def clock(self, request: Request) -> Response:
        """The time here, and what a phone's clock says against it."""
        received = self._station.clock.monotonic()
        phone_ms, trip_ms = number_of(request, "phone_ms"), number_of(request, "round_trip_ms")

        host = request.client.host if request.client is not None else ""
        phone = text_of(request, "phone") or host

        def compared(e: Evening) -> ClockFinding | None:
            from plumbstar.web.views.timing import finding_record

            if e.timekeeping is None or phone_ms is None or trip_ms is None:
                return None
            told = phone_ms / 1000.0 + trip_ms / 2000.0
            e.sun_question.hear("phone", phone, told, received)
            found = e.timekeeping.against_phone(received, phone_ms / 1000.0, trip_ms / 1000.0)
            return finding_record(found) if found is not None else None

        server_ms = self._station.clock.at(received).to_unix() * 1000.0
        return reply(ClockAnswer(server_ms=server_ms, finding=await self._station.ask(compared)))


class Stream:
    """An ASGI endpoint: Starlette's own wrapping would buffer nothing, but also cancel."""

    def __init__(self, station: Station) -> None:
        self._station = station

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        hub = self._station.hub
        if hub.full():
            await refuse(503, "Too many pages are open", "Close some")(scope, receive, send)
            return
        await EventStream(hub, self._station.greet)(scope, receive, send)
