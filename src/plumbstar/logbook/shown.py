"""What a closed controller showed in an outing, as it was pressed and typed: the outing's state.

The times as saved stay; by how much one was found wrong afterwards lies beside them, under a key of
its own that undo can take back.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal

import msgspec

from plumbstar.logbook.records import TimedBy
from plumbstar.sky.times import Instant

#: Keys of the outing's state: the entries, and by press the seconds by which each was corrected.
DISPLAY, DISPLAY_TIMES = "controller", "controller_times"

DisplayEventKind = Literal["upright", "star", "number", "centred", "missed"]


class DisplayEntry(msgspec.Struct, frozen=True, omit_defaults=True):
    """One press. ``star`` names the star or the object centred, or the one not found.

    ``left_*`` is what the controller still wanted, right and up positive, as typed; of ``chosen``,
    where that was chosen on it because it does not know what was centred. ``looked``: of one not
    found, where the fields' middles were, from the controller's zero on the circles (right, up),
    degrees, and ``field_deg`` how wide each was. ``promised``: the chance that was stated of its
    push on, None where none was, and ``landed`` whether that brought it into the field.
    ``unix`` is the moment as
    saved, by the clock of ``boot`` and ``zero``; ``corrected_by_s`` what was added to it since.
    """

    press: str
    unix: float
    event: DisplayEventKind
    star: str = ""
    number_deg: float | None = None
    left_az_deg: float | None = None
    left_alt_deg: float | None = None
    chosen: str = ""
    looked: tuple[tuple[float, float], ...] = ()
    field_deg: float = 0.0
    boot: str = ""
    zero: float = 0.0
    corrected_by_s: float = 0.0
    promised: float | None = None
    landed: bool = False

    @property
    def at_unix(self) -> float:
        """Its moment, corrected: seconds since 1970."""
        return self.unix + self.corrected_by_s

    @property
    def utc(self) -> Instant:
        """Its moment, corrected."""
        return Instant.from_unix(self.at_unix)

    @property
    def clock(self) -> TimedBy | None:
        """By which clock it was timed; None where nobody could say."""
        return TimedBy(self.boot, self.zero) if self.boot else None


def load_display(state: Mapping[str, Any]) -> tuple[DisplayEntry, ...]:
    """From an outing's state, in the order of their corrected moments; a damaged form gives none,
    never an error."""
    try:
        entries = msgspec.convert(state.get(DISPLAY) or (), tuple[DisplayEntry, ...])
    except msgspec.ValidationError:
        return ()
    by = display_times(state)
    put_right = (
        msgspec.structs.replace(e, corrected_by_s=by[e.press]) if e.press in by else e
        for e in entries
    )
    return tuple(sorted(put_right, key=lambda e: e.at_unix))


def as_saved(entries: tuple[DisplayEntry, ...]) -> object:
    """Plain values for the logbook, without the corrections, which lie apart."""
    return msgspec.to_builtins([msgspec.structs.replace(e, corrected_by_s=0.0) for e in entries])


def display_times(state: Mapping[str, Any]) -> dict[str, float]:
    """By press the seconds by which each was corrected."""
    try:
        told = msgspec.convert(state.get(DISPLAY_TIMES) or {}, dict[str, float])
    except msgspec.ValidationError:
        return {}
    return {press: by for press, by in told.items() if math.isfinite(by)}


def alignments(entries: tuple[DisplayEntry, ...]) -> tuple[tuple[DisplayEntry, ...], ...]:
    """Each from a stop, or from a third star, to the next; one empty one where nothing was entered.

    A number or a find that follows two stars belongs to these.
    """
    began = [0]
    for i, e in enumerate(entries):
        stars = sum(x.event == "star" for x in entries[began[-1] : i])
        if i and (e.event == "upright" or (e.event == "star" and stars == 2)):
            began.append(i)
    return tuple(entries[a:b] for a, b in zip(began, (*began[1:], len(entries)), strict=True))
