"""Where the observer's own objects are kept: one table beside the logbook."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from plumbstar.errors import UserError
from plumbstar.logbook.base import default_path as logbook_path
from plumbstar.sky import bodies
from plumbstar.sky.lists import catalogue, deepsky
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.naming import lookup, own
from plumbstar.sky.naming.names import either, fold

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


def read_text(path: Path) -> str:
    """The file's text. Raises :class:`UserError`."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise UserError(
            f"{path}, which is not in UTF-8", "a table of text in UTF-8",
            "Save it from the spreadsheet as CSV UTF-8",
        ) from None  # fmt: skip
    except OSError as e:
        raise UserError(
            f"{path} ({e.strerror})", "a file that can be read", "Check the name"
        ) from None


def load(path: Path) -> DeepSkyList:
    """The objects kept there, read again when the file has changed; none if there is no file."""
    try:
        s = path.stat()
    except OSError:
        return DeepSkyList.of([])
    stamp = (s.st_mtime_ns, s.st_size)
    known = _read.get(path)
    if known is None or known[0] != stamp:
        known = _read[path] = (stamp, DeepSkyList.of(own.parse(read_text(path), str(path))))
    return known[1]


def save(path: Path, objects: Sequence[DeepSky]) -> None:
    """Write them all, or leave the file as it was."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("w", encoding="utf-8") as handle:
            handle.write(own.to_csv(objects))
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(path)
    except OSError as e:
        with suppress(OSError):
            part.unlink()
        raise UserError(
            f"{path} ({e.strerror}). Nothing was saved", "a place that can be written",
            f"Name another with --file or {ENVIRONMENT}",
        ) from None  # fmt: skip


def add(path: Path, text: str, source: str, replace: bool) -> tuple[int, int]:
    """Add a table's objects to those kept; returns how many are new and how many were replaced.

    All or none. An object of a name already kept is refused unless ``replace``.
    """
    kept = {fold(o.name): o for o in load(path)}
    new = own.parse(text, source, taken)
    again = [o.name for o in new if fold(o.name) in kept]
    if again and not replace:
        shown = ", ".join(again[:3]) + (f" and {len(again) - 3} more" if len(again) > 3 else "")
        raise UserError(
            f"{source} has {shown}, in your list already. Nothing was added",
            "new names",
            "Rename them, or give --replace to put the new in place of the old",
        )
    save(path, list((kept | {fold(o.name): o for o in new}).values()))
    return len(new) - len(again), len(again)


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
                "a name of your list",
                f"Did you mean {either(near)}?" if near else "See plumbstar objects list",
            )
        gone.append(found.name)
    save(path, [o for o in kept if o.name not in gone])
    return gone
