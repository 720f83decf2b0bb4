"""The device's UniqueID: made once and kept, so that a program knows the telescope again."""

from __future__ import annotations

import contextlib
import uuid
from pathlib import Path

from plumbstar.errors import UserError
from plumbstar.web.door.secrets_dir import data_dir, write_private


def unique_id(directory: Path | None = None) -> str:
    """The one kept in the data directory; for this run only where nothing can be kept."""
    fresh = str(uuid.uuid4())
    with contextlib.suppress(OSError, UserError, ValueError):
        path = (directory or data_dir()) / "alpaca-id"
        if path.exists():
            return str(uuid.UUID(path.read_text("ascii").strip()))
        write_private(path, fresh.encode())
    return fresh
