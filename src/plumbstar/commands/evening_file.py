"""Evenings beside a closed controller from files, for the commands that take them."""

from __future__ import annotations

from collections.abc import Iterable

from plumbstar.controller.evening import EveningBeside, read_evening
from plumbstar.errors import UserError
from plumbstar.sky import local_time
from plumbstar.sky.site import Site
from plumbstar.text import files, table


def read_file(path: str, site: Site, zone: str | None) -> EveningBeside:
    """``zone``: of a column ``local``, None for the site's.

    Raises :class:`plumbstar.errors.UserError`.
    """
    clock = local_time.zone_or_offset(zone) if zone is not None else site.time_zone
    text = files.read_text(path, wanted="a table of the evening")
    if not clock and zone is None and _by_local_time(text):
        raise UserError(
            f"{files.named(path)} has local times, and no zone is known for the site",
            "",
            "Add --zone, as --zone Europe/Rome or --zone +1, or write UTC into a column 'utc'",
        )
    return read_evening(text, files.named(path), clock)


def _by_local_time(text: str) -> bool:
    columns = table.heading(text)
    return "local" in columns and "utc" not in columns


def each_once(
    evenings: Iterable[tuple[str, EveningBeside]], besides: EveningBeside | None = None
) -> tuple[list[EveningBeside], tuple[str, ...]]:
    """Evenings with the names of their files, each once, and what is said of those left out.
    ``besides``: one that counts already. The same two stars at the same moments are one evening."""
    kept: list[EveningBeside] = []
    said = []
    seen = {_told(besides)} if besides is not None else set()
    for name, evening in evenings:
        if _told(evening) in seen:
            said.append(f"{name} tells an evening that was given before, and is counted once.")
            continue
        seen.add(_told(evening))
        kept.append(evening)
    return kept, tuple(said)


def _told(e: EveningBeside) -> tuple[str, ...]:
    return tuple(f"{s.target.key} {s.at.iso()}" for s in (e.first, e.second))
