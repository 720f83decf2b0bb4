"""Where the look-up asks for comets and minor planets: nowhere, until a program says where.

As with the observer's own objects, the sky's arithmetic touches no disk.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # so that --help loads no arithmetic
    from plumbstar.sky.naming.minor_bodies import MinorBodies

_source: Callable[[], MinorBodies] | None = None


def use(source: Callable[[], MinorBodies] | None) -> None:
    """Ask this from now on; None for none."""
    global _source
    _source = source


def listed() -> MinorBodies | None:
    """All that the observer has elements of, or None."""
    return None if _source is None else _source()
