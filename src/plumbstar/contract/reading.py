"""The stream's reading: what the circles say now, and what is left to push. Up to 20 a second."""

from __future__ import annotations

from plumbstar.contract.record import Record


class PushLeft(Record, frozen=True, kw_only=True):
    """What is left to push: positive is right (clockwise seen from above), and up."""

    az_deg: float
    alt_deg: float
    seconds: float


class FieldOffset(Record, frozen=True, kw_only=True):
    """Target minus tube, on the sky."""

    right_deg: float
    up_deg: float


class ReadingRecord(Record, frozen=True, kw_only=True):
    """``state`` is live, typed, stale or absent; ``beep`` 0 far away to 1 at the centre.

    ``sun_bars``: no way is shown, since it may pass the Sun (``target.warnings`` says so).
    ``place``: for which place the rest was worked out. Where the picture's target has another, a
    newer reading is on its way, and this one tells nothing of what is left to push.
    """

    az_reading_deg: float | None
    alt_reading_deg: float | None
    state: str
    age_s: float | None
    slip: bool
    problem: str
    unix_ms: int
    push: PushLeft | None
    offset: FieldOffset | None
    in_field: bool
    beep: float | None
    sun_bars: bool = False
    place: str = ""
