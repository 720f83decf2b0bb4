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
        sentence=sentence(found, query.name),
        eye=own_eye.sentence(e.instrument.eye),
        looks=tuple(line(e, x) for x in found[:MOST]),
        more_count=max(0, len(found) - MOST),
    )


def sentence(found: tuple[SeenEntry, ...], name: str = "") -> str:
    """How much that is; of one object when it was seen last."""
    seen = [x for x in found if x.counts]
    if not found:
        return "Nothing of that is in the log yet."
    if name:
        if not seen:
            return f"{found[0].label}: looked for, and not seen yet."
        with_what = f", {seen[0].eyepiece}" if seen[0].eyepiece else ""
        times = "once" if len(seen) == 1 else f"{len(seen)} times"
        last = (
            f"last on {local_date(seen[0].utc, '')}"
            if len(seen) > 1
            else local_date(seen[0].utc, "")
        )
        return f"{seen[0].label}: seen {times}, {last}{with_what}."
    return f"{many(len({x.key for x in seen}), 'object')} seen, in {many(len(seen), 'look')}."


def line(e: Evening, x: SeenEntry) -> SeenBefore:
    zone = e.site.time_zone if e.site is not None else ""
    told = (SEEN_WORDS[x.seen], x.eyepiece, x.kit)
    return SeenBefore(
        outing=x.outing_id,
        name=x.name,
        label=x.label,
        kind=x.kind,
        day=local_date(x.utc, zone),
        seen=x.seen,
        how=", ".join(t for t in told if t),
        words=x.words,
        sketches=x.sketches,
    )
