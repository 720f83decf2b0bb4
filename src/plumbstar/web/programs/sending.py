"""What another program sends: a sync, which is a sighting, and a target to push to."""

from __future__ import annotations

import math
import secrets
from typing import TYPE_CHECKING

import numpy as np

from plumbstar.errors import UserError
from plumbstar.guide.course import Course
from plumbstar.sky import ofdate
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.naming import nearby
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.times import Instant
from plumbstar.web.evening.guidance import SUN
from plumbstar.web.live import actions
from plumbstar.web.live.bodies import StarTap, TargetTap
from plumbstar.web.programs.refused import Refused, Why, refused
from plumbstar.web.views.doubted import doubt_sentence

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.live.station import Station


def sighted(e: Evening, ra_hours: float, dec_deg: float, now: Instant) -> tuple[Target, float]:
    """What a sync was made on, and how far its coordinates are off, degrees.

    The target that is pushed to or the listed thing, if the coordinates lie beside it; else the
    star that plainly fits. Raises UserError when none does: a sighting of a place where nothing is
    would be wrong by as much as the program's coordinates are, and nobody would see it.
    """
    target = meant(e, ra_hours, dec_deg, now)
    if not _bare(target):
        return target, 0.0
    assert isinstance(target, DeepSky)
    if e.target is not None and _bare(e.target):
        assert isinstance(e.target, DeepSky)
        if _apart_deg(target, e.target) * 60.0 <= nearby.WITHIN_ARCMIN:
            return e.target, 0.0
    star, near = nearby.bright_stars(target.ra_deg, target.dec_deg)
    if star is not None:
        return star, next(off for s, off in near if s.key == star.key)
    names = ", ".join(f"{s.label} {off:.1f}° off" for s, off in near)
    raise UserError(
        f"A sync came at {target.label}, where no one star plainly fits "
        f"({names or 'none is near'})",
        "",
        "Nothing was recorded. Choose the star itself on the chart, then sync again",
    )


def doubted_words(e: Evening, press: str) -> str:
    """The question that the phone asks about that press."""
    return next((doubt_sentence(d) for d in e.doubts.open if d.press == press), "")


def _bare(target: Target) -> bool:
    """Whether it is a plain place, with no name."""
    return isinstance(target, DeepSky) and target.kind == "place in the sky"


def _apart_deg(a: DeepSky, b: DeepSky) -> float:
    ra, dec, to_ra, to_dec = np.radians([a.ra_deg, a.dec_deg, b.ra_deg, b.dec_deg])
    return math.degrees(float(separation_rad(ra, dec, to_ra, to_dec)))


def meant(e: Evening, ra_hours: float, dec_deg: float, now: Instant) -> Target:
    """What coordinates of date mean: the listed thing beside them, else that very place."""
    site = e.ground.need_site()
    ra, dec = ofdate.to_icrs(math.radians(15.0 * ra_hours), math.radians(dec_deg), now, site)
    place = math.degrees(ra), math.degrees(dec)
    return nearby.at_place(*place, now, site) or nearby.place_at(*place)


async def hear_time(station: Station, utc: str, client: str, received: float) -> None:
    """Another program's clock: believed by nobody, but it may put the Sun up. Refused for what
    is no time."""
    await station.evening_ready()
    try:
        unix = Instant.parse(utc).to_unix()
    except UserError as e:
        raise refused(e) from None
    await station.ask(lambda e: e.sun_question.hear("program", client, unix, received))


async def sync(station: Station, ra_hours: float, dec_deg: float, received: float) -> None:
    """The telescope is centred there: a sighting, on disk before this returns.

    Of the present target it is a find as well, as "here, centred" on the phone is. ``received`` is
    the steady clock when the request came: the reading is that of then. Raises Refused.
    """
    await station.evening_ready()
    now = station.clock.at(received)

    def look(e: Evening) -> tuple[Target, float, bool]:
        site, field_deg = e.ground.need_site(), e.instrument.field_deg
        # Before anything is said of readings, or of stars that do not fit: of the Sun this is the
        # first thing to be told. Coordinates of J2000 may miss the Sun itself by its width.
        there = meant(e, ra_hours, dec_deg, now)
        e.guidance.check_sighting(there, place_of(there, now, site), now, field_deg)
        target, off_deg = sighted(e, ra_hours, dec_deg, now)
        e.guidance.check_sighting(target, place_of(target, now, site), now, field_deg)
        return target, off_deg, e.target is not None and e.target.key == target.key

    try:
        target, off_deg, present = await station.ask(look)
        # A name of its own for each: two syncs are two sightings, also from a program whose
        # transactions begin at 1 again after it was restarted.
        press = f"program-{secrets.token_hex(12)}"
        if present:
            done = await actions.here_centred(
                station, TargetTap(id=press, target=target.key), received
            )
        else:
            done = await actions.sight(station, StarTap(id=press, star=target.key), received)
    except UserError as e:
        raise refused(e) from None
    if done.asked:
        question = await station.ask(lambda e: doubted_words(e, press))
        raise Refused(
            Why.NOT_TAKEN,
            f"{question} The moment is kept: answer on the phone. Or centre it and sync again.",
        )
    said = f"{target.label} was sighted from another program."
    if off_deg:
        said += (
            f" Its coordinates were {off_deg:.2f}° off. If another star was centred, undo; if it "
            "happens with each star, set that program to coordinates of date instead of J2000."
        )
    await station.do(lambda e: e.messages.say(said, "info"))


async def send_target(station: Station, ra_hours: float, dec_deg: float) -> str:
    """Make it what the phone shows to push to; returns its key.

    Raises Refused, also for the Sun's sake: then the target is the one it was.
    """
    await station.evening_ready()

    def act(e: Evening) -> Target:
        now = e.now()
        target = meant(e, ra_hours, dec_deg, now)
        course = Course(target, e.ground.need_site())
        _, alt = course.az_alt_deg(now)
        if alt < 0.0:
            raise UserError(f"{target.label} is below the horizon", "", "Choose another target")
        # The phone may choose a target that the Sun forbids, and have it freed at night. A program
        # that was told "no" must not find that it has changed something. (The Sun itself is refused
        # by the evening, in words of its own.)
        if target != SUN:
            ban = e.guidance.forbidden(course)
            if ban is not None:
                raise Refused(Why.IMPOSSIBLE, ban.refusal().on_pages())
        e.targeting.set_target(target.key)
        e.messages.say(f"{target.label} was sent as the target by another program.", "info")
        return target

    try:
        target, _ = await station.do(act)
    except UserError as e:
        raise refused(e, Why.IMPOSSIBLE) from None
    return target.key
