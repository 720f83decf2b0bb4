"""Sightings as they were saved, and what became of them."""

from __future__ import annotations

import msgspec

from plumbstar.contract.parts import SavedSighting
from plumbstar.contract.picture import PictureSighting
from plumbstar.logbook import LoggedSighting
from plumbstar.logbook.words import signed_clock
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.numbers import number, rounded


def saved_sighting(s: LoggedSighting) -> SavedSighting:
    """As the log has it."""
    x = s.sighting
    return SavedSighting(
        star=x.star,
        utc=x.utc.iso(1) if x.utc else None,
        az_reading_deg=rounded(x.az_reading_deg),
        alt_reading_deg=rounded(x.alt_reading_deg),
        true_az_deg=rounded(x.true_az_deg),
        true_alt_deg=rounded(x.true_alt_deg),
        set_aside=not s.active,
        reason=s.reason,
        origin=s.origin,
        corrected_by=signed_clock(s.corrected_by_s) if s.corrected_by_s else "",
    )


def sightings_of(e: Evening) -> tuple[PictureSighting, ...]:
    """This outing's, with how far each lies from the fix."""
    aside = e.solved.left_out()
    return tuple(
        msgspec.convert(
            {
                **msgspec.structs.asdict(saved_sighting(s)),
                "id": s.id,
                "residual_arcmin": number(e.solved.residual_arcmin(s.id), 2),
                "set_aside": not s.active or s.id in aside,
                "reason": s.reason or aside.get(s.id, ""),
            },
            PictureSighting,
        )
        for s in e.sightings.all
    )
