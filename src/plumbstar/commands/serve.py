"""``plumbstar serve``: the pages for the phone at the telescope."""

from __future__ import annotations

import datetime as dt
import logging
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click
import msgspec

from plumbstar import kit as kits
from plumbstar.commands import siting
from plumbstar.commands.output import print_json
from plumbstar.commands.serve_beside import (
    alpaca_server,
    bind,
    for_this_computer,
    indi_server,
    program_options,
)
from plumbstar.commands.serve_greeting import greet, say_that_it_asks
from plumbstar.commands.serve_loop import ask_about_the_copy, run
from plumbstar.contract.answers.running import DeviceReport, IndiReport, ServeReport
from plumbstar.contract.picture import PairingRecord
from plumbstar.sky.times import Instant
from plumbstar.text import files
from plumbstar.web.door.addresses import PORT, own_addresses
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.door.sessions import Sessions

if TYPE_CHECKING:
    from plumbstar.sky.site import Site
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.live.recorder import Recorder
    from plumbstar.web.live.rehearsing import Rehearsing
    from plumbstar.web.views.hidden import HiddenTelescope


@click.command("serve")
# Written out here: the module of the shared options loads the arithmetic, and this command is to
# answer in well under a second.
@click.option(
    "--site",
    "site_text",
    metavar="PLACE",
    help="Where the telescope stands: coordinates, or a kept site. Default: the last.",
)
@click.option(
    "--kit", "kit_path", metavar="KIT.toml", help="Your kit file. Default: the one used last."
)
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address to listen on; 0.0.0.0 for all."
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=PORT,
    show_default=True,
    help="Port of the pages.",
)
@click.option(
    "--name", "names", multiple=True, help="Another name by which phones may call this computer."
)
@click.option("--logbook", metavar="PATH", help="Default: the logbook in your data directory.")
@click.option(
    "--https",
    "secure",
    is_flag=True,
    help="Serve over https, with a certificate made on this computer.",
)
@click.option(
    "--keep-code",
    is_flag=True,
    help="Pair by the same code at every start, for a computer without a screen.",
)
@click.option(
    "--no-encoders", is_flag=True, help="Type the readings, whatever encoders the kit has."
)
@click.option(
    "--utc", "utc_text", metavar="T", help="Start the evening's clock at T; it runs on from there."
)
@click.option("--gps", "gps_text", metavar="PORT", help="Time and place from a GPS receiver.")
@program_options
@click.option(
    "--record",
    "record_path",
    metavar="FILE",
    help="Record the board's bytes and the presses into a new file (at most 64 MB), for replay.",
)
@click.option(
    "--write-unit",
    "unit_path",
    metavar="FILE",
    help="Serve nothing; write a systemd unit that starts the pages so with the computer.",
)
@click.option("--rehearsal", "rehearsal_path", hidden=True)
@click.option("--json", "as_json", is_flag=True, help="Report the address as one JSON object.")
def command(
    site_text: str | None,
    kit_path: str | None,
    host: str,
    port: int,
    names: tuple[str, ...],
    logbook: str | None,
    secure: bool,
    keep_code: bool,
    no_encoders: bool,
    utc_text: str | None,
    gps_text: str | None,
    alpaca: bool,
    alpaca_port: int,
    alpaca_allow: tuple[str, ...],
    alpaca_slew_sets_target: bool,
    alpaca_discovery_port: int,
    indi: bool,
    indi_port: int,
    indi_allow: tuple[str, ...],
    indi_slew_sets_target: bool,
    record_path: str | None,
    unit_path: str | None,
    rehearsal_path: str | None,
    as_json: bool,
) -> None:
    """Serve the pages: choose stars, sight them, see the fix, push to targets.

    Everything is kept in the logbook. However it was stopped, the next start goes on from there.
    """
    kit_text = _kit_text(kit_path)
    if unit_path is not None:
        from plumbstar.commands import start_unit

        start_unit.write(unit_path, click.get_current_context(), os.environ)
        return
    start = Instant.parse(utc_text) if utc_text else None
    sock = bind(host, port)
    port = int(sock.getsockname()[1])
    alpaca_device = alpaca_server(
        *(host, alpaca, alpaca_port, alpaca_allow, alpaca_slew_sets_target, alpaca_discovery_port)
    )
    indi_device = indi_server(host, indi, indi_port, indi_allow, indi_slew_sets_target)
    beside = [d for d in (alpaca_device, indi_device) if d is not None]
    from plumbstar.web.door.secrets_dir import kept_code, session_key

    pairing = Pairing(kept_code() if keep_code else None)

    gate = Gate(Gate.names_for(host, names), port, secure, Sessions(session_key()))
    scheme = "https" if secure else "http"
    urls = [f"{scheme}://{_bracketed(a)}:{port}/" for a in _reach(host, names)]
    open_net = not for_this_computer(host)

    from plumbstar.clock.clock import EveningClock
    from plumbstar.logbook import Logbook, path_of, trouble_beside_copy
    from plumbstar.web.app import make_app
    from plumbstar.web.live.station import Station

    clock = EveningClock(start)
    path = path_of(logbook)
    asked = trouble_beside_copy(path)

    def place_and_book() -> tuple[Site | None, Logbook]:
        site = siting.find(site_text, logbook)[0] if site_text else None
        return site, Logbook.open(path, clock=clock.real_unix)

    # Here, so that a bad file or an unknown site is told before anything is served; where the page
    # has to ask first which logbook it is to be, once that is answered.
    held = place_and_book() if asked is None else None

    def make_evening() -> Evening:
        from plumbstar.web.evening.evening import Evening
        from plumbstar.web.evening.timekeeping import Timekeeping

        assert held is not None
        site, book = held
        timekeeping = Timekeeping(book, clock)
        return Evening(
            *(book, clock.now),
            site=site,
            kit_text=kit_text,
            encoders=not no_encoders,
            timekeeping=timekeeping,
        )

    station = Station(
        make_evening,
        clock,
        pairing=PairingRecord(url=urls[0], secure=secure),
        recorder=_recorder(record_path),
        hidden=_hidden(rehearsal_path),
        rehearsing=_rehearsing(host, names, secure, port),
    )
    if gps_text is not None:
        from plumbstar.clock.gps_port import open_port
        from plumbstar.web.live.gps_listener import GpsListener

        # Opened here, so that a wrong port is told before anything is served.
        receiver = GpsListener(open_port(gps_text), lambda: open_port(gps_text), clock)
        station.beside.append(receiver.run)
    app = make_app(station, gate, pairing)
    options: dict[str, str] = {}
    fingerprint = ""
    if secure:
        from plumbstar.web.door.https import certificate_for

        made = certificate_for(gate.names, dt.datetime.now(dt.UTC))
        options = {"ssl_keyfile": str(made.key), "ssl_certfile": str(made.certificate)}
        fingerprint = made.fingerprint
    logging.basicConfig(level=logging.WARNING, format="plumbstar: %(message)s")
    if as_json:
        alpaca_report = alpaca_device and DeviceReport(
            port=alpaca_device.port,
            discovery_port=alpaca_discovery_port if alpaca_device.questions else None,
            allow=alpaca_allow,
        )
        indi_report = indi_device and IndiReport(port=indi_device.port, allow=indi_allow)
        print_json(
            ServeReport(
                url=urls[0],
                urls=tuple(urls),
                code=pairing.code if open_net else None,
                logbook=str(path),
                fingerprint_sha256=fingerprint or None,
                alpaca=alpaca_report or msgspec.UNSET,
                indi=indi_report or msgspec.UNSET,
            )
        )
    else:
        greet(
            *(urls, pairing if open_net else None, secure, fingerprint, str(path), start),
            *(alpaca_device, indi_device),
        )
    if asked is not None:
        say_that_it_asks(asked)
    sys.stdout.flush()
    if asked is not None:
        chosen = ask_about_the_copy(path, sock, options, gate, pairing)
        if chosen is None:
            return
        click.echo(chosen.words, err=True)
        held = place_and_book()
    run(app, station, sock, options, gate, beside)


