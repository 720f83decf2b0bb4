"""What was worked out of entries, kept beside the logbook so that it need not be done again.

One file, the logbook's name with ``-worked-out`` put to it. It holds nothing that was observed:
without it, or where it cannot be read or written, all is worked out anew. What is kept stands under
a hash of everything that went into it, the program's own text too, so a newer program, another kit,
or an entry that was deleted or corrected finds nothing there and works it out again.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import threading
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Any, ParamSpec, Self, TypeVar, get_origin

import msgspec
import numpy as np
from msgspec.msgpack import Decoder, Encoder

import plumbstar
from plumbstar.logbook.store import Logbook

P = ParamSpec("P")
T = TypeVar("T")

#: No more than so many bytes are kept; what was longest not asked for goes first.
MOST_BYTES = 4_000_000
_DIGEST = 16


class WorkedOut:
    """``with WorkedOut.beside(book) as known: known.of(decoder, function, ...)``."""

    def __init__(self, path: Path | None) -> None:
        self._path = path if _program() else None
        self._kept = _read(self._path) if self._path is not None else {}
        self._new = False

    @classmethod
    def beside(cls, book: Logbook) -> Self:
        """That of a logbook; for one in memory, or that cannot be written, nothing is kept."""
        kept = not (book.path == ":memory:" or book.readonly) and book.in_place()
        return cls(place(Path(book.path)) if kept else None)

    def of(
        self, result: Decoder[T], function: Callable[P, T], *args: P.args, **more: P.kwargs
    ) -> T:
        """What a pure function makes of its arguments, by itself or as it was worked out before.

        Arguments and result are records, arrays and plain values; ``result`` is :func:`kind` of
        the latter. What the function raises is raised, and not kept.
        """
        key = (f"{function.__module__}.{function.__qualname__}", args, more)
        return self.under(result, lambda: key, lambda: function(*args, **more))

    def under(
        self, result: Decoder[T], key: Callable[[], tuple[object, ...]], make: Callable[[], T]
    ) -> T:
        """The same of what hangs on ``key`` and on nothing else. The key is asked again once it is
        made: what was made while somebody else changed an entry is not kept."""
        asked = _hashed(key())
        if asked in self._kept:
            self._kept[asked] = self._kept.pop(asked)  # the last asked for stands last
            with contextlib.suppress(msgspec.MsgspecError, ValueError, TypeError, IndexError):
                return result.decode(self._kept[asked])
        made = make()
        if _hashed(key()) == asked:
            self._kept[asked], self._new = _ENCODER.encode(made), True
        return made

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, tb: TracebackType | None
    ) -> None:
        if self._path is not None and self._new:
            _write(self._path, self._kept)


def _hashed(key: tuple[object, ...]) -> bytes:
    raw = _ENCODER.encode(key)
    return hashlib.blake2b(raw, digest_size=_DIGEST, key=_program()).digest()


def place(path: Path) -> Path:
    """Where that of the logbook at ``path`` lies."""
    return Path(f"{path}-worked-out")


def kind(of: Any) -> Decoder[Any]:
    """How a result of that type is read back: a frozen record, arrays among its fields."""
    return Decoder(of, dec_hook=_array)


def _plain(x: object) -> object:
    if isinstance(x, np.ndarray):
        return (x.dtype.str, x.shape, x.tobytes())
    if isinstance(x, np.generic):
        return x.item()
    raise NotImplementedError(type(x).__name__)


def _array(of: Any, x: Any) -> Any:
    if (get_origin(of) or of) is not np.ndarray:
        raise TypeError(f"no {of} is kept")
    dtype, shape, raw = x
    return np.frombuffer(raw, dtype=dtype).reshape(shape).copy()


_ENCODER = Encoder(enc_hook=_plain)


@cache
def _program() -> bytes:
    """Stands for this program and what it reckons with; empty where its text cannot be read."""
    root = Path(plumbstar.__file__).parent
    said = hashlib.blake2b(f"{sys.version} {np.__version__}".encode(), digest_size=32)
    # Whatever the arithmetic of the mount is written in; the sky's is in the entries already.
    rooms = ("units.py", "kit", "mount", "solve", "choose", "diagnose", "logbook")
    try:
        files = [p for room in rooms for p in _texts(root / room)]
        for p in files:
            said.update(p.read_bytes())
    except OSError:
        return b""
    return said.digest() if len(files) > len(rooms) else b""


def _texts(room: Path) -> list[Path]:
    return sorted(room.rglob("*.py")) if room.is_dir() else [room]


def _read(path: Path) -> dict[bytes, bytes]:
    """What is kept there; nothing of a file that is not whole."""
    try:
        raw = path.read_bytes()
        if hashlib.blake2b(raw[_DIGEST:], digest_size=_DIGEST).digest() != raw[:_DIGEST]:
            return {}
        return dict(msgspec.msgpack.decode(raw[_DIGEST:], type=list[tuple[bytes, bytes]]))
    except (OSError, msgspec.MsgspecError):
        return {}


def _write(path: Path, kept: dict[bytes, bytes]) -> None:
    """Put it in the place of the one before; where that cannot be done nothing is lost."""
    rows, left = [], MOST_BYTES
    for key, value in reversed(kept.items()):
        left -= len(key) + len(value)
        if left < 0:
            break
        rows.append((key, value))
    raw = _ENCODER.encode(rows[::-1])
    part = path.with_name(f"{path.name}.{os.getpid()}-{threading.get_ident()}.part")
    with contextlib.suppress(OSError):
        try:
            part.write_bytes(hashlib.blake2b(raw, digest_size=_DIGEST).digest() + raw)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
