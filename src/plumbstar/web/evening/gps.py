"""A satellite receiver's time and place, taken into the evening."""

from __future__ import annotations

from dataclasses import replace

from plumbstar.clock import doubts as clock_check
from plumbstar.clock.gps import GpsFix
from plumbstar.sky.coordinates import words as coordinate_words
from plumbstar.sky.lists import towns
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.ground import same_place

DAY_S = 86400.0


def take_gps(e: Evening, fix: GpsFix) -> None:
    """Its place, where no site is known, and its time. A site that is known is kept."""
    _hear(e, fix)
    _take_place(e, fix.site())
    _take_time(e, fix)


def _hear(e: Evening, fix: GpsFix) -> None:
    """Whatever is believed of it below: by its time and place the Sun may be up."""
    if e.timekeeping is not None:
        clock = e.timekeeping.clock
        e.sun_question.hear("gps", "", fix.zero + clock.steady(), clock.monotonic())
        e.sun_question.hear_place(fix.site())


def _take_place(e: Evening, here: Site) -> None:
    if e.site is None:
        zone = towns.load().zone_at(here.lat_deg, here.lon_deg)
        e.preparing.set_site(replace(here, time_zone=zone))
        e.messages.say(f"The site is where the GPS says: {_where(here)}.", "info")
    elif not same_place(here, e.site):
        e.messages.say(
            f"The GPS says that you stand at {_where(here)}, which is not the site in "
            "use. The site is kept; change it under Prepare if the GPS is right.",
            "problem",
        )


def _take_time(e: Evening, fix: GpsFix) -> None:
    timekeeping = e.timekeeping
    if timekeeping is None or timekeeping.clock.rehearsal:
        return
    clock = timekeeping.clock
    unix, monotonic = fix.zero + clock.steady(), clock.monotonic()
    off = unix - clock.at(monotonic).to_unix()
    if abs(off) < clock_check.MATTERS_S:
        return
    if fix.turns and abs(off) > DAY_S and not timekeeping.unknown:
        e.messages.say(
            f"The GPS says that it is {Instant.from_unix(unix).iso()}, and this computer another "
            "day. The GPS has begun its count of weeks anew, so its date may be wrong: the "
            "computer's time is kept.",
            "problem",
        )
        return
    e.clock_setting.changed(timekeeping.take(monotonic, unix, "gps"))


def _where(s: Site) -> str:
    return coordinate_words(s.lat_deg, s.lon_deg, s.elevation_m)
