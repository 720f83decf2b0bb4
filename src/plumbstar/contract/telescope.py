"""The telescope as it is asked for on the phone, question by question."""

from __future__ import annotations

from plumbstar.contract.record import Record


class PieceKnown(Record, frozen=True, kw_only=True):
    """An eyepiece; of its two fields one is None or both are given."""

    name: str
    focal_length_mm: float
    field_stop_mm: float | None
    apparent_field_deg: float | None


class AxisKnown(Record, frozen=True, kw_only=True):
    """One axis; ``ticks_count`` 0: a circle, read to ``read_to_deg``."""

    ticks_count: int
    reversed: bool
    read_to_deg: float


class TelescopeKnown(Record, frozen=True, kw_only=True):
    """``/data/telescope``: what the kit says now. ``reads`` is typed, serial, tcp or controller,
    and empty where nobody has said. ``asked``: what is sent to a board, its line ends written out
    with a backslash; ``zero``: stop, kept or unknown. ``ports``: the serial ports of this computer.
    ``finder_field_deg`` 0: nobody has said.
    """

    name: str
    aperture_mm: float
    focal_length_mm: float
    eyepieces: tuple[PieceKnown, ...]
    reads: str
    azimuth: AxisKnown
    altitude: AxisKnown
    device: str
    baud_count: int
    host: str
    port: int
    asked: str
    pushed: bool
    zero: str
    ports: tuple[str, ...]
    filters: tuple[str, ...]
    finder_view: str
    finder_field_deg: float
