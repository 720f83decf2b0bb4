"""Which files of orbital elements lie beside the logbook, how old they are, and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from plumbstar.contract.elements import ElementsAnswer, ElementsFileLine
from plumbstar.logbook.elements_file import ElementsKept, ElementsOfFile
from plumbstar.sky.minor import Freshness
from plumbstar.sky.times import Instant
from plumbstar.targets import say_minor
from plumbstar.text.words import many

_WORST: tuple[Freshness, ...] = ("too old", "old", "fresh")
_WHAT: dict[Freshness, str] = {
    "fresh": "",
    "old": "What has old elements may stand some arcminutes aside. ",
    "too old": "What has elements that are too old may stand outside the field. ",
}


def elements(kept: ElementsKept, folder: Path, at: Instant) -> ElementsAnswer:
    """As they stand at that moment."""
    n = len(kept.bodies)
    state = _state([m.freshness(at) for m in kept.bodies])
    if state == "none":
        short = "none here"
        deed = (
            "Comets and minor planets move, and need orbital elements: files that the Minor Planet "
            f"Center gives out. Fetch one at home, and put it into the folder {folder} on the "
            "telescope’s computer."
        )
    else:
        short = f"{n:,}" if state == "fresh" else f"some {state}"
        newer = "Fetch a newer file of the same name at home, and put it in its place in"
        deed = f"{_WHAT[state]}{newer} {folder}." if state != "fresh" else ""
    return ElementsAnswer(
        short=short, state=state, deed=deed, files=tuple(_line(f, at) for f in kept.by_file)
    )


def _state(all_of_them: Sequence[Freshness]) -> Freshness | Literal["none"]:
    for x in _WORST:
        if x in all_of_them:
            return x
    return "none"


def _line(f: ElementsOfFile, at: Instant) -> ElementsFileLine:
    first = f.bad[0].sentence if f.bad else ""
    more = len(f.bad) - 1
    rest = f" {many(more, 'more line')} of it cannot be read." if more > 0 else ""
    return ElementsFileLine(
        name=f.name,
        words=say_minor.of_file(f.bodies, at),
        bad_count=len(f.bad),
        bad=f"{first}{rest}" if first else "",
    )
