"""What became of a press of "centred". Apart, for those who load no arithmetic."""

from __future__ import annotations

import msgspec


class Sighted(msgspec.Struct, frozen=True):
    """The sighting's id, and whether that press had come before. ``asked``: it cannot be what it
    says, and is held until the observer has answered; then, and when dropped, there is no id."""

    sighting_id: int | None
    again: bool
    residual_arcmin: float | None
    asked: bool = False
