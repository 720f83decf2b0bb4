"""The one page, and the pairing of a phone."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path
from string import Template

import msgspec
from starlette.datastructures import Headers
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from plumbstar.contract.done import Paired
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.routes import bundle
from plumbstar.web.routes.answers import refuse, reply
from plumbstar.web.routes.bundle import STATIC, Packed

PAGE = Path(__file__).parent.parent / "templates" / "page.html"


FOR_EVER = "public, max-age=31536000, immutable"


class PageFiles:
    """The scripts and the styles, packed: a phone at the edge of the Wi-Fi fetches a third of them,
    once. What has the content's hash in its address is never asked for again; the sources, by their
    own names, each time, and told "not changed".

    These only: nothing in them is secret, so what packing tells of a length tells nothing.
    """

    def __init__(self, packed: Iterable[Packed]) -> None:
        self._packed = {p.path: p for p in packed}
        self._sources = GZipMiddleware(StaticFiles(directory=STATIC, check_dir=False))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        found = self._packed.get(scope["path"])
        answer: ASGIApp = self._sources
        if found is not None:
            squeeze = "gzip" in Headers(scope=scope).get("accept-encoding", "")
            answer = Response(
                found.squeezed if squeeze else found.plain,
                media_type=found.media_type,
                headers={"cache-control": FOR_EVER, "vary": "Accept-Encoding"}
                | ({"content-encoding": "gzip"} if squeeze else {}),
            )
        await answer(scope, receive, send)


class PairBody(msgspec.Struct):
    """What the form sends."""

    code: str


class Front:
    """The page itself holds nothing of the evening: the scripts fetch that."""

    def __init__(self, gate: Gate, pairing: Pairing, script: str = "app") -> None:
        self._gate, self._pairing = gate, pairing
        # The only things filled in are the addresses of what it is made of: for whoever is in, and
        # for a guest, who is shown the form only.
        page = Template(PAGE.read_text(encoding="utf-8"))
        made_of = {paired: bundle.parts(s) for paired, s in ((True, script), (False, "pair"))}
        self._html = {
            paired: page.substitute({name: part.path for name, part in parts.items()})
            for paired, parts in made_of.items()
        }
        self._tag = f'"{hashlib.sha256(self._html[True].encode()).hexdigest()[:16]}"'
        self.files = PageFiles(part for parts in made_of.values() for part in parts.values())

    async def index(self, request: Request) -> Response:
        """Asked for each time, and told "not changed"."""
        known = {"etag": self._tag, "cache-control": "no-cache"}
        if request.headers.get("if-none-match") == self._tag:
            return Response(status_code=304, headers=known)
        return Response(self._html[True], media_type="text/html", headers=known)

    async def pair_page(self, request: Request) -> Response:
        if request.scope["state"]["paired"]:
            return RedirectResponse("/", 303)
        return self._form()

    def _form(self, status: int = 200) -> Response:
        return Response(self._html[False], status, media_type="text/html")

    async def ask_to_pair(self, scope: Scope, receive: Receive, send: Send) -> None:
        """For a guest, whatever page was wanted: the form."""
        await self._form(401)(scope, receive, send)

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
