"""``plumbstar log import``: sightings and outings from elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from plumbstar import kit as kits
from plumbstar.commands import siting
from plumbstar.commands.log import doubtful
from plumbstar.commands.log.answers import outing_answer
from plumbstar.commands.log.book import book_at, command, options, outing_of
from plumbstar.commands.options import zone_for
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import ImportedReport
from plumbstar.errors import UserError
from plumbstar.logbook import NotSaved
from plumbstar.logbook.exchange import outings_from_json
from plumbstar.logbook.oal_in import OalLog, import_oal, oal_from
from plumbstar.logbook.seen_table import is_seen_table, seen_from_table
from plumbstar.logbook.words import (
    outing_line,
)
from plumbstar.mount.sightings_file import parse
from plumbstar.text import files
from plumbstar.text.table import TableError
from plumbstar.text.words import many


def _refuse_for_json(**given: object) -> None:
    """An option that would be passed over. Raises UserError."""
    for name, value in given.items():
        if value is not None:
            raise UserError(
                f"--{name} with outings as JSON",
                "the file alone: it holds each outing's site, kit and sightings",
                f"Leave out --{name}",
            )


def _take(read: Callable[[], OalLog], source: str, path: str | None, as_json: bool) -> None:
    """What was seen, from an Open Astronomy Log or a table."""
    try:
        log = read()
        with book_at(path, create=True) as book:
            outings, passed = import_oal(book, log)
    except TableError as e:
        f = e.fault
        fault = UserError(f.came, f.wanted, f"{e.remedy}. Nothing was imported")
        raise TableError(fault, e.source, e.line, e.column) from None
    except NotSaved:
        raise
    except UserError as e:
        raise UserError(
            f"{source}: {e.came}", e.wanted, f"{e.remedy}. Nothing was imported"
        ) from None
    notes = list(log.notes)
    if passed:
        notes.append(f"{many(passed, 'observation')} of it were here already, and passed over.")
    say(
        as_json,
        ImportedReport(imported=tuple(outing_answer(o) for o in outings), notes=tuple(notes)),
        f"Imported {many(log.observations - passed, 'observation')} in "
        f"{many(len(outings), 'outing')}.",
        *notes,
        *(outing_line(o) for o in outings),
    )


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--into", metavar="N", help="CSV: add to outing N (or `last`), not to a new one.")
@click.option("--site", metavar="PLACE", help="CSV: where it was; coordinates or a kept site.")
@click.option("--kit", "kit_file", type=click.Path(path_type=Path), help="CSV: the kit file.")
@click.option("--sure", is_flag=True, help="Also what cannot be, by the kit.")
@options
def import_(
    file: Path,
    into: str | None,
    site: str | None,
    kit_file: Path | None,
    sure: bool,
    path: str | None,
    as_json: bool,
) -> None:
    """Bring in sightings from CSV, whole outings from JSON, or what was seen from an Open Astronomy
    Log (XML): all of the file or nothing."""
    from plumbstar.logbook.places import placing

    raw = files.read_bytes(file, wanted="sightings as CSV, outings as JSON, or a log as XML")
    source = files.named(file)
    files.tell_unshowable(raw.decode(files.encoding_of(raw), "ignore"), source)
    if raw.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0").startswith(b"<"):
        _refuse_for_json(into=into, site=site, kit=kit_file)
        _take(lambda: oal_from(raw), source, path, as_json)
        return
    text = files.decoded(raw, source, "sightings as CSV, or outings as JSON")
    if not text.lstrip().startswith("{") and is_seen_table(text):
        _refuse_for_json(into=into, site=site, kit=kit_file)
        _take(lambda: seen_from_table(text, source), source, path, as_json)
        return
    notes: list[str] = []
    kit, kit_text = None, ""
    if kit_file is not None:
        kit, kit_text = kits.load(kit_file), files.read_text(kit_file, "the kit file")
    place_site = siting.find(site, path)[0] if site else None
    try:
        with book_at(path, create=True) as book:
            if text.lstrip().startswith("{"):
                _refuse_for_json(into=into, site=site, kit=kit_file)
                notes = doubtful.ask(doubtful.of_outings(outings_from_json(text)), sure, source)
                had = len(book.all_mends())
                outings = book.import_json(text)
                if came := len(book.all_mends()) - had:
                    notes.append(f"{many(came, 'mend')} of the mount came in, too.")
            else:
                key = outing_of(book, into).id if into else None
                if place_site is None and key is not None:
                    place_site = book.outing(key).site
                place = placing(place_site) if place_site is not None else None
                found = parse(text, place, source, zone_for(text, place_site))
                told = doubtful.of_table(found.sightings, kit, book, key)
                notes = [*found.notes(), *doubtful.ask(told, sure, source)]
                if key is not None and kit is not None:
                    notes.append(f"Outing {key} keeps the kit it had; --kit changes none.")
                outings = (
                    book.import_sightings(
                        found.sightings, into=key, site=place_site, kit=kit, kit_text=kit_text
                    ),
                )
    except TableError as e:
        f = e.fault
        fault = UserError(f.came, f.wanted, f"{e.remedy}. Nothing was imported")
        raise TableError(fault, e.source, e.line, e.column) from None
    except (NotSaved, doubtful.Doubtful):
        raise  # says so itself
    except UserError as e:
        raise UserError(
            f"{source}: {e.came}", e.wanted, f"{e.remedy}. Nothing was imported"
        ) from None
    say(
        as_json,
        ImportedReport(imported=tuple(outing_answer(o) for o in outings), notes=tuple(notes)),
        f"Imported {many(len(outings), 'outing')}.",
        *notes,
        *(outing_line(o) for o in outings),
    )
