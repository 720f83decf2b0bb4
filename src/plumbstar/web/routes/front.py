"""The one page, and the pairing of a phone."""

from __future__ import annotations

from pathlib import Path
from string import Template

import msgspec
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from plumbstar.contract.done import Paired
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.routes.answers import refuse, reply

STATIC = Path(__file__).parent.parent / "static"
PAGE = Path(__file__).parent.parent / "templates" / "page.html"


def page_files() -> ASGIApp:
    """The scripts and the styles, packed: a phone at the edge of the Wi-Fi fetches two fifths.

    These only: nothing in them is secret, so what packing tells of a length tells nothing.
    """
    return GZipMiddleware(StaticFiles(directory=STATIC, check_dir=False))


class PairBody(msgspec.Struct):
    """What the form sends."""

    code: str


class Front:
    """The page itself holds nothing of the evening: the scripts fetch that."""

    def __init__(self, gate: Gate, pairing: Pairing, script: str = "app.js") -> None:
        self._gate, self._pairing = gate, pairing
        # The only thing filled in is the script's name: for whoever is in, and for a guest, who is
        # shown the form only.
        page = Template(PAGE.read_text(encoding="utf-8"))
        scripts = {True: script, False: "pair.js"}
        self._html = {paired: page.substitute(script=name) for paired, name in scripts.items()}

    def _page(self, paired: bool, status: int = 200) -> Response:
        return Response(self._html[paired], status, media_type="text/html")

    async def index(self, request: Request) -> Response:
        return self._page(True)

    async def pair_page(self, request: Request) -> Response:
        if request.scope["state"]["paired"]:
            return RedirectResponse("/", 303)
        return self._page(False)

    async def ask_to_pair(self, scope: Scope, receive: Receive, send: Send) -> None:
        """For a guest, whatever page was wanted: the form."""
        await self._page(False, 401)(scope, receive, send)

    async def pair(self, request: Request) -> Response:
        """The code, typed on a phone."""
        address = request.client.host if request.client else "?"
        # First the whole body: between the look at the brake and the guess nobody else may guess,
        # or a hundred bodies held back and let go at once would be a hundred guesses.
        body = await request.body()
        wait = self._pairing.wait_for(address)
        if wait > 0.0:
            remedy = f"Wait {wait:.0f} s, then type the code that the server shows"
            return refuse(429, "Too many wrong codes", remedy, retry_after_s=round(wait, 1))
        try:
            code = msgspec.json.decode(body, type=PairBody).code
        except (msgspec.ValidationError, msgspec.DecodeError, UnicodeDecodeError):
            return refuse(400, "No code was sent", "Type the code")
        if not self._pairing.guess(code, address):
            remedy = "Type the eight letters and digits that the server shows"
            return refuse(403, "The code is not right", remedy)
        done = reply(Paired())
        done.headers["set-cookie"] = self._gate.cookie()
        return done
