"""The licence of the code and the credits of the data, from wherever the program is installed."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from plumbstar.errors import UserError

#: As in pyproject.toml, ``license-files``.
NAMES = ("LICENSE", "DATA-LICENSES.md")


def credits() -> str:
    """Both texts whole. Raises UserError when a file is in neither of the places it can be."""
    return "\n\n".join(_read(name).strip() for name in NAMES)


def _read(name: str) -> str:
    """In a checkout beside ``src``; installed, with the package's own papers."""
    root = Path(__file__).parents[3]
    if (root / "pyproject.toml").is_file() and (root / name).is_file():
        return (root / name).read_text(encoding="utf-8")
    try:
        text = distribution("plumbstar").read_text(f"licenses/{name}")
    except PackageNotFoundError:
        text = None
    if text is None:
        raise UserError(
            f"The installed program lacks its file {name}, which belongs to every copy",
            "",
            "Install Plumbstar again",
        )
    return text
