"""Comets and minor planets by name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property

from plumbstar.errors import UserError
from plumbstar.sky.bodies import NAMES, Body
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.naming import minor_source
from plumbstar.sky.naming.names import fold, letters, near_rank, nearest


class MinorBodies:
    """Bodies in the order that they came, found by any of their names."""

    def __init__(self, bodies: Sequence[MinorBody]) -> None:
        self._bodies = tuple(bodies)

    def __len__(self) -> int:
        return len(self._bodies)

    def __iter__(self) -> Iterator[MinorBody]:
        return iter(self._bodies)

    @cached_property
    def _by_name(self) -> dict[str, list[MinorBody]]:
        table: dict[str, list[MinorBody]] = {}
        for body in self._bodies:
            for word in dict.fromkeys(fold(w) for w in (body.name, *body.also)):
                table.setdefault(word, []).append(body)
        return table

    def match(self, text: str) -> MinorBody | None:
        """The one of that name, or None. Raises UserError where several share it."""
        key = fold(text)
        found = self._by_name.get(key) or self._by_name.get(key.removeprefix("comet")) or []
        whole = [b for b in found if fold(b.name) == key]
        if len(found) > 1 and len(whole) != 1:
            several = ", ".join(b.name for b in found[:6]) + (", ..." if len(found) > 6 else "")
            raise UserError(f"'{text}' means several: {several}", "one of them", "Type all of it")
        return (whole or found)[0] if found else None

    def search_ranked(self, text: str, n: int = 10) -> list[tuple[MinorBody, float]]:
        """Up to ``n`` for a search box, ranked as in ``Catalogue.search_ranked``."""
        key = fold(text).removeprefix("comet")
        if not key:
            return []
        ranked: dict[str, tuple[MinorBody, float]] = {}

        def keep(word: str, rank: float) -> None:
            for body in self._by_name[word]:
                if body.name not in ranked or ranked[body.name][1] > rank:
                    ranked[body.name] = (body, rank)

        for word in self._by_name:
            if word.startswith(key):
                keep(word, 0 if word == key else 1)
            elif key in word and len(key) > 2:
                keep(word, 3)
        for word, off in nearest(text, self._letters).items():
            keep(word, near_rank(off))
        return sorted(ranked.values(), key=lambda r: r[1])[:n]

    @cached_property
    def _letters(self) -> dict[str, int]:
        return {w: letters(w) for w in self._by_name if w.isalpha()}


def listed() -> MinorBodies:
    """All that the observer has elements of."""
    return minor_source.listed() or MinorBodies(())


def all_bodies() -> list[Body]:
    """Moon and planets, and all that the observer has elements of."""
    return [*(Body(name) for name in NAMES if name != "Sun"), *listed()]
