"""A command read for its help alone, without what it works with.

A command's file imports at its top all that it works with, as any other file; and for ``--help``
only its options are wanted. Then whatever is not options is replaced by a stand-in while the file
is read: numpy, the sky and the logbook are not loaded, and help is there in a fifth of the time.
What stands in help texts must therefore come from here or from ``defaults`` or ``errors``
(tests/commands/test_help.py compares every help with that of the file as it is).
"""

from __future__ import annotations

import importlib
import importlib.abc
import importlib.util
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from importlib.machinery import ModuleSpec
from types import ModuleType
from typing import Any

#: What is read as it is, of ours; and what is not, of others'. The rest of Python is.
OURS = ("plumbstar.commands", "plumbstar.defaults", "plumbstar.errors")
HEAVY = ("numpy", "msgspec", "starlette", "uvicorn", "asyncio", "sqlite3", "ssl")


def asked_for(words: Sequence[str]) -> bool:
    """Whether a command line, without the program's name, can only mean help: plain words (no
    option that could take the next one as its value), then ``--help``."""
    return (
        len(words) > 1
        and words[-1] in ("--help", "-h")
        and not any(w.startswith("-") for w in words[:-1])
    )


def read(module: str, words: Sequence[str]) -> ModuleType:
    """A command's module: as it is, or for its help alone where the command line asks for that."""
    with reading() if asked_for(words) else nullcontext():
        return importlib.import_module(module)


class _StandIn:
    """Anything at all, as far as reading a file goes."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return _StandIn()

    def __call__(self, *args: Any, **named: Any) -> Any:
        return _StandIn()

    def __getitem__(self, key: Any) -> Any:
        return _StandIn()

    def __str__(self) -> str:
        raise TypeError("a help text is made of something that is not read for it")

    def __iter__(self) -> Iterator[Any]:
        return iter(())

    def __mro_entries__(self, bases: tuple[Any, ...]) -> tuple[type, ...]:
        return ()


class _Nothing(ModuleType):
    """A module with every name in it."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return _StandIn()


class _Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Finds stand-ins for all that is not read as it is."""

    def __init__(self) -> None:
        self.given: list[str] = []

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> ModuleSpec | None:
        room = ".".join(fullname.split(".")[:2])
        ours = fullname.startswith("plumbstar.") and room not in OURS
        if ours or fullname.partition(".")[0] in HEAVY:
            return ModuleSpec(fullname, self, is_package=True)
        return None

    def create_module(self, spec: ModuleSpec) -> ModuleType:
        self.given.append(spec.name)
        return _Nothing(spec.name)

    def exec_module(self, module: ModuleType) -> None:
        """There is nothing in it."""


@contextmanager
def reading() -> Iterator[None]:
    """While this lasts, files are read with stand-ins. Whoever reads so may only print help."""
    finder = _Finder()
    sys.meta_path.insert(0, finder)
    try:
        yield
    finally:
        sys.meta_path.remove(finder)
        for name in finder.given:
            sys.modules.pop(name, None)
