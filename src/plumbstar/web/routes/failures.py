"""What a failure becomes: its HTTP status from its kind, and words for whoever has the page."""

from __future__ import annotations

import logging
from http import HTTPStatus

from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from plumbstar.encoders.reading import NothingCentred
from plumbstar.encoders.typed import ReadingsWanted
from plumbstar.errors import UserError
from plumbstar.logbook.trouble import LogbookTrouble, Trouble
from plumbstar.web.live.workers import Ending
from plumbstar.web.routes.answers import refuse

log = logging.getLogger("plumbstar.web")

#: A disk that will not have it is the server's trouble, not the page's; whatever else is the matter
#: with the logbook may pass or be mended, and the phone keeps what was pressed till then.
_NO_ROOM = {Trouble.FULL, Trouble.READ_ONLY, Trouble.DISK_ERROR}


def status_of(e: UserError) -> HTTPStatus:
    """From the kind of failure."""
    if isinstance(e, LogbookTrouble):
        no_room = e.kind in _NO_ROOM
        return HTTPStatus.INSUFFICIENT_STORAGE if no_room else HTTPStatus.SERVICE_UNAVAILABLE
    return HTTPStatus.SERVICE_UNAVAILABLE if isinstance(e, Ending) else HTTPStatus.BAD_REQUEST


_HTTP_WORDS = {
    HTTPStatus.NOT_FOUND: "There is no page at this address",
    HTTPStatus.METHOD_NOT_ALLOWED: "The program does not take that kind of request at this address",
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: "What was sent is too large",
}


async def user_error(request: Request, e: Exception) -> Response:
    """What somebody can put right, said as they need it."""
    assert isinstance(e, UserError)
    wants = (
        "readings"
        if isinstance(e, ReadingsWanted)
        else "nothing"
        if isinstance(e, NothingCentred)
        else ""
    )
    return refuse(status_of(e), e.trouble_on_pages, f"{e.remedy_on_pages}.", wants=wants)


async def http_error(request: Request, e: Exception) -> Response:
    """A request that is no request of our pages."""
    assert isinstance(e, HTTPException)
    too_large = e.status_code == HTTPStatus.REQUEST_ENTITY_TOO_LARGE
    words = _HTTP_WORDS.get(HTTPStatus(e.status_code), e.detail)
    said = refuse(e.status_code, words, e.detail if too_large else "Open the server's front page")
    if too_large:  # what is still coming is not waited for
        said.headers["connection"] = "close"
    return said


async def hung_up(request: Request, e: Exception) -> Response:
    """Gone in the middle of its request: nobody to tell, and nothing to log."""
    return Response(status_code=HTTPStatus.BAD_REQUEST)


async def our_error(request: Request, e: Exception) -> Response:
    """A mistake of this program."""
    log.error("in %s", request.url.path, exc_info=e)
    return refuse(
        HTTPStatus.INTERNAL_SERVER_ERROR,
        "Something went wrong in the program. What was saved before is safe",
        "Try again. The window where the program was started tells more",
    )


HANDLERS = {
    UserError: user_error,
    HTTPException: http_error,
    ClientDisconnect: hung_up,
    Exception: our_error,
}
