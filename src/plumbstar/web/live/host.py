"""How whatever goes on beside the evening asks it and tells it something."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol, TypeVar

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening

T = TypeVar("T")


class Host(Protocol):
    """The station, as its parts know it."""

    async def ask(self, question: Callable[[Evening], T]) -> T:
        """Something read from the evening, in its own thread, between two actions."""

    async def do(self, action: Callable[[Evening], T]) -> tuple[T, int]:
        """An action: done, painted and published. Returns what it gave, and the new version."""

    async def work(self, job: Callable[[], T]) -> T:
        """Long work on frozen things, beside the evening."""
