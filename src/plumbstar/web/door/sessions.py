"""Signed session cookies: a phone that typed the code is known for a night."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections.abc import Callable

COOKIE = "plumbstar"
SESSION_SECONDS = 16 * 3600  # one night; the phone is not asked again while it lasts


class Sessions:
    """Signed session cookies: nothing is stored, so they outlive a restart of the server.

    ``key`` is secret (32 bytes, kept in the data directory). A cookie is its moment of issue, a
    random part and an HMAC-SHA256 of both (RFC 2104).
    """

    def __init__(self, key: bytes, clock: Callable[[], float] | None = None) -> None:
        from plumbstar.clock.clock import steady  # the logbook comes with it

        self._key = key
        # Steady while the server runs: a board whose clock is set in mid-evening keeps its phones.
        # A cookie must outlive a restart, and for that only the system's clock will do: one from
        # 1970 is too old then, and the phone types the code again.
        began = time.time() - steady()
        self._clock = clock or (lambda: began + steady())

    def _sign(self, text: str) -> str:
        return hmac.new(self._key, text.encode(), hashlib.sha256).hexdigest()

    def issue(self) -> str:
        """A new cookie's value."""
        text = f"{int(self._clock())}.{secrets.token_hex(16)}"
        return f"{text}.{self._sign(text)}"

    def valid(self, value: str) -> bool:
        """Whether it was issued here and is not too old."""
        text, _, sign = value.rpartition(".")
        if not text or not hmac.compare_digest(sign.encode(), self._sign(text).encode()):
            return False
        # Signed, so it is a number; a clock set back counts as young.
        return self._clock() - int(text.partition(".")[0]) <= SESSION_SECONDS
