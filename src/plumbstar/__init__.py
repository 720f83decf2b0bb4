"""Plumbstar: point a hand-moved telescope from a few sightings, and know the odds.

What other programs may use is named in ``__all__`` and described, with examples, in docs/api.md.
Nothing of it is loaded before it is asked for (PEP 562), so that ``plumbstar --help`` is instant.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from plumbstar.errors import UserError
    from plumbstar.interface import (
        best_next_star,
        choose_stars,
        export_fix,
        hit_chance,
        in_words,
        load_kit,
        push_to,
        sight,
        solve_fix,
    )
    from plumbstar.kit import Kit
    from plumbstar.mount.sighting import Sighting
    from plumbstar.sky.site import Site
    from plumbstar.sky.times import Instant
    from plumbstar.solve.fix import Fix

__version__ = "0.1.0"

__all__ = [
    "Fix",
    "Instant",
    "Kit",
    "Sighting",
    "Site",
    "UserError",
    "__version__",
    "best_next_star",
    "choose_stars",
    "export_fix",
    "hit_chance",
    "in_words",
    "load_kit",
    "push_to",
    "sight",
    "solve_fix",
]

#: Where the names live that do not live in ``interface``.
_ELSEWHERE = {
    "Fix": "plumbstar.solve.fix",
    "Instant": "plumbstar.sky.times",
    "Kit": "plumbstar.kit",
    "Sighting": "plumbstar.mount.sighting",
    "Site": "plumbstar.sky.site",
    "UserError": "plumbstar.errors",
}


def __getattr__(name: str) -> object:
    """A public name, loaded when it is first asked for."""
    if name not in __all__:
        raise AttributeError(f"module 'plumbstar' has no attribute '{name}'")
    from importlib import import_module

    value: object = getattr(import_module(_ELSEWHERE.get(name, "plumbstar.interface")), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