def _kit_text(path: str | None) -> str | None:
    if path is None:
        return None
    kits.load(Path(path))  # says what is wrong with it, by file and key
    return files.read_text(path, "the kit file")


def _hidden(path: str | None) -> HiddenTelescope | None:
    """What is hidden in the telescope of a rehearsal."""
    if path is None:
        return None
    from plumbstar.web.views.hidden import HiddenTelescope

    return HiddenTelescope.load(Path(path))


def _rehearsing(host: str, names: tuple[str, ...], secure: bool, port: int) -> Rehearsing:
    """A rehearsal is reached as these pages are."""
    from plumbstar.web.live.rehearsing import Rehearsing

    named = tuple(x for name in names for x in ("--name", name))
    return Rehearsing(("--host", host, *named, *(("--https",) if secure else ())), port)


def _recorder(path: str | None) -> Recorder | None:
    """A new recording. Raises UserError."""
    if path is None:
        return None
    from plumbstar.web.live.recorder import Recorder

    click.echo(f"Recording into {path}: bytes of the board, presses, place and names.", err=True)
    return Recorder(Path(path))


def _reach(host: str, names: tuple[str, ...]) -> list[str]:
    """Addresses to print, the one that a phone should use first."""
    if host in ("0.0.0.0", "::"):
        return [*names, *own_addresses()] or ["127.0.0.1"]
    return [*names, host]


def _bracketed(address: str) -> str:
    return f"[{address}]" if ":" in address else address
