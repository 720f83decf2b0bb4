"""When a target was seen last, before this evening."""

from __future__ import annotations

from plumbstar.logbook import Outing
from plumbstar.logbook.seen import SeenQuery, seen_entries
from plumbstar.logbook.words import SEEN_WORDS
from plumbstar.sky.local_time import local_date
from plumbstar.sky.places import Target
from plumbstar.web.evening.evening import Evening

#: The last answer: for which target and outing. The log of earlier evenings stands still meanwhile.
_kept: dict[tuple[str, int, str], str] = {}


def seen_last(e: Evening, target: Target) -> str:
    """A sentence, or nothing where it is new to this log."""
    now: Outing | None = e.outing
    key = (e.book.path, now.id if now is not None else 0, target.key)
    if key not in _kept:
        _kept.clear()
        found = seen_entries(e.book, SeenQuery(target.key))
        past = [x for x in found if now is None or x.outing_id != now.id]
        _kept[key] = (
            f"Last time: {local_date(past[0].utc, past[0].zone)}, "
            + ", ".join(t for t in (SEEN_WORDS[past[0].seen], past[0].eyepiece) if t)
            + "."
            if past
            else ""
        )
    return _kept[key]
