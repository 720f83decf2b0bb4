"""What every record of the contract is."""

from __future__ import annotations

from msgspec import Struct


class Record(Struct, frozen=True, kw_only=True):
    """Made once, by name; every field is always sent."""
