"""The stars chosen for tonight: where they stand, where the circles should, their look-alikes."""

from __future__ import annotations

import msgspec
import numpy as np

from plumbstar.choose import say
from plumbstar.choose.lookalikes import LookAlike, lookalikes_of
from plumbstar.contract.picture import LookalikeRecord, PlannedStar
from plumbstar.guide.course import Course
from plumbstar.guide.stops import place_stops
from plumbstar.guide.sun import NOT_KNOWN, TOO_NEAR, Ban
from plumbstar.logbook.places import log_name
from plumbstar.mount import kinematics
from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.next_step import STARS_AFTER_BASE
from plumbstar.web.views.numbers import rounded

#: The sky turns a look-alike about its star by a quarter degree a minute: ten minutes will do.
_LOOKALIKES_HOLD_S = 600.0
_MOST_HELD = 100


class PlannedStars:
    """Keeps the slow part, the look-alikes, between one picture and the next."""

    def __init__(self) -> None:
        self._alike: dict[tuple[str, int], tuple[LookAlike, ...]] = {}

    def all(self, e: Evening, now: Instant, near_az_deg: float) -> tuple[PlannedStar, ...]:
        """The plan in its order; ``near_az_deg`` chooses the side of the azimuth's wrap."""
        return tuple(self._one(e, name, now, near_az_deg) for name in e.desk.plan)

    def _one(self, e: Evening, name: str, now: Instant, near_az_deg: float) -> PlannedStar:
        star = catalogue.load().find(name)
        choice, site = e.plan.choice, e.site
        bare = PlannedStar(
            star=star.label,
            label=star.designation if star.name else star.label,
            v_mag=rounded(star.v_mag, 2),
            colour=words.colour(star.bv),
            done=log_name(star) in _told(e),
            az_deg=None,
            alt_deg=None,
            where="",
            visible_from_utc=choice.visible.get(star.label) if choice else None,
            lookalikes=(),
            az_reading_deg=None,
            alt_reading_deg=None,
        )
        if site is None:
            return bare
        az, alt = place_of(star, now, site)
        ban = e.guidance.forbidden(Course(star, site))
        if ban is not None and ban.ban in (Ban.TARGET, Ban.CLOCKS, Ban.CLOCK):
            # Its place in words leads there as well as a reading does.
            where = TOO_NEAR if ban.ban is Ban.TARGET else NOT_KNOWN
            told = ban.told()
            near_sun = f"{told.answer} {told.caution}"
            return msgspec.structs.replace(bare, where=where, near_sun=near_sun)
        placed = msgspec.structs.replace(
            bare,
            az_deg=rounded(az, 2),
            alt_deg=rounded(alt, 2),
            where=words.where(az, alt),
            lookalikes=self._lookalikes(e, star, now, site),
        )
        # An estimate of the reading is guidance as well: not toward the Sun, not by day.
        if e.fix is None or alt <= 0.0 or ban is not None:
            return placed
        later = place_of(star, now.plus_seconds(e.kit.push_seconds), site)
        reading = e.fix.reading_for(*later, near_az_deg=near_az_deg)
        return msgspec.structs.replace(
            placed, az_reading_deg=rounded(reading[0], 3), alt_reading_deg=rounded(reading[1], 3)
        )

    def _lookalikes(
        self, e: Evening, star: Star, now: Instant, site: Site
    ) -> tuple[LookalikeRecord, ...]:
        place = f"{star.key} {site.lat_deg} {site.lon_deg}"
        key = (place, int(now.to_unix() // _LOOKALIKES_HOLD_S))
        if key not in self._alike:
            if len(self._alike) > _MOST_HELD:
                self._alike.clear()
            self._alike[key] = lookalikes_of(star, catalogue.load(), now, site)
        alike = self._alike[key]
        # A finger points at one as well: none is named that is near the Sun.
        offsets = np.array([(a.right_deg, a.up_deg) for a in alike]).reshape(-1, 2)
        direction = kinematics.unit(*np.radians(place_of(star, now, site)))
        clear = e.guidance.clear_of_sun(place_stops(direction, offsets), now)
        return tuple(_lookalike(a, star) for a, ok in zip(alike, clear, strict=True) if ok)


def _told(e: Evening) -> set[str]:
    """The stars that are sighted; beside a closed controller those that it was told."""
    if e.beside.in_use:
        return {s.star for s in e.display.stars}
    since = e.slips.sighted_since_base
    # One sighted before the base was moved is to be sighted again, until two have been.
    if e.slips.base_after is not None and len(since) < STARS_AFTER_BASE:
        return set(since)
    return {s.sighting.star for s in e.sightings.used}


def _lookalike(a: LookAlike, star: Star) -> LookalikeRecord:
    return LookalikeRecord(
        name=a.star.label,
        distance_deg=rounded(a.distance_deg, 3),
        right_deg=rounded(a.right_deg, 3),
        up_deg=rounded(a.up_deg, 3),
        v_mag=rounded(a.star.v_mag, 3),
        colour=words.colour(a.star.bv),
        sentence=say.look_alike(a, star),
    )
