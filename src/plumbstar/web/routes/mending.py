"""The Mend page: why tonight's fix is what it is, the mount over its outings, checks, mirrors."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import Response

from plumbstar.contract.mending import WhyAnswer
from plumbstar.errors import UserError
from plumbstar.web.live.station import Station
from plumbstar.web.routes.answers import reply, text_of

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.views.why import Case


class MendRoutes:
    """Keeps the last answer to "why": pages ask again at every version."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self._last_why: tuple[Any, Any] | None = None

    async def why(self, request: Request) -> Response:
        def question(e: Evening) -> Case | WhyAnswer:
            from plumbstar.web.views import beside_why, why

            return beside_why.why_beside(e) if e.beside.in_use else why.case_of(e)

        def answer(case: Case) -> Any:
            from plumbstar.web.views import why

            return why.why(case)

        case = await self._station.ask(question)
        if isinstance(case, WhyAnswer):
            return reply(case)
        last = self._last_why
        if last is None or last[0] != case.key:
            last = case.key, await self._station.think(lambda e: case, answer)
            self._last_why = last
        return reply(last[1])

    async def hidden(self, request: Request) -> Response:
        """At the end of a rehearsal: what was hidden in the telescope."""
        told = self._station.hidden

        def answer(e: Evening) -> Any:
            from plumbstar.web.views import hidden

            return hidden.revealed(told, e)

        return reply(await self._station.ask(answer))

    async def circles(self, request: Request) -> Response:
        """In a rehearsal: what the simulated circles and eyepiece show now."""
        from plumbstar.simulate.tube import order
        from plumbstar.web.views import simulated_circles as shown

        told = self._station.hidden
        if told is None or told.tube_port is None:
            raise UserError("There is no simulated telescope here", "", "Look at your own")
        try:
            control = "127.0.0.1", told.tube_port
            tube = (await asyncio.to_thread(order, control, {"where": True}, 5.0)).where
        except (OSError, ValueError):
            tube = None
        if tube is None:
            raise UserError(
                "The simulated telescope does not answer", "", "End the rehearsal, begin it anew"
            )
        return reply(await self._station.ask(lambda e: shown.circles_answer(e, tube)))

    async def mount(self, request: Request) -> Response:
        def question(e: Evening) -> Any:
            if not e.beside.in_use:
                return e.book, e.kit, e.instrument.field_deg
            from plumbstar.web.views import beside_nights

            return beside_nights.nights_of(e)

        def answer(asked: Any) -> Any:
            if isinstance(asked, tuple):
                from plumbstar.web.views import many_nights

                return many_nights.mount_answer(*asked)
            from plumbstar.web.views import beside_nights

            return beside_nights.mount_beside(asked)

        return reply(await self._station.think(question, answer))

    async def checks(self, request: Request) -> Response:
        def listed(e: Evening) -> Any:
            from plumbstar.web.views import bench_checks

            return bench_checks.checks(closed=e.beside.in_use)

        return reply(await self._station.ask(listed))

    async def coach(self, request: Request) -> Response:
        text, town, day = (text_of(request, key) for key in ("text", "town", "day"))

        def answer(now: Any) -> Any:
            from plumbstar.web.views import coached

            return coached.coached(text, town, day, now)

        return reply(await self._station.think(lambda e: e.now(), answer))

    async def photograph(self, request: Request) -> Response:
        body, options = await request.body(), dict(request.query_params)

        def answer(kit: Any) -> Any:
            from plumbstar.web.views import mirrors

            return mirrors.photograph(body, kit, options)

        return reply(await self._station.think(lambda e: e.kit, answer))

    async def by_eye(self, request: Request) -> Response:
        options = dict(request.query_params)

        def answer(kit: Any) -> Any:
            from plumbstar.web.views import mirrors

            return mirrors.by_eye(kit, options)

        return reply(await self._station.think(lambda e: e.kit, answer))
