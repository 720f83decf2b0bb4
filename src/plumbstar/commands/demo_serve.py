"""``plumbstar demo --serve``: the pages over a simulated telescope, the demo's or one's own."""

from __future__ import annotations

import json
import random
import signal
import socket
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import click
import numpy as np

from plumbstar import kit as kits
from plumbstar.choose.candidates import when_to_sight
from plumbstar.commands import closed
from plumbstar.commands.output import to_json
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Priors
from plumbstar.simulate.hidden import to_mapping
from plumbstar.simulate.mounts import draw_terms
from plumbstar.simulate.scenario import Scenario
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.text import files
from plumbstar.web.evening.ground import Ground


@dataclass(frozen=True)
class Served:
    """How the pages are served. ``kit_path``: a kit of one's own. ``back_port``: where the pages
    are that the rehearsal was begun from."""

    host: str
    port: int
    names: tuple[str, ...] = ()
    secure: bool = False
    as_json: bool = False
    kit_path: Path | None = None
    back_port: int | None = None

    @property
    def here(self) -> str:
        """The pages' address on this computer itself."""
        return f"{'https' if self.secure else 'http'}://127.0.0.1:{self.port}"


def own_evening(
    kit_path: Path, site_text: str, skyline_text: str, zone: str, zenith_mag: float | None = None
) -> Scenario:
    """One's own kit and site this evening, with faults drawn from what the kit expects."""
    kit = kits.load(kit_path)
    at = Site.parse(site_text)
    site = replace(at, name="Rehearsal", time_zone=zone, zenith_mag=zenith_mag)
    now = Instant.from_unix(time.time())
    rng = np.random.default_rng(random.SystemRandom().getrandbits(32))
    hidden = draw_terms(Priors.from_kit(kit), rng)
    skyline = Skyline.parse(skyline_text) if skyline_text else Skyline()
    return Scenario(site, when_to_sight(now, site), kit, skyline, hidden, (), zone)


def _book_of(scenario: Scenario, folder: Path) -> Path:
    """A new logbook that knows where the scenario's telescope stands."""
    path = folder / "demo.db"
    with Logbook.open(path) as book:
        ground = Ground(book)
        ground.set_site(replace(scenario.site, time_zone=scenario.time_zone))
        if scenario.skyline.points:
            ground.set_skyline(scenario.skyline.text())
    return path


def _free_port(host: str) -> int:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as s:
        s.bind((host, 0))
        return int(s.getsockname()[1])


def serve_live(scenario: Scenario, how: Served) -> None:
    """The pages over a simulated telescope, in another process, with a hand that obeys the page.

    Everything goes to a logbook of its own, thrown away at the end.
    """
    from plumbstar.commands.serve import command as serve
    from plumbstar.simulate.hand import PretendHand

    # The server raises the signal once more when it has stopped: the simulated telescope must not
    # be left behind by a plain end of the process.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    if how.port == 0:  # the hand must know it before the pages are up
        how = replace(how, port=_free_port(how.host))
    with tempfile.TemporaryDirectory(prefix="plumbstar-demo-") as folder:
        kit = Path(folder) / "kit.toml"
        mount_file = Path(folder) / "hidden.json"
        rehearsal = Path(folder) / "rehearsal.json"
        book = _book_of(scenario, Path(folder))
        hidden = to_mapping(scenario.hidden)
        files.write(mount_file, to_json(hidden))
        own = how.kit_path is not None
        by_eye = own and scenario.kit.connection.kind == "typed"
        telescope = subprocess.Popen(
            [
                sys.executable, "-m", "plumbstar", "simulate", "--json", "--no-serial",
                "--mount", str(mount_file), *(() if by_eye else ("--write-kit", str(kit))),
                *(("--kit", str(how.kit_path)) if own else ()),
                *(("--from-zero",) if scenario.kit.stop.counts_from_zero else ()),
            ],
            stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        try:
            assert telescope.stdout is not None
            said = json.loads(telescope.stdout.readline() or "{}")
            if "control_port" not in said:
                raise UserError(
                    "The simulated telescope did not start",
                    "",
                    "Try `plumbstar simulate` by itself",
                )
            control_port = int(said["control_port"])
            if by_eye:
                files.write(kit, files.read_text(str(how.kit_path), "the kit file"))
            told = {"hidden": hidden, "own_kit": own, "back_port": how.back_port}
            shown = {"tube_port": control_port, "circles": by_eye}
            files.write(rehearsal, to_json(told | shown))
            if not how.as_json:
                click.echo(
                    "A simulated telescope with hidden faults is connected, and a pretend hand "
                    "does what the page asks: choose stars, then Sight. Nothing is kept afterwards."
                )
            PretendHand(how.here, ("127.0.0.1", control_port)).start()
            serve.main(
                [
                    "--kit", str(kit), "--logbook", str(book), "--utc", scenario.start.iso(),
                    "--host", how.host, "--port", str(how.port), "--rehearsal", str(rehearsal),
                    *(x for name in how.names for x in ("--name", name)),
                    *(("--https",) if how.secure else ()),
                    *(("--json",) if how.as_json else ()),
                ],
                standalone_mode=False,
            )  # fmt: skip
        finally:
            telescope.terminate()
            telescope.wait(timeout=10)


def serve_beside(scenario: Scenario, seed: int, how: Served, controller_port: int) -> None:
    """The pages beside a simulated closed controller. Its display is on them, and unless it is a
    rehearsal of one's own it is drawn here and on a page of its own, too."""
    from plumbstar.commands.serve import command as serve
    from plumbstar.simulate.closed_page import ControllerPage
    from plumbstar.simulate.closed_terminal import help_text

    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    own = scenario.kit if how.kit_path is not None else None
    with tempfile.TemporaryDirectory(prefix="plumbstar-demo-") as folder:
        tube = closed.telescope(
            *(scenario.site, scenario.start, scenario.hidden, scenario.kit, seed),
            clock=own.controller.has_clock if own is not None else None,
        )
        kit = Path(folder) / "kit.toml"
        if how.kit_path is not None:
            files.write(kit, files.read_text(str(how.kit_path), "the kit file"))
        else:
            files.write(kit, closed.kit_beside(kits.example_text(), tube))
        page = ControllerPage(tube, controller_port)
        page.start()
        truth = page.truth()
        words = closed.truth_words(truth.favoured, truth.clock, truth.altitude_zero_deg)
        rehearsal = Path(folder) / "rehearsal.json"
        book = _book_of(scenario, Path(folder))
        files.write(
            rehearsal,
            to_json(
                {
                    "hidden": to_mapping(scenario.hidden),
                    "own_kit": own is not None,
                    "back_port": how.back_port,
                    "controller_port": page.port,
                    "controller_words": words,
                }
            ),
        )
        if not how.as_json:
            click.echo(
                "A telescope with hidden faults and a closed controller stands ready. Its display "
                "and your hands are on the pages; here, too, and at "
                f"http://127.0.0.1:{page.port}/. Nothing is kept afterwards.\n\n{help_text()}\n"
            )
            closed.typed_beside(page)
        try:
            serve.main(
                [
                    "--kit", str(kit), "--logbook", str(book), "--utc", scenario.start.iso(),
                    "--host", how.host, "--port", str(how.port), "--no-encoders",
                    "--rehearsal", str(rehearsal),
                    *(x for name in how.names for x in ("--name", name)),
                    *(("--https",) if how.secure else ()),
                    *(("--json",) if how.as_json else ()),
                ],
                standalone_mode=False,
            )  # fmt: skip
        finally:
            page.close()
            if not how.as_json:
                click.echo(f"What was hidden: {words}")
