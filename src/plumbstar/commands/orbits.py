"""``plumbstar orbits``: comets and minor planets, from elements that lie beside the logbook."""

from __future__ import annotations

import math
from pathlib import Path

import click

from plumbstar.commands import options as opt
from plumbstar.commands.output import print_json, say
from plumbstar.contract.answers.sky import (
    MinorBodyReport,
    OrbitsAddedReport,
    OrbitsListReport,
    OrbitsRemovedReport,
)
from plumbstar.errors import UserError
from plumbstar.logbook import elements_file
from plumbstar.sky import bodies
from plumbstar.sky.minor import DOUBT_MAG, MinorBody
from plumbstar.sky.naming.mpc import BadLine
from plumbstar.sky.times import Instant
from plumbstar.targets import say_minor
from plumbstar.text.words import many

#: So many bad lines are named one by one.
_NAMED = 5
_NO_NAMES = UserError("No file was named", "", "`plumbstar orbits list` names those that are there")


@click.group("orbits")
def command() -> None:
    """Comets and minor planets, found by name once their orbital elements are here.

    Elements come as files of the Minor Planet Center; docs/moving.md says where to get them.
    Nothing is fetched by this program.

    \b
    plumbstar orbits add CometEls.txt
    """


def _named(bad: tuple[BadLine, ...]) -> list[str]:
    more = len(bad) - _NAMED
    rest = [f"And {many(more, 'more line')} could not be read."] if more > 0 else []
    return [b.sentence for b in bad[:_NAMED]] + rest


@command.command("add")
@click.argument("source", metavar="FILE")
@opt.json_option
def add(source: str, as_json: bool) -> None:
    """Put a file of elements beside the logbook, in place of an older one of its name.

    A line that cannot be read is named, and the rest kept.
    """
    found, to = elements_file.add(elements_file.default_folder(), Path(source).expanduser())
    notes = _named(found.bad)
    say(
        as_json,
        OrbitsAddedReport(file=str(to), bodies=len(found.bodies), notes=tuple(notes)),
        f"{many(len(found.bodies), 'orbit')} read from {to.name}, kept beside the logbook.",
        *notes,
    )


@command.command("list")
@opt.utc_option
@opt.json_option
def list_(utc_text: str | None, as_json: bool) -> None:
    """Which comets and minor planets are here, how bright, and how old their elements are."""
    now, folder = opt.instant_of(utc_text), elements_file.default_folder()
    kept = elements_file.load(folder)
    rows = sorted(kept.bodies, key=lambda m: _brightness(m, now))
    notes = _named(kept.bad)
    if as_json:
        print_json(
            OrbitsListReport(
                folder=str(folder),
                files=kept.files,
                bodies=tuple(_report(m, now) for m in rows),
                notes=tuple(notes),
            )
        )
        return
    if not rows:
        click.echo(f"No elements yet ({folder}). Add some: plumbstar orbits add CometEls.txt")
    for m in rows:
        click.echo(f"{m.name}: {m.kind}, {say_minor.brightness(m, now)}. {say_minor.age(m, now)}")
    for note in notes:
        click.echo(note)


def _brightness(m: MinorBody, now: Instant) -> float:
    return math.inf if math.isnan(m.h_mag) else bodies.magnitude(m, now)


def _report(m: MinorBody, now: Instant) -> MinorBodyReport:
    v = _brightness(m, now)
    return MinorBodyReport(
        name=m.name,
        kind=m.sort,
        v_mag=round(v, 1) if math.isfinite(v) else None,
        doubt_mag=DOUBT_MAG[m.sort],
        epoch_utc=m.epoch.iso(),
        age_days=round(m.age_days(now), 1),
        old=m.freshness(now),
    )


@command.command("remove")
@click.argument("names", nargs=-1, metavar="FILE...")
@opt.json_option
def remove(names: tuple[str, ...], as_json: bool) -> None:
    """Take files of elements out again."""
    if not names:
        raise _NO_NAMES
    folder = elements_file.default_folder()
    for name in names:
        elements_file.remove(folder, name)
    said = f"Removed {', '.join(names)}."
    say(as_json, OrbitsRemovedReport(folder=str(folder), removed=names), said)
