"""What another program sends: a sync, which is a sighting, and a target to push to."""

from __future__ import annotations

import math
import secrets
from typing import TYPE_CHECKING, Any

import msgspec

from plumbstar.errors import UserError
from plumbstar.sky import nearby, ofdate
from plumbstar.sky.lookup import Target
from plumbstar.sky.times import Instant
from plumbstar.web import actions
from plumbstar.web.aim import sun_sentence
from plumbstar.web.alpaca.faults import INVALID_OPERATION, Fault, refused
from plumbstar.web.course import Course

if TYPE_CHECKING:
    from plumbstar.web.evening import Evening
    from plumbstar.web.station import Station


def meant(e: Evening, ra_hours: float, dec_deg: float, now: Instant) -> Target:
    """What coordinates of date mean: the listed thing beside them, else that very place."""
    site = e.need_site()
    ra, dec = ofdate.to_icrs(math.radians(15.0 * ra_hours), math.radians(dec_deg), now, site)
    place = math.degrees(ra), math.degrees(dec)
    return nearby.at_place(*place, now, site) or nearby.place_at(*place)


async def sync(station: Station, ra_hours: float, dec_deg: float, received: float) -> None:
    """The telescope is centred there: a sighting, on disk before this returns.

    Of the present target it is a find as well, as "here, centred" on the phone is. ``received`` is
    the steady clock when the request came: the reading is that of then. Raises Fault.
    """
    await station.evening_ready()
    now = station.clock.at(received)

    def look(e: Evening) -> tuple[Target, bool]:
        target = meant(e, ra_hours, dec_deg, now)
        return target, e.target is not None and e.target.key == target.key

    try:
        target, present = await station.ask(look)
        # A name of its own for each: two syncs are two sightings, also from a program whose
        # transactions begin at 1 again after it was restarted.
        press = f"alpaca-{secrets.token_hex(12)}"
        name, key = ("here_centred", "target") if present else ("sight", "star")
        body: dict[str, Any] = {"id": press, key: target.key}
        await actions.run(station, name, msgspec.json.encode(body), received)
    except UserError as e:
        raise refused(e) from None
    await station.do(lambda e: e.say(f"{target.label} was sighted from another program.", "info"))


async def send_target(station: Station, ra_hours: float, dec_deg: float) -> str:
    """Make it what the phone shows to push to; returns its key. Raises Fault, also for the Sun's
    sake: then the target is the one it was."""
    await station.evening_ready()

    def act(e: Evening) -> Target:
        now = e.now()
        target = meant(e, ra_hours, dec_deg, now)
        course = Course(target, e.need_site())
        _, alt = course.az_alt_deg(now)
        if alt < 0.0:
            raise UserError(f"{target.label}, which is below the horizon", "one that is up", "Wait")
        # The phone may choose a target that the Sun forbids, and have it freed at night. A program
        # that was told "no" must not find that it has changed something. (The Sun itself is refused
        # by the evening, in words of its own.)
        if target.label != "Sun":
            why_not = sun_sentence(e.aim, course, now)
            if why_not is not None:
                raise Fault(INVALID_OPERATION, why_not)
        e.set_target(target.key)
        e.say(f"{target.label} was sent as the target by another program.", "info")
        return target

    try:
        target, _ = await station.do(act)
    except UserError as e:
        raise refused(e, INVALID_OPERATION) from None
    return target.key
