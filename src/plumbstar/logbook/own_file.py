"""Where the observer's own objects are kept: one table beside the logbook."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from plumbstar.errors import UserError
from plumbstar.logbook.connecting import default_path as logbook_path
from plumbstar.sky import bodies
from plumbstar.sky.lists import catalogue, deepsky
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.naming import lookup, own
from plumbstar.sky.naming.names import either, fold
from plumbstar.text import files
from plumbstar.text.table import Repeat

ENVIRONMENT = "PLUMBSTAR_OBJECTS"
_read: dict[Path, tuple[tuple[int, int], DeepSkyList]] = {}


def default_path(environ: Mapping[str, str] = os.environ) -> Path:
    """``PLUMBSTAR_OBJECTS`` if set, else ``objects.csv`` in the logbook's folder."""
    if environ.get(ENVIRONMENT):
        return Path(environ[ENVIRONMENT]).expanduser()
    return logbook_path(environ).with_name("objects.csv")


def taken(name: str) -> str | None:
    """What goes by this name without the observer's list, in words; None if nothing does."""
    body = bodies.match(name)
    if body is not None:
        return body.label
    try:
        if lookup.parse_coordinates(name) is not None:
            return "a pair of coordinates"
    except UserError:
        return "a pair of coordinates"
    thing = deepsky.load().match(name)
    if thing is not None:
        return thing.label
    stars = catalogue.load()
    return None if stars.is_unknown(name) else stars.search(name, 1)[0].label


def load(path: Path) -> DeepSkyList:
    """The objects kept there, read again when the file has changed; none if there is no file."""
    try:
        s = path.stat()
    except OSError:
        return DeepSkyList.of([])
    stamp = (s.st_mtime_ns, s.st_size)
    known = _read.get(path)
    if known is None or known[0] != stamp:
        found = own.parse(files.read_text(path), str(path))
        known = _read[path] = (stamp, DeepSkyList.of(found.objects))
    return known[1]


def save(path: Path, objects: Sequence[DeepSky]) -> None:
    """Write them all, or leave the file as it was."""
    remedy = f"Name another with --file or {ENVIRONMENT}"
    files.replace_whole(path, own.to_csv(objects), remedy)


@dataclass(frozen=True, slots=True)
class Added:
    """How many objects are new, how many were replaced, and which lines repeat another."""

    new: int
    replaced: int
    repeats: tuple[Repeat, ...]


def add(path: Path, text: str, source: str, replace: bool) -> Added:
    """Add a table's objects to those kept.

    All or none. An object of a name already kept is refused unless ``replace``.
    """
    kept = {fold(o.name): o for o in load(path)}
    found = own.parse(text, source, taken)
    new = found.objects
    again = [o.name for o in new if fold(o.name) in kept]
    if again and not replace:
        shown = ", ".join(again[:3]) + (f" and {len(again) - 3} more" if len(again) > 3 else "")
        raise UserError(
            f"{source} has {shown}, in your list already. Nothing was added",
            "new names",
            "Rename them, or give --replace to put the new in place of the old",
        )
    save(path, list((kept | {fold(o.name): o for o in new}).values()))
    return Added(len(new) - len(again), len(again), found.repeats)


def remove(path: Path, names: Sequence[str]) -> list[str]:
    """Take these out, all or none; returns their names."""
    kept = load(path)
    gone = []
    for name in names:
        found = kept.match(name)
        if found is None:
            near = [o.name for o in kept.search(name, 3)]
            raise UserError(
                f"'{name}', which is not in your list. Nothing was removed",
                "a name in your list",
                f"Did you mean {either(near)}?" if near else "Choose one of those in it",
            )
        gone.append(found.name)
    save(path, [o for o in kept if o.name not in gone])
    return gone
