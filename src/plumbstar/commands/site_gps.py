"""``plumbstar site gps``: place and time from a satellite receiver, and the clock beside it."""

from __future__ import annotations

import time

import click

from plumbstar.clock.gps import GpsFix, Receiver
from plumbstar.clock.gps_port import listen, open_port
from plumbstar.clock.say import against_computer, gps_notes, no_fix_yet
from plumbstar.commands.options import json_option
from plumbstar.commands.output import say
from plumbstar.contract.answers.sky import GpsReport
from plumbstar.sky import coordinates
from plumbstar.sky.times import Instant


@click.command("gps")
@click.argument("port")
@click.option(
    "--seconds", type=click.FloatRange(1, 3600), default=120.0, show_default=True,
    help="Wait so long for a fix.",
)  # fmt: skip
@json_option
def command(port: str, seconds: float, as_json: bool) -> None:
    """Ask the GPS receiver at PORT (as /dev/ttyUSB1, or /dev/ttyUSB1@4800) for place and time."""
    from plumbstar.clock.clock import steady
    from plumbstar.web.evening.timekeeping import not_before

    receiver = Receiver(not_before())
    with open_port(port) as source:
        fix = listen(source, receiver, steady, seconds)
    if fix is None:
        raise no_fix_yet(receiver).within(f"No fix came in {seconds:g} s")
    off = fix.zero + steady() - time.time()
    answer, lines = _told(fix, Instant.from_unix(fix.zero + steady()), off)
    say(as_json, answer, *lines)


def _told(fix: GpsFix, now: Instant, off_s: float) -> tuple[GpsReport, list[str]]:
    site = fix.site()
    lat, lon, height = site.lat_deg, site.lon_deg, site.elevation_m
    heard = f", from {fix.satellites} satellites" if fix.satellites else ""
    lines = [
        f"{coordinates.words(lat, lon, height, 5)}{heard}",
        f"It is {now.iso()}. {against_computer(off_s)}",
        *gps_notes(fix),
        f'Keep it: plumbstar site add NAME "{lat},{lon},{height:.0f}"',
    ]
    answer = GpsReport(
        lat_deg=lat,
        lon_deg=lon,
        elevation_m=fix.elevation_m,
        satellites=fix.satellites,
        utc=now.iso(1),
        computer_behind_s=round(off_s, 1),
        week_turns=fix.turns,
    )
    return answer, lines
