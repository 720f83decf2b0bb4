"""The evening's one clock. Everything that needs the time is given it; nobody asks the system.

A phone's clock is never used: a page says how many milliseconds ago the finger touched, and the
moment is counted back from the server's own receipt.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from plumbstar.sky.times import Instant


class EveningClock:
    """UTC for the sky, and a steady clock for how long things take.

    ``start`` sets the evening to that moment and lets it run on from there (for a rehearsal by
    day); without it the system's UTC is followed. ``unix`` and ``monotonic`` are the system's
    clocks, in seconds, or a test's.
    """

    def __init__(
        self,
        start: Instant | None = None,
        *,
        unix: Callable[[], float] = time.time,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self._system = unix
        self.monotonic = monotonic
        self._start = start.to_unix() if start is not None else None
        self._began = monotonic()

    def unix(self) -> float:
        """Seconds since 1970, UTC, of the evening."""
        if self._start is None:
            return self._system()
        # Counted on the steady clock, so that a rehearsal does not jump when the system's is set.
        return self._start + (self.monotonic() - self._began)

    def system_unix(self) -> float:
        """Seconds since 1970 by the system's clock, whatever evening it is."""
        return self._system()

    def now(self) -> Instant:
        """The evening's present moment."""
        return Instant.from_unix(self.unix())

    def at(self, monotonic: float) -> Instant:
        """The moment at which the steady clock showed that."""
        return Instant.from_unix(self.unix() - (self.monotonic() - monotonic))
