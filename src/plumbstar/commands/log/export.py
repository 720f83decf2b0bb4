"""``plumbstar log export``: outings as text that other programs read."""

from __future__ import annotations

from pathlib import Path

import click

from plumbstar.commands.log.book import book_at, command, outing_of
from plumbstar.errors import UserError
from plumbstar.logbook.ecsv import shown_to_ecsv, sightings_to_ecsv
from plumbstar.logbook.oal_out import oal_text
from plumbstar.logbook.seen_table import seen_csv, seen_ecsv
from plumbstar.logbook.shown import load_display
from plumbstar.logbook.shown_table import shown_to_csv
from plumbstar.text import files
from plumbstar.text.words import many


@command.command("export")
@click.argument("outing")
@click.option("--csv", "as_csv", is_flag=True, help="The sightings as CSV, as `fix` reads them.")
@click.option("--ecsv", "as_ecsv", is_flag=True, help="The sightings as ECSV, with units.")
@click.option("--json", "as_json", is_flag=True, help="Everything in the outing as JSON.")
@click.option("--seen", is_flag=True, help="CSV, ECSV: what was seen, not the sightings.")
@click.option("--oal", "as_oal", is_flag=True, help="What was seen, as Open Astronomy Log 2.1.")
@click.option("--observer", metavar="NAME", help="--oal: your name and surname, for its head.")
@click.option("--set-aside", is_flag=True, help="CSV: with the sightings that were set aside.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write here, not to screen.")
@click.option("--force", is_flag=True, help="Overwrite that file.")
@click.option("--logbook", "path", metavar="PATH", help="The logbook file.")
@click.pass_context
def export(
    ctx: click.Context,
    outing: str,
    as_csv: bool,
    as_ecsv: bool,
    as_json: bool,
    as_oal: bool,
    seen: bool,
    observer: str | None,
    set_aside: bool,
    output: Path | None,
    force: bool,
    path: str | None,
) -> None:
    """Write outing N (`last`, or `all` with --json, --oal or --seen) as CSV, ECSV, JSON or XML.

    Of an evening beside a closed controller the table has what was tapped and typed: as CSV
    `controller forecast` reads it.
    """
    shared = ctx.parent.params if ctx.parent is not None else {}
    if as_csv + as_ecsv + as_json + as_oal != 1:
        raise UserError("no format, or two", "--csv, --ecsv, --json or --oal", "Add one of them")
    with book_at(path or shared.get("path")) as book:
        if as_oal or (seen and not as_json):
            every = outing.lower() == "all"
            chosen = list(book.outings() if every else (outing_of(book, outing),))
            if as_oal:
                text = oal_text(book, chosen, observer or "")
            else:
                text = seen_csv(book, chosen) if as_csv else seen_ecsv(book, chosen)
        elif outing.lower() == "all":
            if not as_json:
                raise UserError(
                    "all outings as a table", "one outing", "Use --json for all of them"
                )
            text = book.export_json()
        else:
            o = outing_of(book, outing)
            shown = load_display(book.state(o.id))
            sightings = book.sightings(o.id, active=None)
            if as_json:
                text = book.export_json(o.id)
            elif shown and not sightings:
                text = shown_to_ecsv(o, shown) if as_ecsv else shown_to_csv(shown)
            else:
                text = (
                    sightings_to_ecsv(o, sightings)
                    if as_ecsv
                    else book.export_csv(o.id, set_aside=set_aside)
                )
                if shown:
                    click.echo(
                        f"Without the {many(len(shown), 'line')} beside the controller: --json has "
                        "them too.",
                        err=True,
                    )
    if output is None:
        click.echo(text, nl=False)
        return
    files.write(output, text, replace=force, force="--force")
    click.echo(f"Wrote {output}", err=True)
