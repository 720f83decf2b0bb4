"""Routes. Each handler reads its input, calls one function, and answers."""

from __future__ import annotations

import contextlib
import importlib
import logging
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
from jinja2 import Environment, FileSystemLoader, select_autoescape
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import Receive, Scope, Send

from plumbstar import __version__
from plumbstar.errors import UserError
from plumbstar.web.door.security import Door, Gate, Pairing
from plumbstar.web.live import actions
from plumbstar.web.live.station import Station
from plumbstar.web.live.stream import EventStream

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening

HERE = Path(__file__).parent
logger = logging.getLogger("plumbstar.web")


def _part(name: str) -> Any:
    """A module of the pages' arithmetic, loaded on the worker's thread that first needs it."""
    return importlib.import_module(f"plumbstar.web.{name}")


def reply(body: Any, status: int = 200) -> Response:
    """JSON."""
    return Response(msgspec.json.encode(body), status, media_type="application/json")


class Page:
    """The page, which for a guest holds only the pairing form; kept once rendered."""

    def __init__(self, gate: Gate) -> None:
        self._gate = gate
        self._templates = Environment(
            loader=FileSystemLoader(HERE / "templates"), autoescape=select_autoescape(("html",))
        )
        self._made: dict[tuple[bool, bool], bytes] = {}

    def html(self, paired: bool, loopback: bool) -> bytes:
        key = (paired, loopback)
        if key not in self._made:
            template = self._templates.get_template("page.html")
            self._made[key] = template.render(
                paired=paired, loopback=loopback, secure=self._gate.secure, version=__version__
            ).encode()
        return self._made[key]

    async def pair(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The page with only the pairing form, for a guest."""
        body = self.html(False, False)
        await Response(body, 401, media_type="text/html")(scope, receive, send)


def make_app(station: Station, gate: Gate, pairing: Pairing) -> Starlette:
    """The whole application around a station."""
    page = Page(gate)

    async def index(request: Request) -> Response:
        return Response(page.html(True, gate.at_home(request.scope)), media_type="text/html")

    async def pair_page(request: Request) -> Response:
        if request.scope["state"]["paired"]:
            return RedirectResponse("/", 303)
        return Response(page.html(False, False), media_type="text/html")

    async def pair(request: Request) -> Response:
        address = request.client.host if request.client else "?"
        # First the whole body: between the look at the brake and the guess nobody else may guess,
        # or a hundred bodies held back and let go at once would be a hundred guesses.
        body = await request.body()
        wait = pairing.wait_for(address)
        if wait > 0.0:
            return reply(
                {
                    "error": "Too many wrong codes",
                    "remedy": f"Wait {wait:.0f} s, then type the code that the server shows",
                    "retry_after_s": round(wait, 1),
                },
                429,
            )
        try:
            code = msgspec.json.decode(body, type=PairBody).code
        except (msgspec.ValidationError, msgspec.DecodeError, UnicodeDecodeError):
            return reply({"error": "No code came", "remedy": "Type the code"}, 400)
        if not pairing.guess(code, address):
            return reply(
                {
                    "error": "That is not the code",
                    "remedy": "Type the eight letters and digits that the server shows",
                },
                403,
            )
        done = reply({"ok": True})
        done.headers["set-cookie"] = gate.cookie()
        return done

    async def do(request: Request) -> Response:
        received = station.clock.monotonic()
        name = request.path_params["name"]
        if name not in actions.TABLE:
            return reply({"error": f"No action '{name}'", "remedy": "Reload the page"}, 404)
        return reply(await actions.run(station, name, await request.body(), received))

    def asking(path: str, question: Callable[[Evening, Request], Any]) -> Route:
        async def handler(request: Request) -> Response:
            return reply(await station.ask(lambda e: question(e, request)))

        return Route(path, handler)

    class Stream:
        """An ASGI endpoint: Starlette's own wrapping would buffer nothing, but also cancel."""

        async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
            if station.hub.full():
                busy = reply({"error": "Too many pages are open", "remedy": "Close some"}, 503)
                await busy(scope, receive, send)
                return
            await EventStream(station.hub, station.greet)(scope, receive, send)

    async def state(request: Request) -> Response:
        return Response(await station.snapshot(), media_type="application/json")

    async def log_text(request: Request) -> Response:
        outing_id, kind = request.path_params["id"], request.path_params["kind"]
        if kind == "csv":
            text = await station.ask(lambda e: e.book.export_csv(outing_id, set_aside=True))
            media = "text/csv"
        elif kind == "json":
            text = await station.ask(lambda e: e.book.export_json(outing_id))
            media = "application/json"
        else:
            raise HTTPException(404)
        name = f'attachment; filename="outing-{outing_id}.{kind}"'
        return Response(text, media_type=media, headers={"content-disposition": name})

    def card(path: str, kind: str) -> Route:
        async def handler(request: Request) -> Response:
            zone = request.query_params.get("zone", "")
            made = await station.think(
                lambda e: _part("views.cards").question(e, zone, station.orders),
                lambda q: _part("views.cards").written(q, kind),
            )
            name = f'attachment; filename="{made.name}"'
            return Response(made.data, media_type=made.media, headers={"content-disposition": name})

        return Route(path, handler)

    async def clock(request: Request) -> Response:
        received = station.clock.monotonic()
        phone, trip = number(request, "phone_ms"), number(request, "round_trip_ms")

        def compared(e: Evening) -> Any:
            if e.timekeeping is None or phone is None or trip is None:
                return None
            return e.timekeeping.against_phone(received, phone / 1000.0, trip / 1000.0)

        server_ms = station.clock.at(received).to_unix() * 1000.0
        return reply({"server_ms": server_ms, "finding": await station.ask(compared)})

    async def version(request: Request) -> Response:
        return reply({"version": station.version})

    whys: dict[Any, dict[str, Any]] = {}  # the last answer: pages ask again at every version

    async def why(request: Request) -> Response:
        case = await station.ask(lambda e: _part("views.mending").case_of(e))
        if case.key not in whys:
            answer = await station.think(lambda e: case, lambda c: _part("views.mending").why(c))
            whys.clear()
            whys[case.key] = answer
        return reply(whys.get(case.key) or answer)

    def kept() -> Any:
        """What the last asking for tonight's order left for the next."""
        if not station.orders:
            station.orders.append(_part("views.agenda").Kept())
        return station.orders[0]

    async def agenda(request: Request) -> Response:
        asked, held = dict(request.query_params), kept()
        return reply(
            await station.think(
                lambda e: _part("views.agenda").question(e, asked),
                lambda q: _part("views.agenda").answer(q, held),
            )
        )

    async def well_placed(request: Request) -> Response:
        held = kept()
        targets = await station.think(
            lambda e: (_part("views.agenda").Setup.of(e), e.now()),
            lambda x: _part("views.agenda").well_placed(*x, held),
        )
        rows = await station.ask(lambda e: _part("views.data").rows(e, targets, e.now()))
        return reply({"results": rows})

    async def eyepiece(request: Request) -> Response:
        dress = request.query_params.get("dress", "night")
        return reply(
            await station.think(
                lambda e: _part("views.eyepiece").question(e),
                lambda x: _part("views.eyepiece").told(x, dress),
            )
        )

    async def mount_history(request: Request) -> Response:
        return reply(
            await station.think(
                lambda e: (e.book, e.kit, e.instrument.field_deg),
                lambda x: _part("views.mending").mount_history(*x),
            )
        )

    async def place(request: Request) -> Response:
        return reply(
            await station.think(
                lambda e: e.book.sites(),
                lambda kept: _part("views.sites").look(kept, q(request, "q")),
            )
        )

    async def photograph(request: Request) -> Response:
        body, options = await request.body(), dict(request.query_params)
        return reply(
            await station.think(
                lambda e: e.kit, lambda kit: _part("views.mending").photograph(body, kit, options)
            )
        )

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        await station.start()
        yield
        await station.stop()

    def q(request: Request, key: str, default: str = "") -> str:
        return request.query_params.get(key, default)

    def number(request: Request, key: str) -> float | None:
        try:
            value = float(q(request, key, "nan"))
        except ValueError:
            return None
        return value if abs(value) < 1e14 else None

    routes = [
        Route("/", index),
        Route("/pair", pair_page, methods=["GET"]),
        Route("/pair", pair, methods=["POST"]),
        Route("/stream", Stream()),
        Route("/do/{name}", do, methods=["POST"]),
        Route("/data/state", state),
        asking(
            "/data/search",
            lambda e, r: {"results": _part("views.data").search(e, q(r, "q"), q(r, "kind", "any"))},
        ),
        Route("/data/place", place),
        asking("/data/map", lambda e, r: _part("views.data").sky_map(e)),
        asking("/data/around", lambda e, r: _part("views.data").around(e, q(r, "star"))),
        asking("/data/own", lambda e, r: {"objects": _part("evening.own_objects").listed()}),
        Route("/data/tonight", well_placed),
        Route("/data/agenda", agenda),
        Route("/data/eyepiece", eyepiece),
        asking("/data/log", lambda e, r: {"outings": _part("views.log").outings(e)}),
        card("/card.html", "html"),
        card("/card.pdf", "pdf"),
        card("/evening.ics", "ics"),
        Route("/data/version", version),
        Route("/data/clock", clock),
        Route("/data/why", why),
        Route("/data/mount", mount_history),
        asking("/data/checks", lambda e, r: _part("views.mending").checks()),
        Route("/data/collimate", photograph, methods=["POST"]),
        Route("/data/log/{id:int}.{kind:str}", log_text),
        asking(
            "/data/log/{id:int}", lambda e, r: _part("views.log").outing(e, r.path_params["id"])
        ),
        Mount("/static", StaticFiles(directory=HERE / "static", check_dir=False)),
    ]
    return Starlette(
        routes=routes,
        middleware=[Middleware(Door, gate=gate, pair_page=page.pair)],
        exception_handlers={
            UserError: _user_error,
            HTTPException: _http_error,
            ClientDisconnect: gone,
            Exception: _our_error,
        },
        lifespan=lifespan,
    )


class PairBody(msgspec.Struct):
    code: str


async def _user_error(request: Request, e: Exception) -> Response:
    from plumbstar.text.words import upper_first  # the arithmetic comes with it

    assert isinstance(e, UserError)
    # Not saved because the disk will not have it is the server's trouble, not the page's.
    not_saved = type(e).__name__ == "NotSaved" and "logbook" in e.came
    status = 507 if not_saved else 400
    return reply(
        {
            "error": f"{upper_first(e.came)}. Wanted: {e.wanted}.",
            "remedy": f"{e.remedy_on_pages}.",
        },
        status,
    )


async def _http_error(request: Request, e: Exception) -> Response:
    assert isinstance(e, HTTPException)
    remedy = e.detail if e.status_code == 413 else "Open the server's front page"
    words = {404: "There is nothing here", 405: "Not that way", 413: "That is too much"}
    said = reply({"error": words.get(e.status_code, e.detail), "remedy": remedy}, e.status_code)
    if e.status_code == 413:  # what is still coming is not waited for
        said.headers["connection"] = "close"
    return said


async def gone(request: Request, e: Exception) -> Response:
    """It hung up in the middle of its request: nobody to tell, and nothing to log."""
    return Response(status_code=400)


async def _our_error(request: Request, e: Exception) -> Response:
    logger.error("in %s", request.url.path, exc_info=e)
    return reply(
        {
            "error": "The server made a mistake; what was saved before is safe",
            "remedy": "Try again; the server's window tells more",
        },
        500,
    )
