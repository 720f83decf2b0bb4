"""``plumbstar log report``: an evening that went wrong as one file for a maintainer."""

from __future__ import annotations

from pathlib import Path

import click

from plumbstar.commands.log.book import book_at, command, outing_of
from plumbstar.text import files


@command.command("report")
@click.argument("outing", metavar="OUTING")
@click.option("--with-place", is_flag=True, help="With coordinates, date, times, star names.")
@click.option("--with-names", is_flag=True, help="With names of site and kit, notes, reasons.")
@click.option("--read", "reading", is_flag=True, help="OUTING is such a file: solve it again.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write here, not to screen.")
@click.option("--force", is_flag=True, help="Overwrite that file.")
@click.option("--logbook", "path", metavar="PATH", help="The logbook file.")
@click.pass_context
def report(
    ctx: click.Context,
    outing: str,
    with_place: bool,
    with_names: bool,
    reading: bool,
    output: Path | None,
    force: bool,
    path: str | None,
) -> None:
    """Write outing N (or `last`) as one file for a maintainer, without place, names and notes."""
    from plumbstar.web.evening import report as reports

    if reading:
        _read(outing)
        return
    shared = ctx.parent.params if ctx.parent is not None else {}
    with book_at(path or shared.get("path")) as book:
        o = outing_of(book, outing)
        made = reports.make_report(book, o.id, place=with_place, names=with_names)
    text = reports.report_text(made)
    if output is None:
        click.echo(text, nl=False)
    else:
        files.write(output, text, replace=force, force="--force")
        click.echo(f"Wrote {output}", err=True)
    for line in made.contains:
        click.echo(f"In it: {line}.", err=True)
    for line in made.left_out:
        click.echo(f"Left out: {line}.", err=True)


def _read(path: str) -> None:
    from plumbstar.solve.say import fix_sentence
    from plumbstar.web.evening import report as reports

    made = reports.read_report(files.read_text(path, "the report"))
    fix, same, still = reports.solve_report(made)
    if fix is None:
        click.echo("No sightings, so no fix.")
        return
    click.echo(fix_sentence(fix, made.telescope.field_deg, "eyepiece's", still))
    click.echo(
        "The same fix as in the report, to the last digit."
        if same
        else f"Not the fix in the report: that was made by version {made.version}."
    )
