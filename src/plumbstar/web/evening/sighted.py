"""What became of a press of "centred". Apart, for those who load no arithmetic."""

from __future__ import annotations

import msgspec


class Sighted(msgspec.Struct, frozen=True):
    """The sighting's id, and whether that press had come before."""

    sighting_id: int
    again: bool
    residual_arcmin: float | None
