"""The log for the pages: past outings, and one in full."""

from __future__ import annotations

import msgspec

from plumbstar.contract.asked import (
    LogAnswer,
    LoggedFind,
    LoggedNote,
    LoggedStar,
    OutingAnswer,
    OutingHead,
    OutingLine,
)
from plumbstar.errors import UserError
from plumbstar.logbook import Outing
from plumbstar.logbook.shown import load_display
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.ground import same_place
from plumbstar.web.views.beside_log import shown_lines
from plumbstar.web.views.hours import clock_of
from plumbstar.web.views.numbers import number
from plumbstar.web.views.seen import looks_of, sky_record
from plumbstar.web.views.sighted import saved_sighting

#: A change of clocks is looked for so far into an outing: the end may be that of a wrong clock.
_LONGEST_S = 2 * 86400.0


def _head(e: Evening, o: Outing) -> OutingHead:
    """An outing's head; its clock is that of its own site and night.

    The zone may have been said only later: then the present site's holds for all nights there.
    """
    zone = o.site.time_zone if o.site else ""
    if not zone and o.site and e.site and same_place(o.site, e.site):
        zone = e.site.time_zone
    end = min(o.ended or e.now(), o.started.plus_seconds(_LONGEST_S))
    return OutingHead(
        id=o.id,
        site=o.site.name if o.site else "",
        kit=o.kit_name,
        started_utc=o.started.iso(),
        ended_utc=o.ended.iso() if o.ended else None,
        clock=clock_of(zone, o.started, end),
    )


def outings(e: Evening) -> LogAnswer:
    """All outings, newest first."""
    return LogAnswer(outings=tuple(_line(e, o) for o in reversed(e.book.outings())))


def _line(e: Evening, o: Outing) -> OutingLine:
    head = _head(e, o)
    return OutingLine(
        id=head.id,
        site=head.site,
        kit=head.kit,
        started_utc=head.started_utc,
        ended_utc=head.ended_utc,
        clock=head.clock,
        sightings=o.sighting_count,
        finds=o.find_count,
    )


def outing(e: Evening, outing_id: int) -> OutingAnswer:
    """One outing: sightings, finds, notes and what the last fix said."""
    o = e.book.outing(outing_id)
    if o.deleted is not None:
        raise UserError(f"Outing {outing_id} was deleted", "", "Choose another")
    head, fixes = _head(e, o), e.book.fixes(outing_id)
    return OutingAnswer(
        id=head.id,
        site=head.site,
        kit=head.kit,
        started_utc=head.started_utc,
        ended_utc=head.ended_utc,
        clock=head.clock,
        shown=shown_lines(load_display(e.book.state(outing_id))),
        sightings=tuple(
            msgspec.convert(
                {
                    **msgspec.structs.asdict(saved_sighting(s)),
                    "number": s.number,
                    "eyepiece": s.sighting.eyepiece,
                },
                LoggedStar,
            )
            for s in e.book.sightings(outing_id)
        ),
        finds=tuple(
            LoggedFind(
                number=f.number,
                target=f.target,
                utc=f.utc.iso(),
                found=f.found,
                predicted_az_deg=number(f.predicted_az_deg, 3),
                predicted_alt_deg=number(f.predicted_alt_deg, 3),
                found_az_deg=number(f.found_az_deg, 3),
                found_alt_deg=number(f.found_alt_deg, 3),
                eyepiece=f.eyepiece,
            )
            for f in e.book.finds(outing_id)
        ),
        looks=looks_of(e, outing_id),
        sky=sky_record(e.book.skies(outing_id)),
        notes=tuple(LoggedNote(utc=n.utc.iso(), text=n.text) for n in e.book.notes(outing_id)),
        fix=str(fixes[-1].body.get("sentence", "")) if fixes else None,
    )
