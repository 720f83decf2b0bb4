"""Files to keep: the night card in its three forms, and outings of the log."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from plumbstar.web.live.station import Station
from plumbstar.web.routes.answers import as_file, reply, text_of

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.views.cards import Written
    from plumbstar.web.views.keepsake import Dress

Handler = Callable[[Request], Awaitable[Response]]


class FileRoutes:
    """The log's pages are here too: they show what the files hold."""

    def __init__(self, station: Station) -> None:
        self._station = station

    def card(self, kind: str) -> Handler:
        """The night card as "html", "pdf" or "ics"."""

        async def handler(request: Request) -> Response:
            zone = text_of(request, "zone")

            def question(e: Evening) -> Any:
                from plumbstar.web.views import cards

                return cards.inputs_of(e, zone, self._station.orders)

            def answer(q: Any) -> Written:
                from plumbstar.web.views import cards

                return cards.written(q, kind)

            made = await self._station.think(question, answer)
            return as_file(made.data, made.name, made.media)

        return handler

    async def outings(self, request: Request) -> Response:
        def listed(e: Evening) -> Any:
            from plumbstar.web.views import log

            return log.outings(e)

        return reply(await self._station.ask(listed))

    async def outing(self, request: Request) -> Response:
        outing_id = request.path_params["id"]

        def shown(e: Evening) -> Any:
            from plumbstar.web.views import log

            return log.outing(e, outing_id)

        return reply(await self._station.ask(shown))

    async def seen(self, request: Request) -> Response:
        asked = dict(request.query_params)

        def found(e: Evening) -> Any:
            from plumbstar.web.views import seen_before

            return seen_before.seen_before(e, asked)

        return reply(await self._station.ask(found))

    async def seen_file(self, request: Request) -> Response:
        """All that was seen, as a table or as an Open Astronomy Log."""
        kind = request.path_params["kind"]
        media = {"csv": "text/csv", "xml": "application/xml"}.get(kind)
        if media is None:
            raise HTTPException(404)

        def written(e: Evening) -> str:
            if kind == "csv":
                from plumbstar.logbook.seen_table import seen_csv

                return seen_csv(e.book, e.book.outings())
            from plumbstar.logbook.oal_out import oal_text

            return oal_text(e.book, list(e.book.outings()))

        return as_file(await self._station.ask(written), f"seen.{kind}", media)

    async def lists(self, request: Request) -> Response:
        def question(e: Evening) -> Any:
            from plumbstar.web.views import lists

            return lists.inputs_of(e)

        def answer(q: Any) -> Any:
            from plumbstar.web.views import lists

            return lists.lists(q)

        return reply(await self._station.think(question, answer))

    async def sketch(self, request: Request) -> Response:
        """A photograph of a sketch."""
        number = request.path_params["id"]

        def drawn(e: Evening) -> Any:
            from plumbstar.web.views import sketches

            return sketches.picture(e.book.sketch(number))

        data, media = await self._station.ask(drawn)
        return Response(data, media_type=media)

    async def outing_file(self, request: Request) -> Response:
        outing_id, kind = request.path_params["id"], request.path_params["kind"]
        name = f"outing-{outing_id}.{kind}"
        if kind == "csv":
            text = await self._station.ask(lambda e: e.book.export_csv(outing_id, set_aside=True))
            return as_file(text, name, "text/csv")
        if kind == "json":
            text = await self._station.ask(lambda e: e.book.export_json(outing_id))
            return as_file(text, name, "application/json")
        if kind == "xml":

            def logged(e: Evening) -> str:
                from plumbstar.logbook.oal_out import oal_text

                return oal_text(e.book, [e.book.outing(outing_id)])

            return as_file(await self._station.ask(logged), name, "application/xml")
        if kind == "html":
            dress: Dress = "day" if request.query_params.get("dress") == "day" else "night"

            def kept(e: Evening) -> str:
                from plumbstar.web.views import fixed, keepsake

                learnt = fixed.priors_record(e)
                told = learnt.sentence if learnt is not None else ""
                return keepsake.page(keepsake.kept_of(e, outing_id, told), dress)

            name = f"evening-{outing_id}.html"
            return as_file(await self._station.ask(kept), name, "text/html")
        if kind == "report":

            def told(e: Evening) -> str:
                from plumbstar.web.evening.report import make_report, report_text

                return report_text(make_report(e.book, outing_id))

            name = f"outing-{outing_id}-report.json"
            return as_file(await self._station.ask(told), name, "application/json")
        raise HTTPException(404)
