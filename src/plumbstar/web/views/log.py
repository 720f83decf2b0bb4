"""The log for the pages: past outings, and one in full."""

from __future__ import annotations

from typing import Any

from plumbstar.errors import UserError
from plumbstar.logbook import Outing
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.ground import same_place
from plumbstar.web.views.picture import clock_of, number, sighting_dict

#: A change of clocks is looked for so far into an outing: the end may be that of a wrong clock.
_LONGEST_S = 2 * 86400.0


def _where_and_when(e: Evening, o: Outing) -> dict[str, Any]:
    """An outing's head; its clock is that of its own site and night.

    The zone may have been said only later: then the present site's holds for all nights there.
    """
    zone = o.site.time_zone if o.site else ""
    if not zone and o.site and e.site and same_place(o.site, e.site):
        zone = e.site.time_zone
    end = min(o.ended or e.now(), o.started.plus_seconds(_LONGEST_S))
    return {
        "id": o.id,
        "site": o.site.name if o.site else "",
        "kit": o.kit_name,
        "started": o.started.iso(),
        "ended": o.ended.iso() if o.ended else None,
        "clock": clock_of(zone, o.started, end),
    }


def outings(e: Evening) -> list[dict[str, Any]]:
    """All outings, newest first."""
    return [
        {
            **_where_and_when(e, o),
            "sightings": o.sighting_count,
            "finds": o.find_count,
        }
        for o in reversed(e.book.outings())
    ]


def outing(e: Evening, outing_id: int) -> dict[str, Any]:
    """One outing: sightings, finds, notes and the last fix kept."""
    o = e.book.outing(outing_id)
    if o.deleted is not None:
        raise UserError(f"Outing {outing_id} was deleted", "", "Choose another")
    fixes = e.book.fixes(outing_id)
    return {
        **_where_and_when(e, o),
        "sightings": [
            {
                "number": s.number,
                **sighting_dict(s),
                "eyepiece": s.sighting.eyepiece,
            }
            for s in e.book.sightings(outing_id)
        ],
        "finds": [
            {
                "number": f.number,
                "target": f.target,
                "utc": f.utc.iso(),
                "found": f.found,
                "predicted_az_deg": number(f.predicted_az_deg, 3),
                "predicted_alt_deg": number(f.predicted_alt_deg, 3),
                "found_az_deg": number(f.found_az_deg, 3),
                "found_alt_deg": number(f.found_alt_deg, 3),
                "eyepiece": f.eyepiece,
            }
            for f in e.book.finds(outing_id)
        ],
        "notes": [{"utc": n.utc.iso(), "text": n.text} for n in e.book.notes(outing_id)],
        "fix": fixes[-1].body if fixes else None,
    }
