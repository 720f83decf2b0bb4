"""What was seen tonight, for the pages."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.contract.seen import LookTonight, SeenTonight, SkyTonight
from plumbstar.contract.seen_log import LoggedLookLine, LoggedSketch
from plumbstar.errors import UserError
from plumbstar.logbook import EveningSky
from plumbstar.logbook.looks import Sketch
from plumbstar.sky.naming import lookup
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.sketches import sketch_line


def label_of(name: str) -> str:
    """As people write it; what no list has as it stands in the log."""
    try:
        return lookup.find_target(name).label
    except UserError:
        return name


def sky_record(told: tuple[EveningSky, ...]) -> SkyTonight | None:
    """The last that was told."""
    if not told:
        return None
    x = told[-1]
    return SkyTonight(
        seeing=x.seeing,
        transparency=x.transparency,
        zenith_mag=x.zenith_mag,
        faintest_mag=x.faintest_mag,
    )


def seen_record(e: Evening) -> SeenTonight:
    """Of the outing in progress; empty without one."""
    if e.outing is None:
        return SeenTonight(looks=(), sky=None)
    drawn = [s.target for s in e.book.sketches(e.outing.id)]
    looks = tuple(
        LookTonight(
            press=x.press or "",
            target=x.target,
            label=label_of(x.target),
            utc=x.utc.iso(),
            seen=x.seen,
            words=x.words,
            sketches=drawn.count(x.target),
        )
        for x in e.book.looks(e.outing.id)
    )
    return SeenTonight(looks=looks, sky=sky_record(e.book.skies(e.outing.id)))


def looks_of(e: Evening, outing_id: int) -> tuple[LoggedLookLine, ...]:
    """The looks of an outing. A sketch stands with the last look at its object; what was drawn and
    not told of counts as seen."""
    drawn = e.book.sketches(outing_id)
    looks = e.book.looks(outing_id)
    last = {x.target: x.id for x in looks}
    told = [
        LoggedLookLine(
            target=x.target,
            label=label_of(x.target),
            utc=x.utc.iso(),
            seen=x.seen,
            eyepiece=x.eyepiece,
            words=x.words,
            sketches=_lines(drawn, x.target) if last[x.target] == x.id else (),
        )
        for x in looks
    ]
    untold = {s.target: s.utc for s in drawn if s.target not in last}
    told += [
        LoggedLookLine(
            target=target,
            label=label_of(target),
            utc=utc.iso(),
            seen="seen",
            eyepiece="",
            words="",
            sketches=_lines(drawn, target),
        )
        for target, utc in untold.items()
    ]
    return tuple(sorted(told, key=lambda x: x.utc))


def _lines(drawn: Sequence[Sketch], target: str) -> tuple[LoggedSketch, ...]:
    return tuple(sketch_line(s) for s in drawn if s.target == target)
