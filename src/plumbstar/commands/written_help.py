"""What ``--help`` says, written down once: read without the command and all it works with.

A command's file imports numpy, the sky and the logbook at its top, which its help does not need;
to load them took up to 1.4 s of processor time. ``help.txt`` has every help as click sets it, made
by ``python tools/help.py`` and held fresh by tests/commands/test_help.py.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

#: How wide click sets help where the terminal is wide enough.
COLUMNS = 80
FILE = Path(__file__).with_name("help.txt")
#: Begins a line that says whose help follows.
WHOSE = "# "


def written(words: Sequence[str]) -> str | None:
    """The help that a command line, without the program's name, asks for; None where it may mean
    anything else, where none was written, and where the terminal is narrower than it."""
    *names, last = words or ("",)
    plain = bool(names) and not any(n.startswith("-") for n in names)
    if not plain or last not in ("--help", "-h"):
        return None
    if shutil.get_terminal_size((COLUMNS, 24)).columns < COLUMNS:
        return None
    return read(FILE.read_text(encoding="utf-8")).get(" ".join(names))


def read(text: str) -> dict[str, str]:
    """Each help by the command's name, as ``written_down`` put them."""
    parts = f"\n{text}".split(f"\n{WHOSE}")[1:]
    return {name: told.strip("\n") for name, _, told in (p.partition("\n") for p in parts)}


def written_down(helps: dict[str, str]) -> str:
    """All of them as one text that a person can read."""
    return "\n\n".join(f"{WHOSE}{name}\n\n{told}" for name, told in helps.items()) + "\n"
