"""Actions on what was seen: how well, the sky of the evening, a sketch."""

from __future__ import annotations

from plumbstar.contract.seen import HowSeen
from plumbstar.errors import UserError
from plumbstar.logbook.looks import SketchKind
from plumbstar.logbook.places import log_name
from plumbstar.sky.naming import lookup
from plumbstar.web.evening.outings import Outings
from plumbstar.web.evening.parts import Parts


class Looking:
    """Each is on disk before it returns; a press that comes twice is one entry, and one that comes
    again after its outing's end begins no other."""

    def __init__(self, parts: Parts, outings: Outings) -> None:
        self._p, self._outings = parts, outings

    def look(self, target: str, seen: HowSeen, words: str, press: str, ago_s: float) -> None:
        """How an object was seen. The same press again says it otherwise."""
        before = self._p.book.look_of_request(press)
        outing_id = self._outings.start().id if before is None else before.outing_id
        self._p.book.add_look(
            outing_id,
            _named(target),
            self._p.now().plus_seconds(-ago_s),
            seen,
            self._p.instrument.eyepiece.name,
            words,
            request=press,
        )

    def tell_sky(
        self,
        seeing: int | None,
        transparency: int | None,
        zenith_mag: float | None,
        faintest_mag: float | None,
        press: str,
    ) -> None:
        """What is told now, beside what was told before this evening."""
        if self._p.book.sky_of_request(press) is not None:
            return
        outing_id = self._outings.start().id
        before = self._p.book.skies(outing_id)
        old = before[-1] if before else None
        given = (seeing, transparency, zenith_mag, faintest_mag)
        kept = (old.seeing, old.transparency, old.zenith_mag, old.faintest_mag) if old else given
        a, b, c, d = (x if x is not None else y for x, y in zip(given, kept, strict=True))
        self._p.book.tell_sky(
            outing_id,
            self._p.now(),
            seeing=None if a is None else int(a),
            transparency=None if b is None else int(b),
            zenith_mag=c,
            faintest_mag=d,
            request=press,
        )

    def sketch(self, target: str, kind: SketchKind, body: str, press: str) -> None:
        """A drawing of it, or a photograph of one."""
        if self._p.book.sketch_of_request(press) is not None:
            return
        outing_id = self._outings.start().id
        self._p.book.add_sketch(outing_id, _named(target), self._p.now(), kind, body, request=press)


def _named(text: str) -> str:
    """As the log calls it; what no list has stays as it was written."""
    try:
        return log_name(lookup.find_target(text))
    except UserError:
        return text
