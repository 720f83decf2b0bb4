"""What every record of the contract is."""

from __future__ import annotations

from typing import TypeVar

from msgspec import Struct


class Record(Struct, frozen=True, kw_only=True):
    """Made once, by name; every field is always sent."""


R = TypeVar("R", bound=Record)


def filled(record: type[R], source: object, **others: object) -> R:
    """A record of what an object calls by the same names; what is called otherwise, or is of
    another kind there, is given. Raises :class:`TypeError` where a field is in neither."""
    alike = {f: getattr(source, f) for f in record.__struct_fields__ if hasattr(source, f)}
    return record(**{**alike, **others})
