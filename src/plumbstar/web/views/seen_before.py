"""What was seen on earlier evenings, for the page that finds it again."""

from __future__ import annotations

from collections.abc import Mapping

from plumbstar.contract.seen_log import SeenAnswer, SeenBefore
from plumbstar.diagnose import own_eye
from plumbstar.logbook.seen import SeenEntry, SeenQuery, seen_entries
from plumbstar.logbook.words import SEEN_WORDS
from plumbstar.sky.local_time import local_date
from plumbstar.text.words import many
from plumbstar.web.evening.evening import Evening

#: So many are sent at once.
MOST = 60
_DAY_S = 86400.0


def seen_before(e: Evening, asked: Mapping[str, str]) -> SeenAnswer:
    """What fits ``q``, ``kind`` and ``days``; all of it where they are left out."""
    days = asked.get("days", "")
    start = e.now().plus_seconds(-_DAY_S * int(days)) if days.isdigit() else None
    query = SeenQuery(asked.get("q", "").strip()[:120], asked.get("kind", "")[:40], start)
    found = seen_entries(e.book, query)
    return SeenAnswer(
        sentence=sentence(found, query),
        eye=own_eye.sentence(e.instrument.eye),
        looks=tuple(line(x) for x in found[:MOST]),
        more_count=max(0, len(found) - MOST),
    )


def sentence(found: tuple[SeenEntry, ...], query: SeenQuery) -> str:
    """How much that is; of one object when it was seen last."""
    seen = [x for x in found if x.counts]
    if not found:
        if query == SeenQuery():
            return "Nothing is in the log yet. After each find one tap says how it was seen."
        return "Nothing of that is in the log."
    if query.name:
        if not seen:
            return f"{found[0].label}: looked for, and not seen yet."
        with_what = f", {seen[0].eyepiece}" if seen[0].eyepiece else ""
        times = "once" if len(seen) == 1 else f"{len(seen)} times"
        day = local_date(seen[0].utc, seen[0].zone)
        last = f"last on {day}" if len(seen) > 1 else day
        return f"{seen[0].label}: seen {times}, {last}{with_what}."
    objects = {x.key for x in seen}
    missed = len({x.key for x in found} - objects)
    if not seen:
        return f"Looked for, and not seen yet: {many(missed, 'object')}."
    more = f"; {missed} more looked for, and not seen" if missed else ""
    return f"{many(len(objects), 'object')} seen, in {many(len(seen), 'look')}{more}."


def line(x: SeenEntry) -> SeenBefore:
    told = (SEEN_WORDS[x.seen], x.eyepiece, x.kit)
    return SeenBefore(
        outing=x.outing_id,
        name=x.name,
        label=x.label,
        kind=x.kind,
        day=local_date(x.utc, x.zone),
        seen=x.seen,
        how=", ".join(t for t in told if t),
        words=x.words,
        sketches=x.sketches,
    )
