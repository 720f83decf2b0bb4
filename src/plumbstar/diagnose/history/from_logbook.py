"""From the logbook to what its outings say of the mount."""

from __future__ import annotations

from plumbstar.diagnose.history import summarise
from plumbstar.diagnose.history.record import Summary
from plumbstar.diagnose.history.strip import Leaned, Strip, StripNight, leaned, strip_of
from plumbstar.diagnose.teach import OutingsTold, evidence_of, mends_of, sighted
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.worked_out import WorkedOut, kind
from plumbstar.mount.priors import Priors
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import many

_SUMMARY, _LEANED = kind(Summary), kind(Leaned | None)


def summary_of(book: Logbook, kit: Kit, field_deg: float) -> tuple[Summary, OutingsTold]:
    """The summary for a true field in degrees, and what the outings told.

    Raises :class:`UserError` where no outing with this kit tells of the mount.
    """
    with WorkedOut.beside(book) as known:
        told = evidence_of(book, kit, known=known)
        if not told.said and not told.left_out:
            came = f"No outing with the kit '{kit.name}' has any sightings"
            raise UserError(came, "", Advice(Do.LOG_AN_EVENING))
        if not told.said:
            n = many(len(told.left_out), "outing")
            came = f"{n} with the kit '{kit.name}', and the sightings of none agree on one mount"
            raise UserError(came, "", Advice(Do.WEIGH_CAUSES))
        anew, moved = mends_of(book, kit)
        summary = known.of(
            _SUMMARY,
            summarise,
            told.said,
            Priors.from_kit(kit),
            told.noise(kit),
            field_deg,
            mends=anew,
            moved=moved,
        )
    return summary, told


def strip_from(book: Logbook, kit: Kit, summary: Summary, told: OutingsTold) -> Strip:
    """What a picture of the mount over its outings shows."""
    nights = []
    with WorkedOut.beside(book) as known:
        for x in sighted(book, kit):
            left_out = x.outing.id in told.left_out
            lean = None
            if not (x.cuts or left_out):
                lean = known.of(_LEANED, leaned, x.sightings, x.kit, x.stated(kit))
            nights.append(StripNight(x.outing.id, x.outing.started, left_out, lean))
    mends = [(m.utc, m.terms, m.text) for m in book.mends(kit.name)]
    return strip_of(kit, summary, nights, mends)
