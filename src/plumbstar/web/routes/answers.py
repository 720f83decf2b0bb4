"""Answers as JSON, and what a request's parameters say."""

from __future__ import annotations

from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from plumbstar.contract.done import RefusedAnswer


def reply(body: Any, status: int = 200) -> Response:
    """JSON."""
    return Response(msgspec.json.encode(body), status, media_type="application/json")


def refuse(
    status: int,
    error: str,
    remedy: str,
    retry_after_s: float | None = None,
    wants: str = "",
) -> Response:
    """A refusal, in the shape that the pages' scripts show."""
    said = RefusedAnswer(error=error, remedy=remedy, retry_after_s=retry_after_s, wants=wants)
    return reply(said, status)


def text_of(request: Request, key: str, default: str = "") -> str:
    """A parameter of the address."""
    return request.query_params.get(key, default)


def number_of(request: Request, key: str) -> float | None:
    """A parameter as a number, None for what is none."""
    try:
        value = float(text_of(request, key, "nan"))
    except ValueError:
        return None
    return value if abs(value) < 1e14 else None


def as_file(data: str | bytes, name: str, media: str) -> Response:
    """Something to keep."""
    head = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(data, media_type=media, headers=head)
