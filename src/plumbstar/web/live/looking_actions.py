"""Actions on what was seen: how well, the sky of the evening, a sketch."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plumbstar.web.live.bodies import LookTold, Sketched, SkyTold

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening


def look(e: Evening, b: LookTold) -> None:
    e.looking.look(b.target, b.seen, b.words, b.id, b.ago_ms / 1000.0)


def sky(e: Evening, b: SkyTold) -> None:
    e.looking.tell_sky(b.seeing, b.transparency, b.zenith_mag, b.faintest_mag, b.id)


def sketch(e: Evening, b: Sketched) -> None:
    e.looking.sketch(b.target, b.kind, b.body, b.id)
