"""The encoders' counts in the logbook, so that a restart of the server is no slip."""

from __future__ import annotations

from typing import Any

import msgspec

from plumbstar.logbook import Logbook
from plumbstar.mount.slips import CIRCLES, CountSlip, SlipCause
from plumbstar.web.evening.outing import OutingInProgress
from plumbstar.web.evening.upright import UprightStop

COUNTS = "encoder_counts"  # a setting in the logbook


class KeptCounts(msgspec.Struct, frozen=True):
    """The encoders' raw and continuous counts, the readings at count 0 (degrees), the possible
    slips that were open, and the number of the last one, as last seen."""

    raw: tuple[int, int]
    total: tuple[int, int]
    zero_deg: tuple[float, float]
    slips: tuple[CountSlip, ...] = ()
    slips_before: int = 0


#: As older versions kept them: raw, total, a slip in words, zeros.
_Older = tuple[tuple[int, int], tuple[int, int], str, tuple[float, float]]


class EncoderCounts:
    """A setting of its own, since it changes every few seconds while the tube is pushed."""

    def __init__(self, book: Logbook, current: OutingInProgress, upright: UprightStop) -> None:
        self._book, self._current, self._upright = book, current, upright
        self._last: KeptCounts | None = None

    def keep(self, counts: KeptCounts | None) -> None:
        """What the encoders need to carry on after a restart. Saved only when it has changed."""
        if counts is not None and counts != self._last:
            self._book.set_setting(COUNTS, msgspec.to_builtins(counts))
            self._last = counts

    def kept(self) -> KeptCounts | None:
        """The counts to carry on from: only within an outing, or once the stop was told for one. A
        new evening starts afresh, since a board that was switched off by day has not slipped."""
        goes_on = self._current.outing is not None or self._upright.told is not None
        return load(self._book.get_setting(COUNTS)) if goes_on else None


def load(raw: Any) -> KeptCounts | None:
    """From what the logbook holds; None for nothing or for what is damaged."""
    try:
        if isinstance(raw, list):
            return _from_older(msgspec.convert(raw, _Older))
        return msgspec.convert(raw, KeptCounts) if raw else None
    except msgspec.ValidationError:
        return None


def _from_older(old: _Older) -> KeptCounts:
    raw, total, words, zero_deg = old
    # Its words are for people: what they said was that either circle may have slipped.
    slips = (CountSlip(1, (SlipCause("unheard", CIRCLES),)),) if words else ()
    return KeptCounts(raw, total, zero_deg, slips, len(slips))
