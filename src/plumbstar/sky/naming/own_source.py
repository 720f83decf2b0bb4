"""Where the look-up asks for the observer's own objects: nowhere, until a program says where.

The sky's arithmetic touches no disk. The command line names a source when it starts (cli.py), and
the look-up asks it each time, so that objects added while the pages are open are found at once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # so that --help loads no arithmetic
    from plumbstar.sky.lists.deepsky import DeepSkyList

_source: Callable[[], DeepSkyList] | None = None


def use(source: Callable[[], DeepSkyList] | None) -> None:
    """Ask this from now on; None for no own objects."""
    global _source
    _source = source


def listed() -> DeepSkyList | None:
    """The observer's own objects, or None. Raises UserError when they cannot be read."""
    return None if _source is None else _source()
