"""``plumbstar simulate``: a telescope with hidden faults and an encoder board, to practise on."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import re
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click
import numpy as np

from plumbstar import kit as kits
from plumbstar.commands.closed import check_options, controller_on
from plumbstar.commands.closed import run as run_closed
from plumbstar.commands.output import print_json
from plumbstar.contract.answers.running import SimulateReport
from plumbstar.errors import UserError
from plumbstar.kit.edit import with_keys
from plumbstar.mount.priors import Priors
from plumbstar.simulate import hidden
from plumbstar.simulate.board import Shape
from plumbstar.simulate.closed import Favoured
from plumbstar.simulate.mounts import draw_terms
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.simulate.telescope import SimulatedTelescope
from plumbstar.text import files
from plumbstar.units import Array

# What a terminal sends for the arrows, alone and with shift: (push right, push up) in steps.
_ARROWS = {
    "\x1b[C": (1.0, 0.0),
    "\x1b[D": (-1.0, 0.0),
    "\x1b[A": (0.0, 1.0),
    "\x1b[B": (0.0, -1.0),
}
FINE_DEG, COARSE_DEG = 0.25, 5.0
_KEY = re.compile(r"\x1b\[1;2[A-D]|\x1b\[[A-D]|.", re.DOTALL)


def pushes(typed: str) -> list[tuple[float, float] | None]:
    """The pushes, degrees right and up, that key strokes ask for; None is 'q' or control-C."""
    out: list[tuple[float, float] | None] = []
    for key in _KEY.findall(typed):
        coarse = key.startswith("\x1b[1;2")
        step = COARSE_DEG if coarse else FINE_DEG
        arrow = _ARROWS.get("\x1b[" + key[-1] if coarse else key)
        if arrow is not None:
            out.append((arrow[0] * step, arrow[1] * step))
        elif key in ("q", "\x03"):
            out.append(None)
    return out


@contextlib.contextmanager
def _keys(on_key: Callable[[str], None]) -> Iterator[bool]:
    """Single key strokes from the terminal while inside. Yields False if there is none."""
    try:
        import termios
        import tty

        fd = sys.stdin.fileno()
        before = termios.tcgetattr(fd)
    except (ImportError, OSError, ValueError):  # Windows, a pipe, no standard input at all
        yield False
        return
    except termios.error:
        yield False
        return
    loop = asyncio.get_running_loop()
    try:
        tty.setcbreak(fd)
        loop.add_reader(fd, lambda: on_key(os.read(fd, 256).decode("utf-8", "replace")))
        yield True
    finally:
        loop.remove_reader(fd)
        termios.tcsetattr(fd, termios.TCSADRAIN, before)


def connection_text(kit: kits.Kit) -> str:
    """The [connection] table of a kit, as TOML, without the keys that are at their default."""
    c, usual = kit.connection, kits.Connection()
    lines = ["[connection]"]
    for name in c.__struct_fields__:
        value = getattr(c, name)
        if value != getattr(usual, name):
            # JSON's strings, numbers and booleans are TOML's too.
            lines.append(f"{name} = {json.dumps(value)}")
    return "\n".join(lines) + "\n"


def with_connection(kit_text: str, table: str) -> str:
    """Kit text with its [connection] table replaced by ``table``, all else as it was."""
    body = re.sub(r"(?m)^\[connection\].*\n(?:(?!\[).*(?:\n|\Z))*", "", kit_text)
    return body.rstrip() + "\n\n" + table


def with_ticks(kit_text: str, kit: kits.Kit) -> str:
    """Kit text of circles read by eye, with the counts a turn of the board that stands in."""
    for axis, circle in (("[azimuth]", kit.azimuth), ("[altitude]", kit.altitude)):
        kit_text = with_keys(kit_text, axis, {"ticks_per_turn": circle.ticks_per_turn})
    return kit_text


def with_counts_from_zero(kit_text: str) -> str:
    """Kit text that says: switched on with the tube on the stop, the encoders count from there."""
    key = "counts_from_zero = true\n"
    body = re.sub(r"(?m)^counts_from_zero\b.*\n", "", kit_text)
    found = re.search(r"(?m)^\[stop\].*\n", body)
    if found is None:
        return f"{body.rstrip()}\n\n[stop]\n{key}"
    return body[: found.end()] + key + body[found.end() :]


def faults(
    kit: kits.Kit, *, demo: bool = False, seed: int | None = None, mount_path: Path | None = None
) -> Array:
    """The hidden terms (12,), radians, that the options ask for; the demo's if none is given.

    Raises :class:`UserError` if more than one is given or the file cannot be read.
    """
    if sum([demo, seed is not None, mount_path is not None]) > 1:
        raise UserError(
            "Only one of --demo, --seed and --mount may be given", "", "Leave out the others"
        )
    if mount_path is not None:
        return hidden.load(mount_path)
    if seed is not None:
        return draw_terms(Priors.from_kit(kit), np.random.default_rng(seed))
    return thornback_ridge().hidden


@click.command()
@click.option(
    "--kit",
    "kit_path",
    type=click.Path(path_type=Path),
    help="Kit that the simulated encoders follow. Default: the demo's kit.",
)
@click.option("--demo", is_flag=True, help="The demo's hidden faults (the default).")
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    help="Random faults of the size that the kit expects; any number.",
)
@click.option(
    "--mount",
    "mount_path",
    type=click.Path(path_type=Path),
    help="Faults from a TOML or JSON file of mount terms, as altitude_zero_deg = 0.9.",
)
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address at which the encoders answer."
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="Their TCP port; 0: any free one."
)
@click.option(
    "--control-port",
    type=click.IntRange(0, 65535),
    default=0,
    help="TCP port for scripts that move the tube; 0: any free one.",
)
@click.option(
    "--link",
    type=click.Path(path_type=Path),
    help="Make the serial port appear at this path (not on Windows).",
)
@click.option("--no-serial", is_flag=True, help="No serial port, TCP only.")
@click.option(
    "--line-end", default="\\r\\n", show_default=True, help="What ends each line; may be empty."
)
@click.option(
    "--bits",
    type=click.Choice(["0", "16", "24", "32"]),
    default="0",
    help="Size of the counter; 0: it never wraps.",
)
@click.option("--unsigned", is_flag=True, help="The counter shows no negative numbers.")
@click.option("--wraps-each-turn", is_flag=True, help="The count starts again each turn.")
@click.option("--from-zero", is_flag=True, help="Counts start at zero on the upright stop.")
@click.option(
    "--hand-speed", default=15.0, show_default=True, help="Fastest push, degrees a second."
)
@click.option(
    "--write-kit", type=click.Path(path_type=Path), help="Write a kit file that connects to it."
)
@click.option(
    "--controller",
    "closed",
    is_flag=True,
    help="A closed controller in place of the board: its display here, orders typed; --port is its "
    "page's.",
)
@click.option(
    "--sharing",
    type=click.Choice(["first", "halved", "second", "between"]),
    help="With --controller: which star it brings out exactly. Default: hidden.",
)
@click.option(
    "--clock/--no-clock",
    "clock",
    default=None,
    help="With --controller: whether it allows for the time between its stars. Default: hidden.",
)
@click.option(
    "--site", "site_text", metavar="PLACE", help="With --controller: where it stands, and"
)
@click.option("--utc", "utc_text", metavar="T", help="when. Default: the demo's evening.")
@click.option("--json", "as_json", is_flag=True, help="Print where to connect as one JSON object.")
@click.pass_context
def command(
    context: click.Context,
    kit_path: Path | None,
    demo: bool,
    seed: int | None,
    mount_path: Path | None,
    host: str,
    port: int,
    control_port: int,
    link: Path | None,
    no_serial: bool,
    line_end: str,
    bits: str,
    unsigned: bool,
    wraps_each_turn: bool,
    from_zero: bool,
    hand_speed: float,
    write_kit: Path | None,
    closed: bool,
    sharing: Favoured | None,
    clock: bool | None,
    site_text: str | None,
    utc_text: str | None,
    as_json: bool,
) -> None:
    """A simulated telescope: push it with the arrow keys, or let a script drive it.

    It runs until you press q or control-C. Shift with an arrow pushes further.
    """
    if not 1.0 <= hand_speed <= 360.0:
        raise UserError(f"--hand-speed {hand_speed:g}", "1 to 360 degrees/s", "Correct it")
    kit_text = kits.example_text() if kit_path is None else None
    kit = kits.example() if kit_path is None else kits.load(kit_path)
    terms = faults(kit, demo=demo, seed=seed, mount_path=mount_path)
    check_options(context, closed)
    if kit_path is not None and write_kit is not None:
        kit_text = files.read_text(kit_path, "the kit file")
    if closed:
        tube = controller_on(terms, kit, seed or 1, sharing, clock, site_text, utc_text)
        run_closed(tube, kit_text or "", port, write_kit, as_json)
        return
    sim = SimulatedTelescope(
        kit,
        terms,
        shape=Shape(
            line_end=line_end.replace("\\r", "\r").replace("\\n", "\n"),
            bits=int(bits),  # type: ignore[arg-type]
            signed=not unsigned,
            wraps_each_turn=wraps_each_turn,
            zero_at_power_on=from_zero,
        ),
        host=host,
        port=port,
        control_port=control_port,
        pty=not no_serial and sys.platform != "win32",
        link=None if no_serial else link,
        hand_deg_s=hand_speed,
        seed=seed or 1,
    )
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(
            _run(
                sim,
                as_json=as_json,
                kit_text=kit_text or "",
                write_kit=write_kit,
                from_zero=from_zero,
            )
        )


async def _run(
    sim: SimulatedTelescope,
    *,
    as_json: bool,
    kit_text: str,
    write_kit: Path | None,
    from_zero: bool,
) -> None:
    done = asyncio.Event()
    loop = asyncio.get_running_loop()
    with contextlib.suppress(NotImplementedError):  # Windows
        for name in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(name, done.set)

    def on_key(typed: str) -> None:
        for push in pushes(typed):
            if push is None:
                done.set()
            else:
                sim.push(*push)

    async with sim:
        table = connection_text(sim.kit("tcp"))
        if write_kit is not None:
            text = with_ticks(with_connection(kit_text, table), sim.kit("tcp"))
            _write(write_kit, with_counts_from_zero(text) if from_zero else text)
        report = SimulateReport(
            host=sim.connection("tcp").host,
            port=sim.port,
            control_port=sim.control_port,
            device=sim.device,
            kit=str(write_kit) if write_kit is not None else "",
        )
        if as_json:
            print_json(report)
            await done.wait()
            return
        print(f"The telescope stands on its upright stop. Put this into your kit:\n\n{table}")
        if from_zero:
            print(
                "and, since the board counts from zero there:\n\n[stop]\ncounts_from_zero = true\n"
            )
        if sim.device:
            print(f"or, as a serial port:\n\n{connection_text(sim.kit('serial'))}")
        print(f"Scripts: JSON lines to 127.0.0.1 port {sim.control_port} (docs/encoders.md).")
        if report.host not in ("127.0.0.1", "localhost", "::1"):
            print("The board can be read by anyone on this network, as --host asked.")
        with _keys(on_key) as has_keys:
            if has_keys:
                print("Arrow keys push the tube, shift with an arrow further; q ends.", flush=True)
                show = asyncio.create_task(_show(sim))
                await done.wait()
                show.cancel()
                print()
            else:
                print("Control-C ends.", flush=True)
                await done.wait()


async def _show(sim: SimulatedTelescope) -> None:
    """One line that follows the tube: what its circles say, never where it truly points."""
    while True:
        w = sim.where()
        print(
            f"\r\x1b[K  azimuth {w['az_reading_deg']:8.2f} deg   altitude"
            f" {w['alt_reading_deg']:6.2f} deg   counts {w['az_count']} {w['alt_count']}",
            end="",
            flush=True,
        )
        await asyncio.sleep(0.1)


def _write(path: Path, text: str) -> None:
    kits.loads(text, str(path))  # never leave a kit behind that cannot be read
    files.write(path, text, "the kit file")
