"""``plumbstar log backup`` and ``recover``: the file itself."""

from __future__ import annotations

from pathlib import Path

import click

from plumbstar.commands.log.book import book_at, command, options
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import CopiedReport, RecoveredReport, SetAsideReport
from plumbstar.logbook import path_of, set_aside
from plumbstar.logbook import recover as bring_back
from plumbstar.text.words import many


@command.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@options
def backup(file: Path, path: str | None, as_json: bool) -> None:
    """Copy the whole logbook to a new FILE; safe while the pages are in use."""
    with book_at(path) as book:
        book.copy_to(file)
    say(as_json, CopiedReport(copied_to=str(file)), f"Copied the logbook to {file}.")


@command.command("recover")
@click.option(
    "--go-on-without",
    "without",
    is_flag=True,
    help="Keep the copies under other names, and go on with what there is.",
)
@options
def recover(without: bool, path: str | None, as_json: bool) -> None:
    """Bring a damaged, emptied or lost logbook back: its last good copy, and what can be read."""
    where = path_of(path)
    if without:
        kept = tuple(str(p) for p in set_aside(where))
        names = ", ".join(kept) or "there were none"
        say(as_json, SetAsideReport(kept=kept), f"The copies are kept: {names}.")
        return
    done = bring_back(where)
    added = ", ".join(f"{n} {table}" for table, n in done.added.items()) or "nothing"
    lines = [
        f"The logbook is back: {many(done.outings, 'outing')} with "
        f"{many(done.sightings, 'sighting')} in {done.logbook}.",
    ]
    if done.only_rows:
        lost = ", ".join(_entries(n, table) for table, n in done.lost.items()) or "none"
        lines.append(
            "It was sound but for single entries. From the good copy came "
            f"{done.replaced}; lost for good: {lost}. All others are as they were."
        )
    elif done.copy:
        lines.append(f"It is the last good copy, {done.copy}.")
    else:
        lines.append("There was no good copy.")
    if (done.damaged or done.spoilt) is not None and not done.only_rows:
        lines.append(f"Read from what is damaged besides: {added}.")
    if done.added:
        lines.append("Look these over (`plumbstar log show last`): a damaged number may be wrong.")
    if done.unread:
        lines.append(f"Of these, parts could not be read: {', '.join(done.unread)}.")
    if done.damaged is not None:
        lines.append(f"The damaged file is kept as {done.damaged}.")
    if done.spoilt is not None:
        lines.append(f"A copy was damaged; it is kept as {done.spoilt}.")
    answer = RecoveredReport(
        logbook=str(done.logbook),
        copy=str(done.copy) if done.copy else None,
        damaged=str(done.damaged) if done.damaged else None,
        outings=done.outings,
        sightings=done.sightings,
        added=done.added,
        unread=tuple(done.unread),
        replaced=done.replaced,
        lost=done.lost,
        damaged_copy=str(done.spoilt) if done.spoilt else None,
    )
    say(as_json, answer, *lines)


def _entries(n: int, table: str) -> str:
    """So many entries of one table of the logbook: "2 sightings"."""
    if table == "outings":  # what it held stays, in an outing begun anew
        return f"the entry of {many(n, 'outing')} (where it was, and with which kit)"
    one = {"fixes": "fix", "skies": "sky", "sketches": "sketch"}.get(table, table.removesuffix("s"))
    return f"{n} {table if n > 1 else one}"
