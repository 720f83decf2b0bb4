"""Lists to work through, for the page of what was seen."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.contract.seen_log import ListedThing, ListProgress, ListsAnswer
from plumbstar.logbook.own_lists import own_lists
from plumbstar.logbook.places import log_name
from plumbstar.logbook.seen import seen_names
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets.programmes import programmes, progress
from plumbstar.targets.wishes import known
from plumbstar.web.evening.evening import Evening


@dataclass(frozen=True)
class ListsInputs:
    """All that the answer rests on."""

    now: Instant
    site: Site | None
    own: dict[str, list[str]]
    seen: tuple[str, ...]


def inputs_of(e: Evening) -> ListsInputs:
    """What only the evening's thread may read."""
    return ListsInputs(e.now(), e.site, own_lists(e.book), tuple(seen_names(e.book)))


def lists(q: ListsInputs) -> ListsAnswer:
    """All of them, with what is left."""
    seen = known(set(q.seen))
    done = [progress(p, seen, q.now, q.site) for p in programmes(q.own)]
    return ListsAnswer(
        lists=tuple(
            ListProgress(
                name=p.programme.name,
                objects=len(p.programme.targets),
                seen=p.seen,
                left=tuple(_thing(t) for t in p.left),
                left_this_month=tuple(_thing(t) for t in p.now),
                unknown=p.programme.unknown,
            )
            for p in done
        )
    )


def _thing(t: Target) -> ListedThing:
    return ListedThing(name=log_name(t), label=t.label)
