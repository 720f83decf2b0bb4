"""``plumbstar serve``: the telescope for other programs, beside the pages: options and sockets."""

from __future__ import annotations

import socket
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from plumbstar.errors import UserError
from plumbstar.web.alpaca import discovery
from plumbstar.web.door.addresses import HOME, is_loopback

if TYPE_CHECKING:
    from plumbstar.web.alpaca.serving import AlpacaServer
    from plumbstar.web.indi.serving import IndiServer
    from plumbstar.web.programs.allowed import Allowed

ALPACA_PORT = 11111  # the one that programs of this standard usually offer (memory)
INDI_PORT = 7624  # the protocol's own (memory)

_WHO = (
    "Programs on other computers that may use it: an address, a network, or local. "
    "It has no password."
)


def _telescope(name: str, software: str, port: int, over: str) -> tuple[Any, ...]:
    """The options that the telescope of every protocol has."""
    return (
        click.option(f"--{name}", is_flag=True, help=f"Be a telescope for {software}."),
        click.option(
            f"--{name}-port",
            type=click.IntRange(0, 65535),
            default=port,
            show_default=True,
            help=f"Port of that telescope, plain {over}.",
        ),
        click.option(f"--{name}-allow", multiple=True, metavar="WHO", help=_WHO),
        click.option(
            f"--{name}-slew-sets-target",
            is_flag=True,
            help="When such a program slews, take that as the target to push to.",
        ),
    )


_OPTIONS = (
    *_telescope("alpaca", "charting software (ASCOM Alpaca)", ALPACA_PORT, "HTTP"),
    click.option(
        "--alpaca-discovery-port",
        type=click.IntRange(0, 65535),
        default=discovery.PORT,
        show_default=True,
        help="UDP port at which programs look for it; 0: do not answer them.",
    ),
    *_telescope("indi", "planetarium software (INDI)", INDI_PORT, "TCP"),
)


def program_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of both, in the order in which help shows them."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def alpaca_server(
    host: str,
    wanted: bool,
    port: int,
    allow: tuple[str, ...],
    slew_sets_target: bool,
    discovery_port: int,
) -> AlpacaServer | None:
    """The device's sockets; None when it was not asked for. Raises UserError."""
    if not wanted:
        others = allow or slew_sets_target
        if others or (port, discovery_port) != (ALPACA_PORT, discovery.PORT):
            _without("--alpaca")
        return None
    from plumbstar.web.alpaca.serving import AlpacaServer

    allowed, sock = _listening(host, port, allow, "--alpaca")
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


def indi_server(
    host: str, wanted: bool, port: int, allow: tuple[str, ...], slew_sets_target: bool
) -> IndiServer | None:
    """The protocol's socket; None when it was not asked for. Raises UserError."""
    if not wanted:
        if allow or slew_sets_target or port != INDI_PORT:
            _without("--indi")
        return None
    from plumbstar.web.indi.serving import IndiServer

    allowed, sock = _listening(host, port, allow, "--indi")
    return IndiServer(sock, allowed, slew_sets_target)


def _without(option: str) -> None:
    raise UserError(
        f"An option of {option} was given without {option} itself",
        "",
        f"Add {option}, or leave the option out",
    )


def _listening(
    host: str, port: int, allow: tuple[str, ...], option: str
) -> tuple[Allowed, socket.socket]:
    """On this computer alone, unless others are allowed. Raises UserError."""
    from plumbstar.web.programs.allowed import Allowed

    allowed = Allowed.parse(allow, f"{option}-allow")
    here = for_this_computer(host)
    if allowed.networks and here:
        raise UserError(
            f"{option}-allow has no effect while the server listens at {host} only",
            "",
            f"Add --host 0.0.0.0, or leave {option}-allow out",
        )
    return allowed, bind(host if here or allowed.networks else "127.0.0.1", port, f"{option}-port")


def bind(host: str, port: int, option: str = "--port") -> socket.socket:
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
        # From now on: whoever opens the printed address at once waits, and is not turned away.
        sock.listen(100)
    except OSError as e:
        sock.close()
        raise UserError(
            f"The address {host} port {port} cannot be used ({e.strerror or e})",
            "",
            f"Is the server running already? Else choose another {option} or --host",
        ) from None
    return sock


def for_this_computer(host: str) -> bool:
    """Whether nobody else can reach what listens there."""
    return is_loopback(host) or host in HOME
