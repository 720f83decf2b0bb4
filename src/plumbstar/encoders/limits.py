"""What separates a move of the hand from a jump of the count. Common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Limits:
    """What separates a move from a jump. Degrees and seconds."""

    speed_deg_s: float = 60.0
    """Faster than this is no hand."""
    jitter_s: float = 0.1
    """How unevenly lines may arrive."""
    gap_s: float = 2.0
    """A silence longer than this (and than three usual intervals) counts as unplugged."""
    gap_move_deg: float = 0.5
    """The most that a count may change over such a silence without being flagged."""
    longest_move_deg: float = 90.0
    """The most that any one step may be, however long since the last."""
    confirm: int = 3
    """Lines that must agree before a jump is believed."""
    still_azimuth_deg: float = 60.0
    """Azimuth swept without one tick of altitude before altitude is suspected, ..."""
    still_altitude_deg: float = 40.0
    """... and the other way about."""
    still_s: float = 600.0
    """Time without a tick from either axis before both are suspected."""


USUAL_LIMITS: Final = Limits()
