"""Routes of the standard: management, device, setup page; each answer in its shape."""

from __future__ import annotations

import html
import itertools
import logging
from typing import TYPE_CHECKING, Any

import msgspec
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from plumbstar import __version__
from plumbstar.web.alpaca import device
from plumbstar.web.alpaca.door import refusal
from plumbstar.web.alpaca.errors import AlpacaError, Malformed, numbered
from plumbstar.web.alpaca.parameters import UINT32, AlpacaRequest, read_form, read_query
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.limits import BODY_LIMIT, TooLarge, announces_more, limited
from plumbstar.web.programs.allowed import Allowed
from plumbstar.web.programs.refused import Refused
from plumbstar.web.routes.failures import hung_up

if TYPE_CHECKING:
    from plumbstar.web.live.station import Station

log = logging.getLogger("plumbstar.web")


class _Door:
    """Refuses before anything has looked at the request."""

    def __init__(self, app: ASGIApp, gate: Gate, allowed: Allowed) -> None:
        self.app, self.gate, self.allowed = app, gate, allowed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            refused = refusal(scope, self.gate, self.allowed)
            if refused is None and announces_more(scope, BODY_LIMIT):
                refused = 413, f"{TooLarge(BODY_LIMIT).detail}."
            if refused is not None:
                await _cut_off(*refused)(scope, receive, send)
                return
            receive = limited(receive, BODY_LIMIT)
        await self.app(scope, receive, send)


def _cut_off(status: int, why: str) -> Response:
    """Closed after it, since what is still coming would be taken for the next request."""
    return PlainTextResponse(why, status, {"connection": "close"})


def make_alpaca(
    station: Station,
    gate: Gate,
    allowed: Allowed,
    unique_id: str,
    *,
    slew_sets_target: bool = False,
) -> Starlette:
    """The application around a station. ``gate`` tells the names and port it answers to."""
    telescope = device.Device(station, slew_sets_target)
    served = itertools.count(1)

    def envelope(a: AlpacaRequest, fault: AlpacaError | None = None, **value: Any) -> Response:
        body = {
            **value,
            "ClientTransactionID": a.transaction,
            "ServerTransactionID": next(served) & UINT32,
            "ErrorNumber": fault.number if fault else 0,
            "ErrorMessage": fault.message if fault else "",
        }
        return Response(msgspec.json.encode(body), media_type="application/json")

    def _listed(request: Request) -> str:
        """The member asked for. Raises Malformed for another device or an unknown member."""
        p = request.path_params
        if p["kind"] != "telescope" or p["number"] != "0":
            raise Malformed(f"There is no device {p['kind']}/{p['number']}, only telescope/0")
        table = device.PUTS if request.method == "PUT" else device.GETS | device.COMMON
        if p["member"] not in table:
            raise Malformed(
                f"{request.method} {p['member']} is not in the interface Telescope, version 3"
            )
        return str(p["member"])

    async def get(request: Request) -> Response:
        member = _listed(request)
        a = read_query(request.scope["query_string"])
        await station.evening_ready()
        try:
            return envelope(a, Value=device.answer(telescope, member, a))
        except AlpacaError as fault:
            return envelope(a, fault)
        except Refused as r:
            return envelope(a, numbered(r))

    async def put(request: Request) -> Response:
        received = station.clock.monotonic()
        member = _listed(request)
        a = read_form(await request.body(), request.headers.get("content-type", ""))
        await station.evening_ready()
        try:
            await device.act(telescope, member, a, received)
        except AlpacaError as fault:
            return envelope(a, fault)
        except Refused as r:
            return envelope(a, numbered(r))
        return envelope(a)

    def told(path: str, value: Any) -> Route:
        async def handler(request: Request) -> Response:
            a = read_query(request.scope["query_string"])
            await station.evening_ready()
            return envelope(a, Value=value() if callable(value) else value)

        return Route(path, handler, methods=["GET"])

    def description() -> dict[str, str]:
        site = station.present.site
        return {
            "ServerName": "Plumbstar",
            "Manufacturer": "Plumbstar",
            "ManufacturerVersion": __version__,
            "Location": site.name if site is not None else "",
        }

    def devices() -> list[dict[str, str | int]]:
        return [
            {
                "DeviceName": station.present.kit.name,
                "DeviceType": "Telescope",
                "DeviceNumber": 0,
                "UniqueID": unique_id,
            }
        ]

    async def setup(request: Request) -> Response:
        await station.evening_ready()
        name = html.escape(station.present.kit.name)
        slews = "taken as the target to push to" if slew_sets_target else "refused"
        return Response(
            f"<!doctype html><html lang=en><title>Plumbstar</title><h1>{name}</h1>"
            "<p>There is nothing to set up here: site, telescope and sightings are on Plumbstar's "
            f"own pages. A sync is a sighting. A slew is {slews}.</p>",
            media_type="text/html",
            headers={"content-security-policy": "default-src 'none'"},
        )

    return Starlette(
        routes=[
            told("/management/apiversions", [1]),
            told("/management/v1/description", description),
            told("/management/v1/configureddevices", devices),
            Route("/api/v1/{kind}/{number}/{member}", get, methods=["GET"]),
            Route("/api/v1/{kind}/{number}/{member}", put, methods=["PUT"]),
            Route("/api/{rest:path}", _no_such, methods=["GET", "PUT"]),
            Route("/setup", setup),
            Route("/setup/v1/telescope/0/setup", setup),
        ],
        middleware=[Middleware(_Door, gate=gate, allowed=allowed)],
        exception_handlers={
            Malformed: _malformed,
            TooLarge: _too_large,
            ClientDisconnect: hung_up,
            Exception: _our_error,
        },
    )


async def _no_such(request: Request) -> Response:
    raise Malformed("Device requests go to /api/v1/telescope/0/ and a member in small letters")


async def _malformed(request: Request, e: Exception) -> Response:
    return PlainTextResponse(f"{e}.", 400)


async def _too_large(request: Request, e: Exception) -> Response:
    assert isinstance(e, TooLarge)
    return _cut_off(e.status_code, f"{e.detail}.")


async def _our_error(request: Request, e: Exception) -> Response:
    log.error("in %s", request.url.path, exc_info=e)
    return PlainTextResponse(
        "Something went wrong in the program. The window where it was started tells more.", 500
    )
