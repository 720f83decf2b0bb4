"""``plumbstar log``: what was done on which evening, and what the evenings teach."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import msgspec

from plumbstar import kit as kits
from plumbstar.commands import options as opt
from plumbstar.commands import siting
from plumbstar.errors import UserError
from plumbstar.logbook import ENVIRONMENT, Change, Logbook, Outing, path_of, short
from plumbstar.logbook import recover as bring_back
from plumbstar.logbook.ecsv import sightings_to_ecsv
from plumbstar.logbook.words import (
    find_dict,
    find_line,
    outing_dict,
    outing_line,
    sighting_dict,
    sighting_line,
    signed_clock,
)
from plumbstar.sky.times import Instant
from plumbstar.text.words import many


def _options(function: Callable[..., Any]) -> Callable[..., Any]:
    """The options every command here takes: which file, and how to answer."""
    for option in (
        click.option(
            "--logbook",
            "path",
            metavar="PATH",
            help=f"The logbook file (else ${ENVIRONMENT}, else the usual place).",
        ),
        click.option("--json", "as_json", is_flag=True, help="Answer as one JSON object."),
        click.option("--utc", metavar="TIME", help="The time to use instead of now, ISO 8601."),
    ):
        function = option(function)

    @click.pass_context
    @functools.wraps(function)
    def with_inherited(ctx: click.Context, /, *args: Any, **values: Any) -> Any:
        # `log --logbook X show 1` means the same as `log show 1 --logbook X`.
        shared = ctx.parent.params if ctx.parent is not None else {}
        for name in ("path", "as_json", "utc"):
            values[name] = values[name] or shared.get(name)
        return function(*args, **values)

    return with_inherited


def _book(path: str | None, *, create: bool = False) -> Logbook:
    """Open it. Only what adds something makes a new file."""
    where = path_of(path)
    if not create and not where.exists() and not path:
        raise UserError(
            f"no logbook yet (it will be at {where})",
            "an outing to have been logged",
            "`plumbstar serve` logs outings; `plumbstar log import FILE` brings in others",
        )
    return Logbook.open(where, create=create)


def _say(as_json: bool, answer: dict[str, Any], *lines: str) -> None:
    click.echo(msgspec.json.encode(answer).decode() if as_json else "\n".join(lines))


def _outing(book: Logbook, text: str) -> Outing:
    """An outing by number, or ``last``."""
    if text.lower() == "last":
        all_of_them = book.outings()
        if not all_of_them:
            raise UserError("an empty logbook", "an outing", "Log or import one first")
        return all_of_them[-1]
    if not text.isdigit():
        raise UserError(f"outing '{text}'", "a number, or last", "`plumbstar log` lists them")
    return book.outing(int(text))


@click.group(invoke_without_command=True)
@click.option("--deleted", is_flag=True, help="List what is marked deleted as well.")
@click.option("--logbook", "path", metavar="PATH", help="The logbook file.")
@click.option("--json", "as_json", is_flag=True, help="Answer as one JSON object.")
@click.option("--utc", metavar="TIME", help="The time to use instead of now, ISO 8601.")
@click.pass_context
def command(
    ctx: click.Context, deleted: bool, path: str | None, as_json: bool, utc: str | None
) -> None:
    """The logbook. Alone, it lists the outings."""
    if ctx.invoked_subcommand is not None:
        return
    where = path_of(path)
    if not path and not where.exists():
        _say(as_json, {"logbook": str(where), "outings": []}, f"No outings yet ({where}).")
        return
    with _book(path) as book:
        outings = book.outings(deleted=deleted)
    _say(
        as_json,
        {"logbook": str(where), "outings": [outing_dict(o) for o in outings]},
        f"{many(len(outings), 'outing')} in {where}",
        *(outing_line(o) for o in outings),
    )


@command.command("show")
@click.argument("outing")
@click.option("--deleted", is_flag=True, help="Show deleted sightings and finds as well.")
@_options
def show(outing: str, deleted: bool, path: str | None, as_json: bool, utc: str | None) -> None:
    """Show outing N (or `last`): sightings, finds and notes."""
    with _book(path) as book:
        o = _outing(book, outing)
        sightings = book.sightings(o.id, deleted=deleted)
        finds = book.finds(o.id, deleted=deleted)
        notes = book.notes(o.id)
    answer = outing_dict(o) | {
        "sightings": [sighting_dict(s) for s in sightings],
        "finds": [find_dict(f) for f in finds],
        "notes": [{"utc": short(n.utc), "text": n.text} for n in notes],
        "kit_text": o.kit_text,
    }
    lines = [outing_line(o)]
    if sightings:
        lines += ["", "Sightings", *(sighting_line(s) for s in sightings)]
    if finds:
        lines += ["", "Finds", *(find_line(f) for f in finds)]
    if notes:
        lines += ["", "Notes", *(f"      {n.utc.iso()[11:19]}  {n.text}" for n in notes)]
    _say(as_json, answer, *lines)


@command.command("export")
@click.argument("outing")
@click.option("--csv", "as_csv", is_flag=True, help="The sightings as CSV, as `fix` reads them.")
@click.option("--ecsv", "as_ecsv", is_flag=True, help="The sightings as ECSV, with units.")
@click.option("--json", "as_json", is_flag=True, help="Everything in the outing as JSON.")
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
    set_aside: bool,
    output: Path | None,
    force: bool,
    path: str | None,
) -> None:
    """Write outing N (`last`, or `all` with --json) as CSV, ECSV or JSON."""
    shared = ctx.parent.params if ctx.parent is not None else {}
    if as_csv + as_ecsv + as_json != 1:
        raise UserError("no format, or two", "--csv, --ecsv or --json", "Add one of them")
    with _book(path or shared.get("path")) as book:
        if outing.lower() == "all":
            if not as_json:
                raise UserError(
                    "all outings as a table", "one outing", "Use --json for all of them"
                )
            text = book.export_json()
        else:
            o = _outing(book, outing)
            if as_ecsv:
                text = sightings_to_ecsv(o, book.sightings(o.id, active=None))
            else:
                text = (
                    book.export_csv(o.id, set_aside=set_aside) if as_csv else book.export_json(o.id)
                )
    if output is None:
        click.echo(text, nl=False)
        return
    try:
        with output.open("w" if force else "x", encoding="utf-8", newline="") as f:
            f.write(text)
    except FileExistsError:
        raise UserError(
            f"the file {output}, which exists", "a new name", "Choose another, or add --force"
        ) from None
    except OSError as e:
        raise UserError(f"the file {output} ({e})", "a place to write", "Check the path") from None
    click.echo(f"Wrote {output}", err=True)


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--into", metavar="N", help="CSV: add to outing N (or `last`), not to a new one.")
@click.option("--site", metavar="PLACE", help="CSV: where it was; coordinates or a kept site.")
@click.option("--kit", "kit_file", type=click.Path(path_type=Path), help="CSV: the kit file.")
@_options
def import_(
    file: Path,
    into: str | None,
    site: str | None,
    kit_file: Path | None,
    path: str | None,
    as_json: bool,
    utc: str | None,
) -> None:
    """Bring in sightings from CSV, or whole outings from JSON: all of the file or nothing."""
    from plumbstar.logbook.places import placing

    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as e:
        raise UserError(f"the file {file} ({e})", "a readable text file", "Check it") from None
    kit, kit_text = None, ""
    if kit_file is not None:
        kit, kit_text = kits.load(kit_file), kit_file.read_text(encoding="utf-8")
    place_site = siting.find(site, path)[0] if site else None
    try:
        with _book(path, create=True) as book:
            if text.lstrip().startswith("{"):
                outings = book.import_json(text)
            else:
                key = _outing(book, into).id if into else None
                if place_site is None and key is not None:
                    place_site = book.outing(key).site
                outings = (
                    book.import_csv(
                        text,
                        into=key,
                        site=place_site,
                        kit=kit,
                        kit_text=kit_text,
                        place=placing(place_site) if place_site is not None else None,
                    ),
                )
    except UserError as e:
        nothing = "" if "Nothing was" in e.came else ". Nothing was imported"
        raise type(e)(f"{file}: {e.came}", e.wanted, f"{e.remedy}{nothing}") from None
    _say(
        as_json,
        {"imported": [outing_dict(o) for o in outings]},
        f"Imported {many(len(outings), 'outing')}.",
        *(outing_line(o) for o in outings),
    )


@command.command("delete")
@click.argument("outing")
@click.option("--sighting", type=int, metavar="K", help="Only its sighting K.")
@_options
def delete(
    outing: str, sighting: int | None, path: str | None, as_json: bool, utc: str | None
) -> None:
    """Mark outing N, or one sighting of it, deleted. `log undo` brings it back."""
    with _book(path) as book:
        o = _outing(book, outing)
        if sighting is None:
            book.delete_outing(o.id)
        else:
            book.delete_sighting(book.sighting(o.id, sighting).id)
    what = f"outing {o.id}" if sighting is None else f"sighting {sighting} of outing {o.id}"
    _say(
        as_json,
        {"deleted": {"outing": o.id, "sighting": sighting}},
        f"Deleted {what}. `plumbstar log undo` brings it back.",
    )


@command.command("restore")
@click.argument("outing")
@click.option("--sighting", type=int, metavar="K", help="Only its sighting K.")
@_options
def restore(
    outing: str, sighting: int | None, path: str | None, as_json: bool, utc: str | None
) -> None:
    """Bring back outing N, or one sighting of it, however long ago it was deleted."""
    with _book(path) as book:
        o = _outing(book, outing)
        if sighting is None:
            book.restore_outing(o.id)
        else:
            book.restore_sighting(book.sighting(o.id, sighting).id)
    what = f"outing {o.id}" if sighting is None else f"sighting {sighting} of outing {o.id}"
    _say(as_json, {"restored": {"outing": o.id, "sighting": sighting}}, f"Brought back {what}.")


def _tell(as_json: bool, verb: str, change: Change | None) -> None:
    if change is None:
        _say(as_json, {verb.lower(): None}, f"Nothing to {verb.lower()}.")
        return
    answer = {"what": change.what, "at": change.at.iso(), "outing": change.outing_id}
    _say(as_json, {verb.lower(): answer}, f"{verb} done: {change.what}, made {change.at.iso()}.")


@command.command("undo")
@_options
def undo(path: str | None, as_json: bool, utc: str | None) -> None:
    """Take back the last change; again, the one before. `log redo` takes the undo back."""
    with _book(path) as book:
        _tell(as_json, "Undo", book.undo())


@command.command("redo")
@_options
def redo(path: str | None, as_json: bool, utc: str | None) -> None:
    """Take back the last undo, if nothing new was done since."""
    with _book(path) as book:
        _tell(as_json, "Redo", book.redo())


@command.command("note")
@click.argument("outing")
@click.argument("text", nargs=-1, required=True)
@_options
def note(
    outing: str, text: tuple[str, ...], path: str | None, as_json: bool, utc: str | None
) -> None:
    """Add a remark TEXT to outing N."""
    with _book(path) as book:
        o = _outing(book, outing)
        book.add_note(o.id, " ".join(text), opt.instant_of(utc))
    _say(as_json, {"outing": o.id, "note": " ".join(text)}, f"Noted on outing {o.id}.")


@command.command("correct-time")
@click.argument("outing")
@click.option(
    "--by", "by_s", type=float, metavar="SECONDS", help="Added to the times; plus for a slow clock."
)
@click.option("--clock-was", metavar="T", help="What the wrong clock showed, HH:MM:SS or ISO 8601,")
@click.option("--when-it-was", metavar="T", help="when the time in truth was this.")
@click.option("--up-to", type=int, metavar="K", help="Only sightings 1 to K: it was set then.")
@_options
def correct_time(
    outing: str,
    by_s: float | None,
    clock_was: str | None,
    when_it_was: str | None,
    up_to: int | None,
    path: str | None,
    as_json: bool,
    utc: str | None,
) -> None:
    """Correct the times of outing N, made by a wrong clock, and solve it again.

    What was saved is kept beside; `plumbstar log undo` takes the correction back.
    """
    from plumbstar.logbook.places import placing
    from plumbstar.web.evening.solve_again import solve_outing

    by = _by(by_s, clock_was, when_it_was)
    with _book(path) as book:
        o = _outing(book, outing)
        shifts = book.shifts_by(o.id, by, up_to)
        n = book.correct_times(o.id, shifts, placing(o.site) if o.site else None)
        fix = solve_outing(book, o.id, opt.instant_of(utc))
    told = fix.sentence if fix is not None else "There is no sighting to solve it from."
    _say(
        as_json,
        {
            "outing": o.id,
            "corrected_by_s": by,
            "sightings": n,
            "finds": len(shifts.finds),
            "notes": len(shifts.notes),
            "sentence": told,
        },
        f"Corrected outing {o.id} by {signed_clock(by)}: {many(n, 'sighting')}, "
        f"{many(len(shifts.finds), 'find')}, {many(len(shifts.notes), 'note')}. "
        "What was saved is kept beside; `plumbstar log undo` takes it back.",
        told,
    )


def _by(by_s: float | None, clock_was: str | None, when_it_was: str | None) -> float:
    """The correction in seconds, from either way of saying it."""
    pair = (clock_was, when_it_was)
    if (by_s is None) == (pair == (None, None)) or (clock_was is None) != (when_it_was is None):
        raise UserError(
            "no correction, or two",
            "--by SECONDS, or --clock-was T with --when-it-was T",
            "As --clock-was 18:04:10 --when-it-was 19:04:12",
        )
    if by_s is not None:
        return by_s
    assert clock_was is not None
    assert when_it_was is not None
    days = [re.fullmatch(r"\s*\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?\s*", t) is None for t in pair if t]
    if days[0] != days[1]:
        raise UserError(
            f"'{clock_was}' and '{when_it_was}'", "both with the day, or neither", "Add the day"
        )
    if days[0]:
        return Instant.parse(when_it_was).minus(Instant.parse(clock_was))
    full = (t.strip() if t.strip()[2] == ":" else f"0{t.strip()}" for t in (clock_was, when_it_was))
    a, b = (Instant.parse(f"2000-01-01T{t}") for t in full)
    # Without the day the nearer way round is meant: no clock is off by more than half a day.
    return (b.minus(a) + 43200.0) % 86400.0 - 43200.0


@command.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@_options
def backup(file: Path, path: str | None, as_json: bool, utc: str | None) -> None:
    """Copy the whole logbook to a new FILE; safe while the pages are in use."""
    with _book(path) as book:
        book.copy_to(file)
    _say(as_json, {"copied_to": str(file)}, f"Copied the logbook to {file}.")


@command.command("recover")
@_options
def recover(path: str | None, as_json: bool, utc: str | None) -> None:
    """Bring a damaged logbook back: its last good copy, and what can be read of the rest."""
    where = path_of(path)
    done = bring_back(where)
    added = ", ".join(f"{n} {table}" for table, n in done.added.items()) or "nothing"
    lines = [
        f"The logbook is back: {many(done.outings, 'outing')} with "
        f"{many(done.sightings, 'sighting')} in {done.logbook}.",
        f"It is the last good copy, {done.copy}." if done.copy else "There was no good copy.",
        f"Read from the damaged file besides: {added}.",
    ]
    if done.added:
        lines.append("Look these over (`plumbstar log show last`): a damaged number may be wrong.")
    if done.unread:
        lines.append(f"Of these, parts could not be read: {', '.join(done.unread)}.")
    lines.append(f"The damaged file is kept as {done.damaged}.")
    answer = {
        "logbook": str(done.logbook),
        "copy": str(done.copy) if done.copy else None,
        "damaged": str(done.damaged),
        "outings": done.outings,
        "sightings": done.sightings,
        "added": done.added,
        "unread": done.unread,
    }
    _say(as_json, answer, *lines)


@command.command("purge")
@click.option("--yes", is_flag=True, help="Do not ask.")
@_options
def purge(yes: bool, path: str | None, as_json: bool, utc: str | None) -> None:
    """Remove for good what is marked deleted. This cannot be undone."""
    with _book(path) as book:
        if not yes:
            click.confirm("Remove for good all that is marked deleted?", abort=True, err=True)
        gone = book.purge()
    removed = ", ".join(f"{n} {table}" for table, n in gone.items() if n) or "nothing"
    _say(as_json, {"purged": gone}, f"Removed for good: {removed}.")


def _terms(names: tuple[str, ...]) -> tuple[str, ...]:
    from plumbstar.mount.terms import PERSISTENT

    asked = tuple(n.strip().replace("-", "_").replace(" ", "_") for n in names)
    for n in asked:
        if n not in PERSISTENT:
            raise UserError(f"the term '{n}'", f"one of {', '.join(PERSISTENT)}", "Check it")
    return asked or PERSISTENT


@command.command("mend")
@click.argument("text")
@click.option("--term", "names", multiple=True, help="The term it changed; may be repeated.")
@click.option("--kit", "kit_text", metavar="NAME", help="The kit (else that of the last outing).")
@_options
def mend(
    text: str,
    names: tuple[str, ...],
    kit_text: str | None,
    path: str | None,
    as_json: bool,
    utc: str | None,
) -> None:
    """Record a change to the mount, as "stop shimmed": its terms are learnt anew from here on."""
    if not names:
        raise UserError("no --term", "the term that the mend changed", "As --term altitude_zero")
    terms = _terms(names)
    with _book(path) as book:
        kit = opt.kit_in_use(book, kit_text)
        book.add_mend(kit.name, terms, text, opt.instant_of(utc))
    since = f"{opt.instant_of(utc).iso()[:16]}Z on" if utc else "now on"
    _say(
        as_json,
        {"kit": kit.name, "mend": text, "terms": list(terms)},
        f"Recorded for {kit.name}: {text}. Learnt anew from {since}: {', '.join(terms)}.",
    )


@command.command("priors")
@click.option("--kit", "kit_text", metavar="NAME", help="The kit (else that of the last outing).")
@click.option("--reset", is_flag=True, help="Learn all terms anew from now on.")
@_options
def priors(
    kit_text: str | None, reset: bool, path: str | None, as_json: bool, utc: str | None
) -> None:
    """What past outings teach about the mount, term by term."""
    from plumbstar.diagnose.teach import learnt_priors

    with _book(path) as book:
        kit = opt.kit_in_use(book, kit_text)
        if reset:
            book.add_mend(kit.name, _terms(()), "all learnt anew", opt.instant_of(utc))
        learnt = learnt_priors(book, kit)
    told = sorted({o for t in learnt.terms for o in t.outings})
    lines = [
        f"{kit.name}: {many(len(told), 'outing')} teach{'es' if len(told) == 1 else ''} about it."
        if told
        else f"{kit.name}: nothing learnt yet; the kit's own priors hold."
    ]
    if reset:
        lines.insert(
            0, "All terms are learnt anew from now on; `plumbstar log undo` takes it back."
        )
    for t in learnt.terms:
        d = t.to_dict()
        unit = "percent" if "value_percent" in d else "deg"
        before = f"kit {d[f'kit_value_{unit}']:+.2f} +- {d[f'kit_sigma_{unit}']:.2f}"
        name = t.name.replace("_", " ")
        if not t.outings:
            lines.append(f"  {name}: not learnt; {before} {unit}")
            continue
        value, sigma, scatter = (d[f"{k}_{unit}"] for k in ("value", "sigma", "scatter"))
        odd = f"; stands apart: outing {', '.join(map(str, t.odd))}" if t.odd else ""
        lines.append(
            f"  {name}: {value:+.2f} +- {sigma:.2f} {unit} ({before}) from "
            f"{many(len(t.outings), 'outing')}, changes by about {scatter:.2f} between them{odd}"
        )
    if learnt.left_out:
        which = ", ".join(map(str, learnt.left_out))
        lines.append(f"  Left out, as their sightings contradict one another: outing {which}")
    _say(
        as_json,
        {
            "kit": kit.name,
            "outings": told,
            "left_out": list(learnt.left_out),
            "terms": [t.to_dict() for t in learnt.terms],
        },
        *lines,
    )
