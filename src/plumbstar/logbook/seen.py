"""Everything that was seen, found again: by object, by kind, by date.

A look says how well. What was found and never told of is seen, too; so is what was centred beside a
closed controller. What was in the field and not seen is listed, and does not count as seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from plumbstar.contract.seen import HowSeen
from plumbstar.logbook.places import key_of, target_named
from plumbstar.logbook.records import Outing
from plumbstar.logbook.shown import load_display
from plumbstar.logbook.store import Logbook
from plumbstar.sky.lists import doubles
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.naming.names import fold
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant


@dataclass(frozen=True, slots=True)
class SeenEntry:
    """One object on one occasion. ``name`` as the log has it; ``key`` the same for every name of an
    object; ``label``, ``kind`` and ``constellation`` empty where no list has it (``label`` is then
    the name). ``kit``, ``site`` and its ``zone`` as they were that evening; ``sketches``: how
    many."""

    outing_id: int
    name: str
    key: str
    label: str
    kind: str
    constellation: str
    utc: Instant
    seen: HowSeen
    eyepiece: str
    words: str
    kit: str
    site: str
    zone: str
    sketches: int

    @property
    def counts(self) -> bool:
        """Whether it was seen."""
        return self.seen != "not"


@dataclass(frozen=True, slots=True)
class SeenQuery:
    """What is looked for; all of it must fit. ``kind``: a part of the kind's name; from and until
    are moments, the second left out."""

    name: str = ""
    kind: str = ""
    start: Instant | None = None
    end: Instant | None = None


def seen_entries(book: Logbook, query: SeenQuery | None = None) -> tuple[SeenEntry, ...]:
    """All that fit, the newest first."""
    wanted = query or SeenQuery()
    found = [x for o in book.outings() for x in _of_outing(book, o)]
    key, kind = key_of(wanted.name) if wanted.name else "", _singular(wanted.kind)
    kept = [
        x
        for x in found
        if (not key or x.key == key)
        and (not kind or kind in fold(x.kind))
        and (wanted.start is None or x.utc >= wanted.start)
        and (wanted.end is None or x.utc < wanted.end)
    ]
    return tuple(sorted(kept, key=lambda x: x.utc, reverse=True))


def seen_names(book: Logbook, outing_ids: Iterable[int] | None = None) -> list[str]:
    """The log's names of all that was seen, one for each time; of some outings, or of all."""
    chosen = None if outing_ids is None else set(outing_ids)
    outings = [o for o in book.outings() if chosen is None or o.id in chosen]
    return [x.name for o in outings for x in occasions(book, o) if x.seen != "not"]


def _singular(kind: str) -> str:
    """ "galaxies" finds a galaxy, "nebulae" a nebula, "clusters" a cluster."""
    word = fold(kind)
    for ending, one in (("ies", "y"), ("ae", "a"), ("s", "")):
        if word.endswith(ending):
            return word[: -len(ending)] + one
    return word


def _kind(target: Target | None) -> str:
    """In plain words; a star that is a pair counts as that."""
    if target is None:
        return ""
    if isinstance(target, Star) and doubles.of(target) is not None:
        return "double star"
    return target.kind


@dataclass(frozen=True, slots=True)
class Occasion:
    """As the log has it: name, moment, how well, eyepiece, words, and what came with an import."""

    name: str
    utc: Instant
    seen: HowSeen
    eyepiece: str = ""
    words: str = ""
    more: Mapping[str, Any] = field(default_factory=dict)


def occasions(book: Logbook, o: Outing) -> list[Occasion]:
    """What was looked at in an outing, by time."""
    looks = book.looks(o.id)
    out = [Occasion(x.target, x.utc, x.seen, x.eyepiece, x.words, x.more) for x in looks]
    told = {key_of(x.target) for x in looks}
    for f in book.finds(o.id):
        if f.found and key_of(f.target) not in told:
            out.append(Occasion(f.target, f.utc, "seen", f.eyepiece))
    for e in load_display(book.state(o.id)):
        if e.event == "centred" and key_of(e.star) not in told:
            out.append(Occasion(e.star, e.utc, "seen"))
    return sorted(out, key=lambda x: x.utc)


def _of_outing(book: Logbook, o: Outing) -> list[SeenEntry]:
    drawn = [s.target for s in book.sketches(o.id)]
    out = []
    for x in occasions(book, o):
        target = target_named(x.name)
        out.append(
            SeenEntry(
                outing_id=o.id,
                name=x.name,
                key=key_of(x.name),
                label=target.label if target is not None else x.name,
                kind=_kind(target),
                constellation=target.constellation if isinstance(target, DeepSky) else "",
                utc=x.utc,
                seen=x.seen,
                eyepiece=x.eyepiece,
                words=x.words,
                kit=o.kit_name,
                site=o.site.name if o.site is not None else "",
                zone=o.site.time_zone if o.site is not None else "",
                sketches=drawn.count(x.name),
            )
        )
    return out
