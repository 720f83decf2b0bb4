"""The picture: everything the pages show, as one record. Made once for each change.

Reads the evening and changes nothing; one file beside this for each part of it.
"""

from __future__ import annotations

from plumbstar.contract.picture import PairingRecord, Picture, RehearsalRecord
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.next_step import next_step
from plumbstar.web.views.beside import beside_record
from plumbstar.web.views.choice import choice_record, next_star_of, next_star_record
from plumbstar.web.views.doubted import doubts_of
from plumbstar.web.views.fixed import fix_record, priors_record
from plumbstar.web.views.hours import HoursNow
from plumbstar.web.views.instrument import kit_record, outing_now, skyline_record, sun_record
from plumbstar.web.views.nameless import nameless_record
from plumbstar.web.views.next_action import next_action, situation_of
from plumbstar.web.views.notices import messages_of, moved_record, slip_record
from plumbstar.web.views.planned import PlannedStars
from plumbstar.web.views.seen import seen_record
from plumbstar.web.views.sighted import sightings_of
from plumbstar.web.views.sites import site_record
from plumbstar.web.views.stop import stop_record
from plumbstar.web.views.sun_question import sun_question_record
from plumbstar.web.views.target import target_record
from plumbstar.web.views.timing import timing_record
from plumbstar.web.views.undo import undo_record

_COMPASS = tuple(words.compass(45.0 * k, 8) for k in range(8))
#: Which side of the azimuth's wrap is meant while there is no reading.
_NO_READING_AZ_DEG = 180.0


class PictureMaker:
    """Makes pictures; keeps the slow parts between one and the next."""

    def __init__(
        self,
        pairing: PairingRecord | None = None,
        rehearsal: RehearsalRecord | None = None,
        can_rehearse: bool = False,
    ) -> None:
        self._pairing = pairing
        self._rehearsal, self._can_rehearse = rehearsal, can_rehearse
        self._hours = HoursNow()
        self._planned = PlannedStars()

    def make(
        self,
        e: Evening,
        version: int,
        az_reading_deg: float | None,
        alt_reading_deg: float | None,
    ) -> Picture:
        """The whole state. ``az_reading_deg`` chooses the side of the azimuth wrap, and both say
        where a push would begin."""
        now = e.now()
        near = az_reading_deg if az_reading_deg is not None else _NO_READING_AZ_DEG
        choice, better = e.plan.choice, next_star_of(e)
        plan = self._planned.all(e, now, near)
        step = next_step(situation_of(e, plan, now))
        return Picture(
            version=version,
            now_utc=now.iso(),
            server_unix_ms=round(now.to_unix() * 1000.0),
            loading=e.loading,
            compass=_COMPASS,
            site=site_record(e.site) if e.site is not None else None,
            sites=tuple(site_record(s) for s in e.book.sites()),
            clock=self._hours.clock(e.site.time_zone if e.site is not None else "", now),
            kit=kit_record(e),
            skyline=skyline_record(e),
            sun=sun_record(e, now),
            outing=outing_now(e),
            choice=choice_record(choice) if choice is not None else None,
            plan=plan,
            next_star=next_star_record(better) if better is not None else None,
            next=next_action(e, step),
            aimed_star=e.plan.aimed,
            sightings=sightings_of(e),
            fix=fix_record(e),
            priors=priors_record(e),
            target=target_record(e, now, near, alt_reading_deg),
            slip=slip_record(e, step),
            stop=stop_record(e),
            doubts=doubts_of(e),
            nameless=nameless_record(e),
            moved=moved_record(e),
            messages=messages_of(e),
            undo=undo_record(e.sightings.undoable),
            pairing=self._pairing,
            timing=timing_record(e),
            sun_question=sun_question_record(e, now),
            beside=beside_record(e),
            seen=seen_record(e),
            rehearsal=self._rehearsal,
            can_rehearse=self._can_rehearse and e.site is not None and _has_stars(e),
        )


def _has_stars(e: Evening) -> bool:
    """Beside a controller a rehearsal needs its list: it is told two of them."""
    return not e.beside.in_use or len(e.kit.controller.stars) > 1
