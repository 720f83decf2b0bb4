"""The simulated closed controller at a terminal: its display is drawn, orders are typed."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import click

from plumbstar import kit as kits
from plumbstar.clock.clock import EveningClock
from plumbstar.commands import siting
from plumbstar.commands.output import print_json
from plumbstar.contract.answers.running import ClosedReport
from plumbstar.errors import UserError
from plumbstar.kit import Controller, edit
from plumbstar.simulate.closed import Favoured
from plumbstar.simulate.closed_list import spelt
from plumbstar.simulate.closed_page import ControllerPage
from plumbstar.simulate.closed_telescope import ClosedTelescope, hidden_ways
from plumbstar.simulate.closed_terminal import drawn, help_text, order_of
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import files
from plumbstar.units import Array

#: Options of a board, and of a closed controller: either's mean nothing to the other.
_OF_A_BOARD = (
    "host", "control_port", "link", "no_serial", "line_end", "bits", "unsigned", "wraps_each_turn",
    "from_zero", "hand_speed",
)  # fmt: skip
_OF_A_CONTROLLER = ("sharing", "clock", "site_text", "utc_text")


def check_options(context: click.Context, closed: bool) -> None:
    """Raises :class:`UserError` for an option that would do nothing."""
    typed = click.core.ParameterSource.COMMANDLINE
    for param in context.command.params:
        if context.get_parameter_source(param.name or "") != typed:
            continue
        if closed and param.name in _OF_A_BOARD:
            raise UserError(
                f"{param.opts[0]} with --controller",
                "options of a closed controller, which has no board",
                "Leave one of the two out",
            )
        if not closed and param.name in _OF_A_CONTROLLER:
            raise UserError(
                f"{param.opts[0]} without --controller", "", "Add --controller, or leave it out"
            )


def controller_on(
    terms: Array,
    kit: kits.Kit,
    seed: int,
    sharing: Favoured | None,
    clock: bool | None,
    site_text: str | None,
    utc_text: str | None,
) -> ClosedTelescope:
    """A closed controller on that mount; where and when are the demo's unless said."""
    scene = thornback_ridge()
    site = siting.find(site_text)[0] if site_text else scene.site
    start = Instant.parse(utc_text) if utc_text else scene.start
    return telescope(site, start, terms, kit, seed, sharing, clock)


def telescope(
    site: Site,
    start: Instant | None,
    terms: Array,
    kit: kits.Kit,
    seed: int,
    sharing: Favoured | None = None,
    clock: bool | None = None,
) -> ClosedTelescope:
    """With the stars of this kit's list, in spellings and with coordinates of its own, and the
    kit's figures; what is not said is drawn by the seed.

    Raises :class:`UserError` for a list of fewer than two stars.
    """
    drawn_way, drawn_clock = hidden_ways(seed)
    known = kit.controller.stars
    if len(known) == 1:
        raise UserError("a controller's list of one star", "two or more", "Add to the kit's list")
    # The kit says which; how it spells them and where it has them is its own affair.
    told = {"stars": spelt(known)} if known else {}
    return ClosedTelescope(
        site,
        EveningClock(start).now,
        terms,
        favoured=sharing or drawn_way,
        clock=drawn_clock if clock is None else clock,
        decimals=kit.controller.decimals,
        centring_arcmin=kit.centring_arcmin,
        seed=seed,
        field_deg=kit.true_field_deg(kit.finder_eyepiece()),
        sign=kit.controller.sign_factor or 1,
        **told,
    )


def kit_beside(kit_text: str, tube: ClosedTelescope) -> str:
    """The kit of somebody who has ticked off the list of this controller, and knows no more."""
    box = Controller(
        # The pages' names: its own list may spell them otherwise.
        stars=tuple(find_target(s).label for s in tube.box.stars),
        clock="unknown",
        sign="measured-minus-true",
        decimals=tube.box.decimals,
    )
    return edit.with_controller(kit_text, kits.loads(kit_text), box)


def run(
    tube: ClosedTelescope, kit_text: str, port: int, write_kit: Path | None, as_json: bool
) -> None:
    """Until q, the end of what is typed, or control-C."""
    page = ControllerPage(tube, port)
    if write_kit is not None:
        text = kit_beside(kit_text, tube)
        kits.loads(text, str(write_kit))  # never leave a kit behind that cannot be read
        files.write(write_kit, text, "the kit file")
    page.start()
    url = f"http://127.0.0.1:{page.port}/"
    try:
        with contextlib.suppress(KeyboardInterrupt):
            if as_json:
                kit = str(write_kit) if write_kit is not None else ""
                print_json(ClosedReport(url=url, port=page.port, stars=tube.box.stars, kit=kit))
                while True:
                    time.sleep(3600)
            click.echo(f"A telescope with a closed controller. Its page: {url}\n\n{help_text()}\n")
            if typed_to(page, click.echo):
                truth = page.truth()
                said = truth_words(truth.favoured, truth.clock, truth.altitude_zero_deg)
                click.echo(f"What was hidden: {said}")
    finally:
        page.close()


def typed_to(page: ControllerPage, echo: Callable[[str], None]) -> bool:
    """Do what is typed and draw the display after each, until q or the end. Whether any was."""
    echo(drawn(page.look()))
    any_typed = False
    for line in _lines():
        word = line.strip().casefold()
        if word in ("q", "quit"):
            break
        any_typed = True
        if word == "list":
            echo(", ".join(page.telescope.box.stars))
            continue
        try:
            echo(drawn(page.obey(order_of(line))))
        except UserError as e:
            echo(f"  {e}\n{help_text()}")
    return any_typed


def typed_beside(page: ControllerPage) -> None:
    """The same on a thread of its own, which never holds up the end of the program."""
    threading.Thread(target=typed_to, args=(page, click.echo), daemon=True).start()


def _lines() -> Iterator[str]:
    """What is typed, line by line. Read without Python's own buffer: a thread that waits in that
    would hold its lock when the program ends."""
    waiting = b""
    while True:
        try:
            more = os.read(sys.stdin.fileno(), 4096)
        except (OSError, ValueError, AttributeError):  # no standard input at all
            return
        if not more:
            if waiting:
                yield waiting.decode("utf-8", "replace")
            return
        *whole, waiting = (waiting + more).split(b"\n")
        for line in whole:
            yield line.decode("utf-8", "replace")


def truth_words(favoured: str, clock: bool, stop_deg: float) -> str:
    """What was hidden, for the end."""
    ways = {
        "first": "brings its first star out exactly",
        "halved": "halves the contradiction between its two stars",
        "second": "brings its second star out exactly",
        "between": "comes out exactly nearer to its first star than halfway",
    }
    has = "has a clock" if clock else "has no clock"
    side = "low" if stop_deg > 0 else "high"
    return f"the controller {ways[favoured]} and {has}; the stop reads {abs(stop_deg):.2f}° {side}."
