"""Where to push: the target, its course, and whether the Sun lets anything lead there.

What the stream reads (``aim``) is frozen and replaced as a whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from plumbstar.errors import UserError
from plumbstar.guide.aim import Aim, aim_banned, moments, place_banned, suns_at
from plumbstar.guide.course import Course
from plumbstar.guide.stops import place_stop, place_stops
from plumbstar.guide.sun import (
    SUN_UP_DEG,
    SUN_WELL_DOWN_DEG,
    Ban,
    Banned,
    Spot,
    banned,
    clear_of,
    reaches_deg,
    sighting_banned,
)
from plumbstar.guide.sweep import Allowed
from plumbstar.sky.bodies import Body
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.units import Array, Bools
from plumbstar.web.evening.desk import DeskKeeper
from plumbstar.web.evening.ground import Ground
from plumbstar.web.evening.sun_question import SunQuestion

SUN = Body("Sun")


def target_named(name: str) -> Target:
    """What to push to. Raises UserError for the Sun, and for what nothing is called."""
    target = lookup.find_target(name)
    if target == SUN:
        raise UserError(
            "This program never guides to the Sun",
            "",
            "With a full-aperture filter fitted, find it by the shadow of the tube",
        )
    return target


def pair(reading: Array) -> tuple[float, float]:
    """A reading (2,) as two numbers."""
    return float(reading[0]), float(reading[1])


class Guidance:
    """``target`` may be set while nothing may lead there: ``ban`` then says why.

    ``clock_is_sure``: whether the moment, and so the Sun's place, is known. ``question``: whether
    the clocks known disagree about the Sun.
    """

    def __init__(
        self,
        keeper: DeskKeeper,
        ground: Ground,
        now: Callable[[], Instant],
        clock_is_sure: Callable[[], bool],
        question: SunQuestion | None = None,
    ) -> None:
        self._keeper, self._ground, self._now, self._sure = keeper, ground, now, clock_is_sure
        self._question = question
        self.target: Target | None = None
        self.ban: Banned | None = None
        self.aim = Aim()
        self._course: Course | None = None

    # ---- which target ----------------------------------------------------------------------

    def read(self) -> None:
        """The target whose name lies on the desk."""
        self.leave()
        if self._keeper.desk.target:
            try:
                self.target = lookup.find_target(self._keeper.desk.target)
            except UserError:
                self.target = None

    def choose(self, target: Target, came_before: tuple[str, ...] = ()) -> None:
        """Push to that. A search was for another one. ``came_before``: see the desk."""
        self.target, self._course = target, None
        self._keeper.change(target=target.key, sweep=None, came_before=came_before)

    def clear(self) -> None:
        """Nothing to push to."""
        self.leave()
        self._keeper.change(target="", sweep=None)

    def leave(self) -> None:
        """Give the target up; the desk is somebody else's business."""
        self.target, self._course = None, None

    def course_to(self, target: Target) -> Course:
        """The course to that target: the one followed, if it is that. Raises UserError without a
        site."""
        mine = self.target is not None and target.key == self.target.key
        return self._course if mine and self._course else Course(target, self._ground.need_site())

    def followed(self) -> tuple[Target, Course]:
        """What may be searched for now. Raises UserError without a target, or by day.

        One field of the search too near the Sun is no hindrance: the next may be looked at.
        """
        if self.target is None or self._course is None:
            raise UserError("No target is chosen", "", "Choose a target first")
        if self.ban is not None and self.ban.ban is not Ban.STOP:
            raise self.ban.refusal()
        return self.target, self._course

    # ---- the aim ---------------------------------------------------------------------------

    def take_aim(
        self,
        fix: Fix | None,
        field_deg: float,
        push_seconds: float,
        filter_confirmed: bool,
        stop_deg: tuple[float, float] | None,
    ) -> None:
        """A fresh frozen aim for the stream, and the Sun's word on it.

        ``stop_deg``: the stop of a search path to lead to, (right, up) of the target.
        """
        site, almanac = self._ground.site, self._ground.almanac
        if site is None or almanac is None:
            self.aim, self.ban = Aim(), None
            return
        if self.target is not None and (self._course is None or self._course.site != site):
            self._course = Course(self.target, site)
        course = self._course if self.target is not None else None
        aim = Aim(
            fix=fix,
            course=course,
            sun=almanac.sun,
            doubted=self._doubted(),
            field_deg=field_deg,
            push_seconds=push_seconds,
            filter_confirmed=filter_confirmed,
            stop_deg=stop_deg,
        )
        self.ban = self._forbidden(aim, course) if course is not None else None
        self.aim = replace(aim, refused=self.ban is not None)

    def _doubted(self) -> tuple[tuple[Course, float], ...]:
        return self._question.doubted_suns() if self._question is not None else ()

    def _forbidden(self, aim: Aim, course: Course) -> Banned | None:
        """For the target followed, and the stop of its search."""
        return self.unsure() or aim_banned(aim, course, self._now())

    def unsure(self) -> Banned | None:
        """Whether it is not known where the Sun stands; then nothing is pointed to, with a filter
        or without: within 20 degrees of the Sun is no place for a filter either."""
        if not self._sure():
            return Banned(Ban.CLOCK)
        waits = self._question is not None and self._question.waits()
        return Banned(Ban.CLOCKS) if waits else None

    def forbidden(self, course: Course) -> Banned | None:
        """Why nothing may lead there now: the Sun, or not knowing where the Sun is."""
        return self.unsure() or place_banned(self.aim, course, self._now())

    def clear_of_sun(self, directions: Array, now: Instant) -> Bools:
        """Which directions (n, 3) are not too near the Sun to be named, while it is not well
        down; counted from the edge of the field."""
        almanac = self._ground.almanac
        if almanac is None:
            return np.ones(len(directions), dtype=np.bool_)
        return clear_of(directions, self.aim.field_deg / 2.0, almanac.sun.az_alt_deg(now))

    def check_sighting(self, target: Target, place: Spot, utc: Instant, field_deg: float) -> bool:
        """Whether a sighting made then wants a caution: by day, or in twilight near the Sun.

        Raises SunRefusal for the Sun, and for what stood near it by day, without a filter.
        """
        almanac = self._ground.almanac
        if almanac is None:
            return False
        sun = almanac.sun.az_alt_deg(utc)
        confirmed = self.aim.filter_confirmed
        ban = sighting_banned(place, sun, confirmed, field_deg, itself=target == SUN)
        if ban is not None:
            raise ban.refusal()
        if self._question is not None and self._question.waits():
            return True
        return banned(place, sun, confirmed, field_deg / 2.0) is not None

    def check_nameless(self, utc: Instant) -> None:
        """Raises SunRefusal where no star can have been centred: by day, without a filter."""
        almanac = self._ground.almanac
        if almanac is None or self.aim.filter_confirmed:
            return
        if almanac.sun.az_alt_deg(utc)[1] > SUN_UP_DEG:
            raise Banned(Ban.BY_DAY).refusal()

    def refusal_has_changed(self) -> bool:
        """Whether the Sun forbids the target now and did not when the aim was taken, or no
        longer; or forbids something else."""
        if self._course is None or self.target is None:
            return False
        doubted = self._doubted()
        if _minutes(doubted) != _minutes(self.aim.doubted):
            return True  # another clock has spoken: the way is to be looked at anew
        now, then = self._forbidden(replace(self.aim, doubted=doubted), self._course), self.ban
        return (now.ban if now else None) != (then.ban if then else None)

    def allowed_stops(self) -> Allowed | None:
        """Which fields about the target may be searched; None where all may, as by night."""
        aim, course = self.aim, self._course
        if aim.sun is None or course is None:
            return None
        both = [
            (course.direction(t), sun) for t in moments(aim, self._now()) for sun in suns_at(aim, t)
        ]
        if all(sun[1] <= SUN_WELL_DOWN_DEG for _, sun in both):
            return None

        def allowed(offsets_deg: Array) -> Bools:
            may = np.ones(len(offsets_deg), dtype=np.bool_)
            for target, sun in both:
                stops = place_stops(target, offsets_deg)
                reach = reaches_deg(aim.fix, stops, aim.field_deg)
                may &= clear_of(stops, reach, sun)
            return may

        return allowed

    def goal(self, now: Instant, near_az_deg: float) -> tuple[float, float] | None:
        """The reading of the present stop of a search, or of the target, degrees."""
        if self.aim.fix is None or self._course is None or self.ban is not None:
            return None
        direction = place_stop(self._course.direction(now), self.aim.stop_deg)
        return pair(self.aim.fix.reading_of(direction, near_az_deg))

    def target_now(self, now: Instant) -> tuple[Course, float, float] | None:
        """The target's course and its place at that moment, degrees."""
        if self.target is None or self._course is None:
            return None
        return (self._course, *self._course.az_alt_deg(now))


def _minutes(doubted: tuple[tuple[Course, float], ...]) -> list[int]:
    """What other clocks say, as closely as it matters to the Sun."""
    return [round(ahead / 60.0) for _, ahead in doubted]
