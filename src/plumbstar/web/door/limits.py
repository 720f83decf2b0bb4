"""How much a request may bring."""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import Message, Receive, Scope

BODY_LIMIT = 64 * 1024
PHOTO_LIMIT = 24 * 1024 * 1024
PHOTO_PATH = "/data/collimate"
#: A sketch, or a small photograph of one, as text.
SKETCH_LIMIT = 700 * 1024
SKETCH_PATH = "/do/sketch"


def limit_for(path: str) -> int:
    """Bytes that a request for that address may bring."""
    return {PHOTO_PATH: PHOTO_LIMIT, SKETCH_PATH: SKETCH_LIMIT}.get(path, BODY_LIMIT)


class TooLarge(HTTPException):
    """More came than is taken, found out only while reading."""

    def __init__(self, limit: int) -> None:
        super().__init__(413, f"Send at most {limit // 1024} kB")


def announces_more(scope: Scope, limit: int) -> bool:
    """Whether the request says that more will come than is taken, or says no length at all."""
    length = Headers(scope=scope).get("content-length", "0")
    return not length.isdigit() or int(length) > limit


def limited(receive: Receive, limit: int) -> Receive:
    """The body, counted while it comes. Raises TooLarge."""
    got = 0

    async def counted() -> Message:
        nonlocal got
        message = await receive()
        got += len(message.get("body", b""))
        if got > limit:
            raise TooLarge(limit)
        return message

    return counted
