"""What was looked for and not found is an entry of the log, too."""

from __future__ import annotations

from plumbstar.logbook.places import log_name
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.web.evening.guidance import pair
from plumbstar.web.evening.parts import Parts


def log_not_found(p: Parts, fix: Fix | None, target: Target, utc: Instant) -> None:
    """Where the fix had put the target, and nothing was there."""
    outing = p.current.outing
    if outing is None or fix is None or p.ground.site is None:
        return
    direction = p.guidance.course_to(target).direction(utc)
    p.book.add_find(
        outing.id,
        log_name(target),
        utc,
        pair(fix.reading_of(direction, 180.0)),
        None,
        p.instrument.field_deg / 2.0,
        p.instrument.eyepiece.name,
    )


def log_unfinished_search(p: Parts, fix: Fix | None) -> None:
    """A search that is left unfinished did not find its target."""
    if p.search.under_way is not None and p.guidance.target is not None:
        log_not_found(p, fix, p.guidance.target, p.now())
