"""What was seen tonight, for the pages."""

from __future__ import annotations

from plumbstar.contract.seen import LookTonight, SeenTonight, SkyTonight
from plumbstar.contract.seen_log import LoggedLookLine
from plumbstar.errors import UserError
from plumbstar.logbook import EveningSky
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
    """The looks of an outing."""
    drawn = e.book.sketches(outing_id)
    return tuple(
        LoggedLookLine(
            target=x.target,
            label=label_of(x.target),
            utc=x.utc.iso(),
            seen=x.seen,
            eyepiece=x.eyepiece,
            words=x.words,
            sketches=tuple(sketch_line(s) for s in drawn if s.target == x.target),
        )
        for x in e.book.looks(outing_id)
    )
