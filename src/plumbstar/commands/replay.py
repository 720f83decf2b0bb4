"""``plumbstar replay``: a recorded evening done again, through the program as it is now."""

from __future__ import annotations

import asyncio
import tempfile
from pathlib import Path

import click

from plumbstar.commands.output import print_json
from plumbstar.contract.answers.running import ReplayReport


@click.command("replay")
@click.argument("file", metavar="FILE")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def command(file: str, as_json: bool) -> None:
    """Do an evening again that serve --record wrote: the same bytes and presses, the same fix.

    Your own logbook is not touched.
    """
    from plumbstar.mount.terms import TERMS
    from plumbstar.text.words import many
    from plumbstar.web.live.replaying import replay

    with tempfile.TemporaryDirectory() as folder:
        done = asyncio.run(replay(Path(file), Path(folder)))
    fix = done.fix
    if as_json:
        print_json(
            ReplayReport(
                presses=done.presses,
                refused=done.refused,
                sightings=done.sightings,
                slip=done.slip,
                sentence=done.sentence,
                terms=dict(zip(TERMS, fix.mean.tolist(), strict=True)) if fix else {},
                sigmas=dict(zip(TERMS, fix.sigma.tolist(), strict=True)) if fix else {},
            )
        )
        return
    click.echo(f"{many(done.presses, 'request')} of the pages, {many(done.sightings, 'sighting')}.")
    for why in done.refused:
        click.echo(f"  refused: {why}")
    click.echo(done.sentence or "No fix.")
    if done.slip:
        click.echo("A possible slip is open.")
