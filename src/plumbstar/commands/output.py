"""The one way in which commands answer: as lines for a person, or as one JSON object."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import msgspec


def to_json(answer: object) -> str:
    """One line of JSON: a record, a dataclass or plain values, keys in their order.

    A number that does not exist (NaN, an infinity) is null; numpy's numbers and arrays are
    numbers and lists.
    """
    raw = msgspec.json.encode(answer, enc_hook=_plain)
    return msgspec.json.format(raw, indent=0).decode()


def print_json(answer: object) -> None:
    """:func:`to_json`, printed at once: whoever reads it may be waiting for the line."""
    click.echo(to_json(answer))


def say(as_json: bool, answer: object, *lines: str) -> None:
    """The answer for a program, or its lines for a person."""
    click.echo(to_json(answer) if as_json else "\n".join(lines))


def _plain(x: Any) -> Any:
    if isinstance(x, Path):
        return str(x)
    if hasattr(x, "tolist"):  # numpy's, without loading numpy
        return x.tolist()
    raise TypeError(f"no JSON for {type(x).__name__}")
