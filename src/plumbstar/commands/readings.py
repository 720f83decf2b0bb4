"""``plumbstar readings``: what the encoders say now, to check the wiring and count a turn."""

from __future__ import annotations

import asyncio
import contextlib
import sys
from pathlib import Path

import click

from plumbstar import kit as kits
from plumbstar.commands.output import print_json, say
from plumbstar.contract.answers.running import ReadingReport
from plumbstar.encoders.reading import Reading
from plumbstar.encoders.source import Source
from plumbstar.encoders.typed import from_circles, read_angle
from plumbstar.errors import UserError


def hints(kit: kits.Kit, first: Reading, last: Reading) -> list[str]:
    """What the change from the first reading to the last says about ticks and direction."""
    out: list[str] = []
    (az0, alt0), (az1, alt1) = first.degrees(), last.degrees()
    for axis, circle, change, moved, other, way in (
        ("azimuth", kit.azimuth, az1 - az0, "turned", "left", "right"),
        ("altitude", kit.altitude, alt1 - alt0, "moved the tube", "down", "up"),
    ):
        ticks = round(abs(change) * circle.ticks_per_turn / 360.0)
        if ticks < 3:
            out.append(f"{axis}: the count has not changed; if you moved it, look at its cable.")
            continue
        toward, back = (way, other) if change > 0 else (other, way)
        out.append(
            f"{axis}: the count changed by {ticks}, which the kit takes as {abs(change):.1f} deg"
            f" {toward}. If you {moved} {back}, set reversed ="
            f" {'false' if circle.reversed else 'true'} under [{axis}]."
        )
        if abs(change) > 300.0:
            out.append(
                f"  If that was once round to the same mark: ticks_per_turn = {ticks}"
                f" (the kit says {circle.ticks_per_turn})."
            )
    return out


def line(reading: Reading) -> str:
    """One reading on one line."""
    words = f"   [{reading.state}]" + (f" {reading.problem}" if reading.problem else "")
    if reading.az_deg is None or reading.alt_deg is None:
        return f"no reading{words}"
    counts = "" if reading.az_count is None else f"   counts {reading.az_count} {reading.alt_count}"
    return f"azimuth {reading.az_deg:8.2f} deg   altitude {reading.alt_deg:6.2f} deg{counts}{words}"


@click.command()
@click.option(
    "--kit", "kit_path", required=True, type=click.Path(path_type=Path), help="The kit file."
)
@click.option(
    "--seconds",
    type=float,
    help="Stop after so many seconds. With --json: wait so long for a reading; default 5.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one reading as one JSON object.")
@click.argument("typed", nargs=-1)
def command(kit_path: Path, seconds: float | None, as_json: bool, typed: tuple[str, ...]) -> None:
    """Show what the encoders say, until control-C; then what to put into the kit.

    Turn the mount once round to the same mark to learn its ticks per turn. With a kit for typed
    readings give the two, azimuth first, to see how they are understood:
    plumbstar readings --kit my.toml 123.4 45.5
    """
    kit = kits.load(kit_path)
    if seconds is not None and not seconds > 0:  # also true for nan
        raise UserError(f"--seconds {seconds:g}", "more than 0", "For example --seconds 20")
    if kit.connection.kind == "controller":
        raise UserError(
            "This kit's encoders are in a closed controller, which shows no readings",
            "",
            "Open the pages (`plumbstar serve`): they need only what its display shows",
        )
    if not kit.connection.heard:
        if len(typed) != 2:
            raise UserError(
                "This kit has no encoders (connection.kind = 'typed')",
                "",
                "Add the two readings to the command, azimuth first, or describe the encoders in "
                "the kit (docs/encoders.md)",
            )
        az, alt = from_circles(
            kit, read_angle(typed[0], "azimuth"), read_angle(typed[1], "altitude")
        )
        reading = Reading(az, alt, state="typed")
        say(as_json, _answer(reading), line(reading))
        return
    if typed:
        raise UserError(
            "This kit has encoders, so no readings are typed",
            "",
            "Leave them out, or use a kit with connection.kind = 'typed'",
        )
    if as_json:
        reading = asyncio.run(_one(kit, 5.0 if seconds is None else seconds))
        print_json(_answer(reading))
        return
    seen: list[Reading] = []
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_follow(kit, seconds, seen))
    print()
    for hint in hints(kit, seen[0], seen[-1]) if seen else ["Nothing was heard."]:
        print(hint)


def _answer(r: Reading) -> ReadingReport:
    return ReadingReport(
        az_reading_deg=r.az_deg,
        alt_reading_deg=r.alt_deg,
        az_count=r.az_count,
        alt_count=r.alt_count,
        at_unix_s=r.at_unix,
        state=r.state,
        slip=r.slip,
        problem=r.problem,
    )


async def _one(kit: kits.Kit, seconds: float) -> Reading:
    async with Source(kit) as source:
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                async for reading in source.subscribe():
                    if reading.usable:
                        return reading
        return source.latest


async def _follow(kit: kits.Kit, seconds: float | None, seen: list[Reading]) -> None:
    """Print readings; ``seen`` gets the first live one and the newest."""
    on_terminal = sys.stdout.isatty()
    pause, before = (0.1, "\r\x1b[K") if on_terminal else (1.0, "")
    async with Source(kit) as source:
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                async for reading in source.subscribe():
                    if reading.usable:
                        seen[1 if seen else 0 :] = [reading]
                    print(before + line(reading), end="" if on_terminal else "\n", flush=True)
                    await asyncio.sleep(pause)
