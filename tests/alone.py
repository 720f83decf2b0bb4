"""Import each module of the package alone, as if nothing of the package were loaded yet.

Run by ``test_layers.py`` in a process of its own. To execute everything below a module anew for
each of three hundred took half a minute: so a module that has been imported alone, and whatever it
brought with it then, is put back as it was where another imports it. Nothing else is there, so what
a module forgot to import is missing as before; and what a module in the midst of its import takes
part in (a circle) is executed anew, not put back.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator, Sequence
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec
from types import ModuleType

PACKAGE = "plumbstar"


class Kept(MetaPathFinder, Loader):
    """What has been imported alone, with all that it brought: name -> (name, module)s."""

    def __init__(self) -> None:
        self.brought: dict[str, dict[str, ModuleType]] = {}

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        brought = self.brought.get(name)
        if brought is None:
            return None
        if any(sys.modules.get(n, m) is not m for n, m in brought.items()):
            return None
        return ModuleSpec(name, self, is_package=hasattr(brought[name], "__path__"))

    def create_module(self, spec: ModuleSpec) -> ModuleType:
        return self.brought[spec.name][spec.name]

    def exec_module(self, module: ModuleType) -> None:
        """It was; with it comes what it brought."""
        brought = self.brought[module.__name__]
        sys.modules.update(brought)
        for name, came in brought.items():
            hang(name, came)


def loaded() -> Iterator[tuple[str, ModuleType]]:
    return ((n, m) for n, m in list(sys.modules.items()) if n.partition(".")[0] == PACKAGE)


def hang(name: str, module: ModuleType) -> None:
    """A module is an attribute of its package once it is loaded, unless the package has its own."""
    package, _, last = name.rpartition(".")
    if package and last not in vars(sys.modules[package]):
        setattr(sys.modules[package], last, module)


def forget() -> None:
    """Nothing of the package is loaded."""
    for name, module in loaded():
        package, _, last = name.rpartition(".")
        if package and vars(sys.modules[package]).get(last) is module:
            delattr(sys.modules[package], last)
    for name, _ in loaded():
        del sys.modules[name]


def import_each(names: Sequence[str]) -> None:
    """Import each alone. The order matters to the time only: best what is imported first."""
    kept = Kept()
    sys.meta_path.insert(0, kept)
    for name in names:
        forget()
        try:
            module = importlib.import_module(name)
        except Exception as e:
            raise ImportError(f"{name} alone: {e}") from e
        assert sys.modules[name] is module
        kept.brought[name] = dict(loaded())


if __name__ == "__main__":
    import_each(sys.argv[1:])
