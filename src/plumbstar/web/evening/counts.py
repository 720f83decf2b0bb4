"""The encoders' counts in the logbook, so that a restart of the server is no slip."""

from __future__ import annotations

from typing import Any

import msgspec

from plumbstar.logbook import Logbook
from plumbstar.web.evening.outing import OutingInProgress
from plumbstar.web.evening.upright import UprightStop

COUNTS = "encoder_counts"  # a setting in the logbook
#: The encoders' raw and continuous counts, a slip's words, and the zeros, as last seen.
Counts = tuple[tuple[int, int], tuple[int, int], str, tuple[float, float]]


class EncoderCounts:
    """A setting of its own, since it changes every few seconds while the tube is pushed."""

    def __init__(self, book: Logbook, current: OutingInProgress, upright: UprightStop) -> None:
        self._book, self._current, self._upright = book, current, upright
        self._last: Counts | None = None

    def keep(self, counts: Counts | None) -> None:
        """What the encoders need to carry on after a restart. Saved only when it has changed."""
        if counts is not None and counts != self._last:
            self._book.set_setting(COUNTS, counts)
            self._last = counts

    def kept(self) -> Counts | None:
        """The counts to carry on from: only within an outing, or once the stop was told for one. A
        new evening starts afresh, since a board that was switched off by day has not slipped."""
        goes_on = self._current.outing is not None or self._upright.told is not None
        return load(self._book.get_setting(COUNTS)) if goes_on else None


def load(raw: Any) -> Counts | None:
    """From what the logbook holds; None for nothing or for what is damaged."""
    try:
        return msgspec.convert(raw, Counts) if raw else None
    except msgspec.ValidationError:
        return None


def unslipped(counts: Counts | None) -> Counts | None:
    """The same counts, with the slip settled."""
    return None if counts is None else (counts[0], counts[1], "", counts[3])
