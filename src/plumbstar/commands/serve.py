"""``plumbstar serve``: the pages for the phone at the telescope."""

from __future__ import annotations

import datetime as dt
import logging
import os
import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click
import msgspec

from plumbstar import kit as kits
from plumbstar.commands import siting
from plumbstar.commands.output import print_json
from plumbstar.commands.serve_greeting import greet, say_that_it_asks
from plumbstar.commands.serve_loop import ask_about_the_copy, run
from plumbstar.contract.answers.running import DeviceReport, ServeReport
from plumbstar.contract.picture import PairingRecord
from plumbstar.errors import UserError
from plumbstar.sky.times import Instant
from plumbstar.text import files
from plumbstar.web.alpaca import discovery
from plumbstar.web.door.addresses import HOME, PORT, is_loopback, own_addresses
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.door.sessions import Sessions

if TYPE_CHECKING:
    from plumbstar.sky.site import Site
    from plumbstar.web.alpaca.serving import AlpacaServer
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.live.recorder import Recorder
    from plumbstar.web.live.rehearsing import Rehearsing
    from plumbstar.web.views.hidden import HiddenTelescope

ALPACA_PORT = 11111  # the one that programs of this standard usually offer (memory)


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
@click.option("--alpaca", is_flag=True, help="Be a telescope for charting software (ASCOM Alpaca).")
@click.option(
    "--alpaca-port",
    type=click.IntRange(0, 65535),
    default=ALPACA_PORT,
    show_default=True,
    help="Port of that telescope, plain HTTP.",
)
@click.option(
    "--alpaca-allow",
    multiple=True,
    metavar="WHO",
    help="Programs on other computers that may use it: an address, a network, or local. "
    "It has no password.",
)
@click.option(
    "--alpaca-slew-sets-target",
    is_flag=True,
    help="When such a program slews, take that as the target to push to.",
)
@click.option(
    "--alpaca-discovery-port",
    type=click.IntRange(0, 65535),
    default=discovery.PORT,
    show_default=True,
    help="UDP port at which programs look for it; 0: do not answer them.",
)
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
    sock = _bind(host, port)
    port = int(sock.getsockname()[1])
    beside = None
    if alpaca:
        beside = _beside(
            host, alpaca_port, alpaca_allow, alpaca_slew_sets_target, alpaca_discovery_port
        )
    elif (
        alpaca_allow
        or alpaca_slew_sets_target
        or (alpaca_port, alpaca_discovery_port) != (ALPACA_PORT, discovery.PORT)
    ):
        raise UserError(
            "An option of --alpaca was given without --alpaca itself",
            "",
            "Add --alpaca, or leave the option out",
        )
    from plumbstar.web.door.secrets_dir import kept_code, session_key

    pairing = Pairing(kept_code() if keep_code else None)

    gate = Gate(Gate.names_for(host, names), port, secure, Sessions(session_key()))
    scheme = "https" if secure else "http"
    urls = [f"{scheme}://{_bracketed(a)}:{port}/" for a in _reach(host, names)]
    open_net = not _for_this_computer(host)

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
        device = beside and DeviceReport(
            port=beside.port,
            discovery_port=alpaca_discovery_port if beside.questions else None,
            allow=tuple(alpaca_allow),
        )
        print_json(
            ServeReport(
                url=urls[0],
                urls=tuple(urls),
                code=pairing.code if open_net else None,
                logbook=str(path),
                fingerprint_sha256=fingerprint or None,
                alpaca=device or msgspec.UNSET,
            )
        )
    else:
        greet(urls, pairing if open_net else None, secure, fingerprint, str(path), start, beside)
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


def _beside(
    host: str, port: int, allow: tuple[str, ...], slew_sets_target: bool, discovery_port: int
) -> AlpacaServer:
    """The device's sockets: on this computer alone, unless others are allowed. Raises UserError."""
    from plumbstar.web.alpaca.serving import AlpacaServer
    from plumbstar.web.programs.allowed import Allowed

    allowed = Allowed.parse(allow, "--alpaca-allow")
    here = _for_this_computer(host)
    if allowed.networks and here:
        raise UserError(
            f"--alpaca-allow has no effect while the server listens at {host} only",
            "",
            "Add --host 0.0.0.0, or leave --alpaca-allow out",
        )
    sock = _bind(host if here or allowed.networks else "127.0.0.1", port, "--alpaca-port")
    questions = None
    if discovery_port:
        try:
            questions = discovery.bind(discovery_port)
        except OSError as e:
            click.echo(
                f"plumbstar: UDP port {discovery_port} cannot be used ({e.strerror}): other "
                "programs will not find the telescope by themselves; give them its port.",
                err=True,
            )
    return AlpacaServer(sock, questions, allowed, slew_sets_target)


def _bind(host: str, port: int, option: str = "--port") -> socket.socket:
    """A listening socket, taken before anything is printed. Raises UserError."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # TCP by name, not the default protocol 0: only then does asyncio switch Nagle's wait off for
    # what it accepts. With it each answer on a kept connection came 40 ms late, its body waiting
    # for the other side to acknowledge its head.
    sock = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform != "win32":
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind((host, port))
    except OSError as e:
        sock.close()
        raise UserError(
            f"The address {host} port {port} cannot be used ({e.strerror or e})",
            "",
            f"Is the server running already? Else choose another {option} or --host",
        ) from None
    return sock


def _for_this_computer(host: str) -> bool:
    """Whether nobody else can reach what listens there."""
    return is_loopback(host) or host in HOME


def _reach(host: str, names: tuple[str, ...]) -> list[str]:
    """Addresses to print, the one that a phone should use first."""
    if host in ("0.0.0.0", "::"):
        return [*names, *own_addresses()] or ["127.0.0.1"]
    return [*names, host]


def _bracketed(address: str) -> str:
    return f"[{address}]" if ":" in address else address
