"""Actions by day: what was put under the upright stop, or taken out, and that taken back."""

from __future__ import annotations

from plumbstar.diagnose import shims
from plumbstar.errors import UserError
from plumbstar.logbook.records import Pieces
from plumbstar.mount.terms import STOP
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.preparing import Preparing

#: What such a mend is called, as the manual's example.
SHIMMED = "shimmed"


class Mending:
    """The mends of the kit in use."""

    def __init__(self, parts: Parts, after: Consequences, preparing: Preparing) -> None:
        self._p, self._after, self._preparing = parts, after, preparing

    def shimmed(self, press: str, put: Pieces) -> None:
        """``put``: (thickness in mm, how many; minus: taken out); empty where nobody knows: then
        the stop is learnt anew. The same press sent twice is one mend."""
        if self._p.book.mend_of_request(press) is not None:
            return
        kit = self._p.instrument.kit
        if put:  # the same pieces taken out and put in are no mend, nor is a piece of no thickness
            put = shims.summed(put)
        self._preparing.refuse_a_mend()
        box = shims.listed(kit) if put else ()
        self._p.book.add_mend(kit.name, (STOP,), SHIMMED, self._p.now(), put, box, request=press)
        self._preparing.begin_after_a_mend()
        self._p.instrument.read_mends()
        self._after.refit()

    def take_back(self, mend_id: int) -> None:
        """Raises :class:`UserError` where it was taken back before, or came with an import."""
        if self._p.book.undo_mend(mend_id) is None:
            raise UserError(
                "That mend cannot be taken back here",
                "",
                "Nothing was changed. Look at Many nights",
            )
        self._p.instrument.read_mends()
        self._after.refit()
