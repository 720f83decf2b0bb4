"""The application: which address leads where."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.routing import Mount, Route

from plumbstar.web.door.gate import Gate
from plumbstar.web.door.middleware import Door
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.live.station import Station
from plumbstar.web.routes.evening import EveningRoutes
from plumbstar.web.routes.failures import HANDLERS
from plumbstar.web.routes.files import FileRoutes
from plumbstar.web.routes.front import Front
from plumbstar.web.routes.mending import MendRoutes
from plumbstar.web.routes.sky import SkyRoutes


def make_app(station: Station, gate: Gate, pairing: Pairing) -> Starlette:
    """The whole application around a station."""
    front, evening, sky = Front(gate, pairing), EveningRoutes(station), SkyRoutes(station)
    files, mend = FileRoutes(station), MendRoutes(station)

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        await station.start()
        yield
        await station.stop()

    return Starlette(
        routes=[
            Route("/", front.index),
            Route("/pair", front.pair_page, methods=["GET"]),
            Route("/pair", front.pair, methods=["POST"]),
            Route("/stream", evening.stream),
            Route("/do/{name}", evening.do, methods=["POST"]),
            Route("/data/state", evening.state),
            Route("/data/version", evening.version),
            Route("/data/clock", evening.clock),
            Route("/data/search", sky.search),
            Route("/data/controller_stars", sky.controller_stars),
            Route("/data/telescope", sky.telescope),
            Route("/data/place", sky.place),
            Route("/data/map", sky.map),
            Route("/data/around", sky.around),
            Route("/data/way", sky.way),
            Route("/data/own", sky.own),
            Route("/data/elements", sky.elements),
            Route("/data/tonight", sky.well_placed),
            Route("/data/agenda", sky.agenda),
            Route("/data/longer", sky.longer),
            Route("/data/eyepiece", sky.eyepiece),
            Route("/data/thumbnail", sky.thumbnail),
            Route("/data/why", mend.why),
            Route("/data/mount", mend.mount),
            Route("/data/checks", mend.checks),
            Route("/data/coach", mend.coach),
            Route("/data/collimate", mend.photograph, methods=["POST"]),
            Route("/data/mirrors_by_eye", mend.by_eye),
            Route("/data/hidden", mend.hidden),
            Route("/data/circles", mend.circles),
            Route("/data/log", files.outings),
            Route("/data/log/{id:int}.{kind:str}", files.outing_file),
            Route("/data/log/{id:int}", files.outing),
            Route("/data/seen", files.seen),
            Route("/data/seen.{kind:str}", files.seen_file),
            Route("/data/lists", files.lists),
            Route("/data/sketch/{id:int}", files.sketch),
            Route("/card.html", files.card("html")),
            Route("/card.pdf", files.card("pdf")),
            Route("/evening.ics", files.card("ics")),
            Mount("/static", front.files),
        ],
        middleware=[Middleware(Door, gate=gate, pair_page=front.ask_to_pair)],
        exception_handlers=HANDLERS,
        lifespan=lifespan,
    )
