"""The stars of a controller's own list, as stars: its owner may spell them in any way."""

from __future__ import annotations

from functools import lru_cache

from plumbstar.errors import UserError
from plumbstar.kit import Controller
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.naming.lookup import find_target


@lru_cache(maxsize=16)
def _by_name(names: tuple[str, ...]) -> tuple[tuple[str, Star | None], ...]:
    found = []
    for name in names:
        try:
            target = find_target(name)
        except UserError:
            target = None
        found.append((name, target if isinstance(target, Star) else None))
    return tuple(found)


def stars_of(box: Controller) -> tuple[Star, ...]:
    """Those of the list, each once. Raises :class:`UserError` for a name that no star has."""
    for name, star in _by_name(box.stars):
        if star is None:
            find_target(name)  # a name that nothing has is refused with those that are near it
            raise UserError(f"'{name}' in the controller's list", "a star", "Correct the kit")
    return tuple({s.key: s for _, s in _by_name(box.stars) if s is not None}.values())


def in_list(target: object, box: Controller) -> bool:
    """Whether that star is in the list; names in it that no star has are passed over."""
    return isinstance(target, Star) and any(
        s is not None and s.key == target.key for _, s in _by_name(box.stars)
    )


def labels_of(box: Controller) -> tuple[str, ...]:
    """What the pages call them, each once; a name that no star has as it was written."""
    return tuple(dict.fromkeys(s.label if s is not None else n for n, s in _by_name(box.stars)))
