"""``plumbstar serve``: what it says when it starts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from plumbstar.sky.times import Instant
from plumbstar.web.door.pairing import Pairing

if TYPE_CHECKING:
    from plumbstar.logbook import LogbookTrouble
    from plumbstar.web.alpaca.serving import AlpacaServer
    from plumbstar.web.indi.serving import IndiServer
    from plumbstar.web.programs.allowed import Allowed


def say_that_it_asks(trouble: LogbookTrouble) -> None:
    """What is the matter with the logbook, and where it is asked about."""
    click.echo(
        f"{trouble.came}. Open the pages: they ask which one to go on with, and wait for the "
        f"answer. It can be given in another window, too. {trouble.remedy}.",
        err=True,
    )


def greet(
    urls: list[str],
    pairing: Pairing | None,
    secure: bool,
    fingerprint: str,
    path: str,
    start: Instant | None,
    alpaca: AlpacaServer | None,
    indi: IndiServer | None,
) -> None:
    """The address, the code, and a picture of both for the phone's camera."""
    click.echo(f"Plumbstar is at {urls[0]}")
    for other in urls[1:]:
        click.echo(f"          also at {other}")
    if pairing is not None:
        address, _, port = urls[0].rstrip("/").rpartition(":")
        click.echo(
            f"On this computer, without a code: {address.partition(':')[0]}://127.0.0.1:{port}/"
        )
        import segno

        # After the #: a browser keeps that part to itself, so the code is in no log.
        segno.make(f"{urls[0]}pair#{pairing.code}", error="m").terminal(compact=True)
        click.echo(f"Pairing code: {pairing.shown}   (scan, or type it on the phone)")
    if secure:
        click.echo(f"The phone will warn of the certificate, once. SHA-256: {fingerprint}")
    elif pairing is not None:
        click.echo(
            "Without --https the page cannot keep the phone awake: set the phone's own screen time "
            "to its longest (Settings, Display)."
        )
    if start is not None:
        click.echo(f"The evening's clock starts at {start} and runs on.")
    if alpaca is not None:
        click.echo(f"Alpaca telescope 0 is at port {alpaca.port}, for {_who(alpaca.allowed)}.")
    if indi is not None:
        click.echo(f"The INDI telescope is at port {indi.port}, for {_who(indi.allowed)}.")
    click.echo(f"Logbook: {path}")
    click.echo("Stop with Ctrl-C. Never point a telescope at or near the Sun.")


def _who(allowed: Allowed) -> str:
    if not allowed.networks:
        return "programs on this computer only"
    return "programs on this computer and those you allowed, without any password"
