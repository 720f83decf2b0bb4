"""Small secret files in the user's data directory, readable by nobody else."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

import platformdirs

from plumbstar.errors import UserError
from plumbstar.web.door.pairing import ALPHABET, CODE_LENGTH, new_code

KEY_BYTES = 32


def data_dir() -> Path:
    """Where this user's keys lie; made if need be."""
    path = Path(platformdirs.user_data_dir("plumbstar", appauthor=False))
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as e:
        raise UserError(
            f"The folder {path} for Plumbstar's data cannot be used ({e})",
            "",
            "Make room on the disk, or make that folder writable",
        ) from None
    return path


def write_private(path: Path, content: bytes) -> None:
    """Write the file whole, mode 0600 from its first byte on, or leave the old one."""
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    fresh.unlink(missing_ok=True)
    fd = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(fd, "wb") as f:
            f.write(content)
            f.flush()
            os.fsync(f.fileno())
        os.replace(fresh, path)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise


def session_key(directory: Path | None = None) -> bytes:
    """The key that signs session cookies: made once, so that phones stay paired over a restart.

    Deleting the file (docs/serving.md) unpairs every phone. Without a place to keep it a key is
    made for this run only.
    """
    try:
        path = (directory or data_dir()) / "session.key"
        if path.exists():
            key = path.read_bytes()
            if len(key) == KEY_BYTES:
                path.chmod(0o600)
                return key
        key = secrets.token_bytes(KEY_BYTES)
        write_private(path, key)
        return key
    except (OSError, UserError):
        return secrets.token_bytes(KEY_BYTES)


def kept_code(directory: Path | None = None) -> str:
    """The pairing code that stays the same from start to start: made once, for a computer without a
    screen to read a new one from.

    Deleting the file makes a new one. Raises :class:`UserError` where none can be kept.
    """
    path = (directory or data_dir()) / "pairing.code"
    try:
        if path.exists():
            code = path.read_text(encoding="ascii", errors="replace").strip()
            if len(code) == CODE_LENGTH and not set(code) - set(ALPHABET):
                path.chmod(0o600)
                return code
        code = new_code()
        write_private(path, code.encode())
    except OSError as e:
        raise UserError(
            f"The pairing code cannot be kept in {path} ({e})",
            "",
            "Make that folder writable, or leave out --keep-code",
        ) from None
    return code
