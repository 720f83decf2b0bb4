"""Parts that a test needs and that a user's installation may lack.

Where the test tools were installed (`./dev` leaves a mark in `.venv`) a part that is missing is a
fault, and the test fails: skipped tests look like passed ones. Elsewhere they are skipped.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Any

import pytest

#: Whether the extra "dev" was installed here.
ALL_HERE = (Path(sys.prefix) / ".installed-dev").exists()


def module(name: str, all_here: bool | None = None) -> Any:
    """The module; skips what calls it where it is missing and may be."""
    if ALL_HERE if all_here is None else all_here:
        return importlib.import_module(name)
    return pytest.importorskip(name)


def program(found: str | None, name: str, all_here: bool | None = None) -> str:
    """The path that was found, if any; skips, or fails, as ``module`` does."""
    if found is not None:
        return found
    if ALL_HERE if all_here is None else all_here:
        pytest.fail(f"{name} is missing, though the test tools are installed (./dev lint)")
    pytest.skip(f"{name} is not installed")
