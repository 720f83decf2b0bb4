"""Where orbital elements lie: files in one folder beside the logbook, read as they are."""

from __future__ import annotations

import gzip
import os
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from plumbstar.errors import UserError
from plumbstar.logbook.connecting import default_path as logbook_path
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.naming import mpc
from plumbstar.sky.naming.minor_bodies import MinorBodies
from plumbstar.sky.naming.mpc import BadLine
from plumbstar.text.advice import Advice, Do

ENVIRONMENT = "PLUMBSTAR_ELEMENTS"
#: The whole file of all minor planets is ten times as large, and nobody looks for all of them.
_MOST_BYTES = 20_000_000


@dataclass(frozen=True)
class ElementsOfFile:
    """What one file holds; ``bad`` could not be read."""

    name: str
    bodies: tuple[MinorBody, ...]
    bad: tuple[BadLine, ...]


@dataclass(frozen=True)
class ElementsKept:
    """All that the folder holds, and file by file."""

    bodies: MinorBodies
    by_file: tuple[ElementsOfFile, ...]

    @property
    def bad(self) -> tuple[BadLine, ...]:
        """What could not be read."""
        return tuple(b for f in self.by_file for b in f.bad)

    @property
    def files(self) -> tuple[str, ...]:
        """Their names."""
        return tuple(f.name for f in self.by_file)


_Stamp = tuple[tuple[str, int, int], ...]
_read: dict[Path, tuple[_Stamp, ElementsKept]] = {}


def default_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """``PLUMBSTAR_ELEMENTS`` if set, else ``elements`` in the logbook's folder."""
    if environ.get(ENVIRONMENT):
        return Path(environ[ENVIRONMENT]).expanduser()
    return logbook_path(environ).with_name("elements")


def load(folder: Path) -> ElementsKept:
    """What lies there, read again when a file has changed; nothing if there is no folder.

    A body of two files is taken from the later in their names' order. What cannot be read is kept
    as a bad line, so that the rest is found: nothing is raised.
    """
    try:
        paths = sorted(
            p
            for p in folder.iterdir()
            if p.is_file() and not p.name.startswith(".") and p.suffix != ".part"
        )
        stamp = tuple((p.name, p.stat().st_mtime_ns, p.stat().st_size) for p in paths)
    except OSError:
        return ElementsKept(MinorBodies(()), ())
    known = _read.get(folder)
    if known is None or known[0] != stamp:
        known = _read[folder] = (stamp, _load(paths))
    return known[1]


def _load(paths: list[Path]) -> ElementsKept:
    by_file = tuple(_of_file(path) for path in paths)
    bodies = {b.name: b for f in by_file for b in f.bodies}
    return ElementsKept(MinorBodies(tuple(bodies.values())), by_file)


def _of_file(path: Path) -> ElementsOfFile:
    try:
        found = mpc.read(text_of(path), path.name)
    except UserError as e:
        bad = BadLine(path.name, 1, e.came, e.wanted or "a file of elements")
        return ElementsOfFile(path.name, (), (bad,))
    return ElementsOfFile(path.name, found.bodies, found.bad)


def text_of(path: Path) -> str:
    """A file's text, without a byte-order mark; also of one packed with gzip.

    Raises :class:`UserError`.
    """
    from plumbstar.text import files  # here: this file is loaded with every look-up

    remedy = "Keep the lines of those that you want to look for"
    wanted = f"at most {_MOST_BYTES // 1_000_000} MB"
    try:
        with path.open("rb") as f:
            data = f.read(_MOST_BYTES + 1)
        if data[:2] == b"\x1f\x8b":
            with gzip.open(path) as g:
                data = g.read(_MOST_BYTES + 1)
    except (OSError, EOFError, zlib.error) as e:
        raise UserError(f"{path.name} cannot be read ({e})", "a file of elements", "") from None
    if len(data) > _MOST_BYTES:
        raise UserError(f"{path.name} is larger", wanted, remedy)
    return data.decode(files.encoding_of(data), errors="replace")


def add(folder: Path, source: Path) -> tuple[mpc.ElementsRead, Path]:
    """Put a file there, under its own name, in place of an older one. Raises :class:`UserError`
    where it holds nothing that can be read."""
    text = text_of(source)
    found = mpc.read(text, source.name)
    if not found.bodies:
        first = f" ({found.bad[0].sentence})" if found.bad else ""
        raise UserError(
            f"{source.name} holds no elements that can be read{first}",
            "lines of comets or minor planets as the Minor Planet Center gives them, or its JSON",
            "Take one that their service gives out",
        )
    to = folder / source.name.removesuffix(".gz")
    from plumbstar.text import files  # here: this file is loaded with every look-up

    folder.mkdir(parents=True, exist_ok=True)
    files.replace_whole(to, text, f"Name another folder with {ENVIRONMENT}")
    return found, to


def remove(folder: Path, name: str) -> None:
    """Take a file out. Raises :class:`UserError` if it is not there."""
    have = load(folder).files
    if name not in have:
        raise UserError(
            f"'{name}', which is not among your files of elements",
            f"one of {', '.join(have)}" if have else "a file in that folder",
            Advice(Do.LIST_ELEMENTS),
        )
    (folder / name).unlink()
