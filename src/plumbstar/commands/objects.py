"""``plumbstar objects``: your own objects, found by name like all others."""

from __future__ import annotations

import math
from pathlib import Path

import click

from plumbstar.commands.options import json_option
from plumbstar.commands.output import print_json, say
from plumbstar.contract.answers.sky import (
    OwnAddedReport,
    OwnExportReport,
    OwnListReport,
    OwnObjectReport,
    OwnRemovedReport,
)
from plumbstar.errors import UserError
from plumbstar.logbook import own_file
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.naming import own
from plumbstar.sky.naming.lookup import coordinates_label
from plumbstar.text import files
from plumbstar.text.words import magnitude, many

file_option = click.option(
    "--file", "path", metavar="PATH",
    help=f"The list (else ${own_file.ENVIRONMENT}, else beside the logbook).",
)  # fmt: skip


def _where(path: str | None) -> Path:
    return Path(path).expanduser() if path else own_file.default_path()


def _answer(o: DeepSky) -> OwnObjectReport:
    return OwnObjectReport(
        name=o.name,
        kind=o.kind,
        ra_deg=round(o.ra_deg, 5),
        dec_deg=round(o.dec_deg, 5),
        v_mag=o.v_mag,
        size_arcmin=o.size_arcmin,
        minor_arcmin=o.minor_arcmin,
        position_angle_deg=o.position_angle_deg,
        surface_mag_arcsec2=round(o.surface_brightness, 2),
    )


@click.group("objects")
def command() -> None:
    """Your own objects: add them from a table, and every command and page finds them by name.

    \b
    plumbstar objects add my.csv
    """


@command.command("add")
@click.argument("table", metavar="FILE.csv")
@click.option("--replace", is_flag=True, help="Put an object in place of one that has its name.")
@file_option
@json_option
def add(table: str, replace: bool, path: str | None, as_json: bool) -> None:
    """Add the objects of FILE.csv (- for standard input), all or none.

    The first line names the columns: name, ra and dec (05h35m17s, -05d23m), or ra_hours or ra_deg;
    and if you like mag, size and minor in arcminutes, pa in degrees, kind.
    """
    where = _where(path)
    text = files.read_text(table, wanted="a table of objects")
    done = own_file.add(where, text, files.named(table), replace)
    total = len(own_file.load(where))
    notes = [r.sentence for r in done.repeats]
    put = f", {done.replaced} replaced" if done.replaced else ""
    say(
        as_json,
        OwnAddedReport(
            file=str(where), added=done.new, replaced=done.replaced, objects=total,
            notes=tuple(notes),
        ),
        f"{many(done.new, 'object')} added{put}; {many(total, 'object')} in your list.",
        *notes,
    )  # fmt: skip


@command.command("list")
@file_option
@json_option
def list_(path: str | None, as_json: bool) -> None:
    """What is in your list."""
    where = _where(path)
    kept = own_file.load(where)
    if as_json:
        print_json(OwnListReport(file=str(where), objects=tuple(_answer(o) for o in kept)))
        return
    if not len(kept):
        click.echo(f"No objects of your own yet ({where}). Add some: plumbstar objects add my.csv")
        return
    width = max(len(o.name) for o in kept)
    for o in kept:
        mag = "" if math.isnan(o.v_mag) else f"  mag {magnitude(o.v_mag)}"
        size = "" if math.isnan(o.size_arcmin) else f"  {o.size_arcmin:g} arcmin"
        place = coordinates_label(o.ra_deg, o.dec_deg)
        click.echo(f"{o.name:<{width}}  {place}  {o.kind}{mag}{size}")


@command.command("remove")
@click.argument("names", nargs=-1, metavar="NAME...")
@file_option
@json_option
def remove(names: tuple[str, ...], path: str | None, as_json: bool) -> None:
    """Take objects out of your list, all or none."""
    if not names:
        raise UserError("No name was given", "", "`plumbstar objects list` lists the names")
    where = _where(path)
    gone = own_file.remove(where, names)
    total = len(own_file.load(where))
    if as_json:
        print_json(OwnRemovedReport(file=str(where), removed=tuple(gone), objects=total))
        return
    click.echo(f"Removed {', '.join(gone)}; {many(total, 'object')} in your list.")


@command.command("export")
@click.argument("output", metavar="FILE.csv", default="-")
@click.option("--force", is_flag=True, help="Overwrite the file.")
@file_option
@json_option
def export(output: str, force: bool, path: str | None, as_json: bool) -> None:
    """Write your list as a table that `add` reads; to standard output when no file is named."""
    kept = own_file.load(_where(path))
    text = own.to_csv(list(kept))
    if output == "-":
        if as_json:
            print_json(OwnExportReport(csv=text, objects=len(kept)))
        else:
            click.echo(text, nl=False)
        return
    out = Path(output)
    files.write(out, text, "the list", replace=force, force="--force")
    if as_json:
        print_json(OwnExportReport(file=str(out), objects=len(kept)))
        return
    click.echo(f"{many(len(kept), 'object')} written to {out}.")
