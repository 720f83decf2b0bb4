"""The sky: search, map, tonight's order, the view in the eyepiece; and places on Earth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import Response

from plumbstar.web.live.station import Station
from plumbstar.web.routes.answers import reply, text_of

if TYPE_CHECKING:
    from plumbstar.sky.places import Target
    from plumbstar.sky.times import Instant
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.views.agenda import AgendaMemory
    from plumbstar.web.views.setup import Setup


class SkyRoutes:
    """Short questions are answered in the evening's thread, long ones beside it."""

    def __init__(self, station: Station) -> None:
        self._station = station

    async def search(self, request: Request) -> Response:
        text, kind = text_of(request, "q"), text_of(request, "kind", "any")

        def found(e: Evening) -> Any:
            from plumbstar.web.views import things

            return things.search(e, text, kind)

        return reply(await self._station.ask(found))

    async def map(self, request: Request) -> Response:
        utc = text_of(request, "utc")

        def drawn(e: Evening) -> Any:
            from plumbstar.sky.times import Instant
            from plumbstar.web.views import chart

            return chart.sky_map(e, Instant.parse(utc) if utc else None)

        return reply(await self._station.ask(drawn))

    async def around(self, request: Request) -> Response:
        star = text_of(request, "star")

        def seen(e: Evening) -> Any:
            from plumbstar.web.views import chart

            return chart.around(e, star)

        return reply(await self._station.ask(seen))

    async def way(self, request: Request) -> Response:
        star, dress = text_of(request, "star"), text_of(request, "dress", "night")

        def led(e: Evening) -> Any:
            from plumbstar.web.views import starway

            return starway.way_answer(e, star, dress)

        return reply(await self._station.ask(led))

    async def own(self, request: Request) -> Response:
        def listed(e: Evening) -> Any:
            from plumbstar.web.evening import own_objects

            return own_objects.listed()

        return reply(await self._station.ask(listed))

    async def elements(self, request: Request) -> Response:
        """Files of orbital elements: beside the evening, for they may be long."""

        def answer(now: Instant) -> Any:
            from plumbstar.logbook import elements_file
            from plumbstar.web.views import elements

            folder = elements_file.default_folder()
            return elements.elements(elements_file.load(folder), folder, now)

        return reply(await self._station.think(lambda e: e.now(), answer))

    async def controller_stars(self, request: Request) -> Response:
        """Bright stars, to be ticked off."""

        def offered(e: Evening) -> Any:
            from plumbstar.web.views import beside

            return beside.offered_stars()

        return reply(await self._station.ask(offered))

    async def telescope(self, request: Request) -> Response:
        """What the kit says, to be changed question by question."""

        def said(e: Evening) -> Any:
            from plumbstar.web.live import describing

            return describing.known(e.kit, e.instrument.kit_text, describing.ports())

        return reply(await self._station.ask(said))

    async def place(self, request: Request) -> Response:
        text = text_of(request, "q")

        def looked_up(kept: Any) -> Any:
            from plumbstar.web.views import sites

            return sites.look(kept, text)

        return reply(await self._station.think(lambda e: e.book.sites(), looked_up))

    # ---- tonight ---------------------------------------------------------------------------

    def _kept(self) -> AgendaMemory:
        """What the last asking for tonight's order left for the next."""
        from plumbstar.web.views.agenda import AgendaMemory

        if not self._station.orders:
            self._station.orders.append(AgendaMemory())
        return self._station.orders[0]

    async def agenda(self, request: Request) -> Response:
        asked = dict(request.query_params)

        def question(e: Evening) -> Any:
            from plumbstar.web.views import agenda

            return agenda.inputs_of(e, asked)

        def answer(q: Any) -> Any:
            from plumbstar.web.views import agenda

            return agenda.answer(q, self._kept())

        return reply(await self._station.think(question, answer))

    async def longer(self, request: Request) -> Response:
        asked = dict(request.query_params)

        def question(e: Evening) -> Any:
            from plumbstar.web.views import agenda

            return agenda.inputs_of(e, asked), agenda.minutes_of(asked)

        def answer(q: Any) -> Any:
            from plumbstar.web.views import agenda

            return agenda.longer_here(q[0], self._kept(), q[1])

        return reply(await self._station.think(question, answer))

    async def well_placed(self, request: Request) -> Response:
        def question(e: Evening) -> tuple[Setup, Instant]:
            from plumbstar.web.views.setup import Setup

            return Setup.of(e), e.now()

        def answer(q: tuple[Setup, Instant]) -> Sequence[Target]:
            from plumbstar.web.views import agenda

            return agenda.well_placed(q[0], q[1], self._kept())

        targets = await self._station.think(question, answer)

        def rows(e: Evening) -> Any:
            from plumbstar.web.views import things

            return things.found(e, targets, e.now())

        return reply(await self._station.ask(rows))

    async def eyepiece(self, request: Request) -> Response:
        dress = text_of(request, "dress", "night")

        def question(e: Evening) -> Any:
            from plumbstar.web.views import eyepiece

            return eyepiece.inputs_of(e)

        def answer(q: Any) -> Any:
            from plumbstar.web.views import eyepiece

            return eyepiece.told(q, dress)

        return reply(await self._station.think(question, answer))

    async def thumbnail(self, request: Request) -> Response:
        """A small drawing of the field, for a row of tonight's order: an image, not an answer."""
        name, eyepiece = text_of(request, "name"), text_of(request, "eyepiece")
        dress = text_of(request, "dress", "night")

        def question(e: Evening) -> Any:
            from plumbstar.web.views import eyepiece as views

            return views.inputs_for(e, name, eyepiece)

        def answer(q: Any) -> str:
            from plumbstar.web.views import eyepiece as views

            return views.small(q, dress)

        drawn = await self._station.think(question, answer)
        # The sky turns meanwhile, by less than such a drawing shows.
        kept = {"cache-control": "private, max-age=900"}
        return Response(drawn, media_type="image/svg+xml", headers=kept)
