"""The telescope by answers to questions: what the kit says, and the kit that the answers make."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from plumbstar import kit as kits
from plumbstar.contract.telescope import AxisKnown, PieceKnown, TelescopeKnown
from plumbstar.kit import Circle, Connection, Eyepiece, Kit, edit
from plumbstar.web.live.bodies import AxisTyped, TelescopeAnswers, Toml
from plumbstar.web.live.station import Station

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening

#: Line ends as they are written and as they are sent.
_ENDS = (("\\r", "\r"), ("\\n", "\n"))
_ZEROS = {"stop": True, "kept": False, "unknown": None}


def ports() -> tuple[str, ...]:
    """The serial ports of this computer that have something behind them."""
    from serial.tools import list_ports

    return tuple(sorted(p.device for p in list_ports.comports() if p.hwid not in ("", "n/a")))


async def new_text(station: Station, b: TelescopeAnswers) -> Toml:
    """The kit that the answers make. Raises :class:`UserError` for one that cannot be."""

    def made(e: Evening) -> str:
        return kit_text(e.instrument.kit_text, e.kit, b)

    text = await station.ask(made)
    kits.loads(text)
    return Toml(toml=text)


def known(kit: Kit, text: str, ports: tuple[str, ...]) -> TelescopeKnown:
    """What the kit says now; its ``text`` is empty where nobody has described one."""
    c = kit.connection
    zero = next(word for word, told in _ZEROS.items() if told is kit.stop.counts_from_zero)
    asked = c.poll
    for written, sent in _ENDS:
        asked = asked.replace(sent, written)
    return TelescopeKnown(
        name=kit.name if text else "",
        aperture_mm=kit.telescope.aperture_mm,
        focal_length_mm=kit.telescope.focal_length_mm,
        eyepieces=tuple(PieceKnown(**msgspec.structs.asdict(x)) for x in kit.eyepiece),
        reads=c.kind if text else "",
        azimuth=_axis(kit.azimuth),
        altitude=_axis(kit.altitude),
        device=c.device,
        baud_count=c.baud,
        host=c.host,
        port=c.port,
        asked=asked,
        pushed=c.pushed,
        zero=zero,
        ports=ports,
        filters=kit.filters,
        finder_view=kit.finder.view,
        finder_field_deg=kit.finder.field_deg,
    )


def _axis(circle: Circle) -> AxisKnown:
    return AxisKnown(
        ticks_count=circle.ticks_per_turn,
        reversed=circle.reversed,
        read_to_deg=circle.read_to_deg,
    )


def kit_text(text: str, kit: Kit, told: TelescopeAnswers) -> str:
    """The kit's text with the answers in it; what was not asked about stays."""
    pieces = [Eyepiece(**msgspec.structs.asdict(x)) for x in told.eyepieces]
    text = edit.with_telescope(text, told.aperture_mm, told.focal_length_mm, pieces)
    if told.name.strip():
        text = edit.with_name(text, told.name.strip())
    if told.filters is not None and tuple(told.filters) != kit.filters:
        text = edit.with_top(text, "filters", told.filters)
    if told.finder_field_deg == 0.0:  # there is none
        text = edit.with_blocks(text, "[finder]", []) if "[finder]" in text else text
    elif told.finder_field_deg is not None:
        finder = {"view": told.finder_view or "upright", "field_deg": told.finder_field_deg}
        text = edit.with_keys(text, "[finder]", finder)
    return edit.with_readings(
        text,
        _circle(kit.azimuth, told.azimuth, told.reads),
        _circle(kit.altitude, told.altitude, told.reads),
        _connection(kit.connection, told),
        _ZEROS[told.zero] if told.reads != "typed" else kit.stop.counts_from_zero,
    )


def _circle(now: Circle, told: AxisTyped, reads: str) -> Circle:
    """Read by eye it has no counts."""
    if reads == "typed":
        return Circle(reversed=told.reversed, read_to_deg=told.read_to_deg)
    return Circle(
        ticks_per_turn=told.ticks_count, reversed=told.reversed, read_to_deg=now.read_to_deg
    )


def _connection(now: Connection, told: TelescopeAnswers) -> Connection:
    """What was not asked about, as which count comes first, stays."""
    if told.reads == "typed":
        return msgspec.structs.replace(now, kind="typed")
    poll = told.asked
    for written, sent in _ENDS:
        poll = poll.replace(written, sent)
    return msgspec.structs.replace(
        now,
        kind=told.reads,
        device=told.device.strip() if told.reads == "serial" else now.device,
        baud=told.baud_count,
        host=told.host.strip() if told.reads == "tcp" else now.host,
        port=told.port if told.reads == "tcp" else now.port,
        poll=poll,
        pushed=told.pushed,
    )
