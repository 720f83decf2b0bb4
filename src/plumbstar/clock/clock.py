"""The evening's one clock. Everything that needs the time is given it; nobody asks the system.

A phone's clock counts only where the observer consents to it (:meth:`EveningClock.told`). A press
is timed otherwise: a page says how many milliseconds ago the finger touched, and the moment is
counted back from the server's own receipt.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable
from pathlib import Path

from plumbstar.logbook.records import TimedBy
from plumbstar.sky.times import Instant


def steady() -> float:
    """Seconds of a clock that nobody can set and that, where the system has one, runs on in sleep.

    Linux: CLOCK_BOOTTIME (clock_getres(2)); elsewhere CLOCK_MONOTONIC or the nearest thing.
    """
    for name in ("CLOCK_BOOTTIME", "CLOCK_MONOTONIC"):
        which = getattr(time, name, None)
        if which is not None:
            return time.clock_gettime(which)
    return time.monotonic()


_steady_of_the_system = steady


def boot_name() -> str:
    """A name for this run of the computer, in which the steady clock means one thing.

    Where the system does not tell (it does on Linux, random(4)), one for this process alone: then
    nothing that was said of the clock outlives a restart, which is the safe side.
    """
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return f"process-{uuid.uuid4().hex}"


class EveningClock:
    """UTC for the sky, and a steady clock for how long things take.

    ``start`` sets the evening to that moment and lets it run on from there (for a rehearsal by
    day); without it the system's UTC is followed, until somebody who knows tells the time: then it
    is counted on the steady clock from what was told, whatever the system's clock does.
    ``unix``, ``monotonic`` and ``steady`` are the system's clocks, in seconds, or a test's.
    """

    def __init__(
        self,
        start: Instant | None = None,
        *,
        unix: Callable[[], float] = time.time,
        monotonic: Callable[[], float] = time.monotonic,
        steady: Callable[[], float] | None = None,
        boot: str | None = None,
    ) -> None:
        self._system = unix
        self.monotonic = monotonic
        if steady is None:
            steady = _steady_of_the_system if monotonic is time.monotonic else monotonic
        self.steady: Callable[[], float] = steady
        self.boot = boot_name() if boot is None else boot
        self._start = start.to_unix() if start is not None else None
        self._began = monotonic()
        self._zero: float | None = None
        #: Who told the time: "" for the system.
        self.source = ""

    @property
    def rehearsal(self) -> bool:
        """Whether this is an evening set by hand."""
        return self._start is not None

    def unix(self) -> float:
        """Seconds since 1970, UTC, of the evening."""
        if self._start is None:
            return self.real_unix()
        # Counted on the steady clock, so that a rehearsal does not jump when the system's is set.
        return self._start + (self.monotonic() - self._began)

    def real_unix(self) -> float:
        """Seconds since 1970, UTC, as well as is known, whatever evening it is."""
        return self._system() if self._zero is None else self._zero + self.steady()

    def system_unix(self) -> float:
        """Seconds since 1970 by the system's clock, whatever evening it is."""
        return self._system()

    def now(self) -> Instant:
        """The evening's present moment."""
        return Instant.from_unix(self.unix())

    def at(self, monotonic: float) -> Instant:
        """The moment at which the steady clock showed that."""
        return Instant.from_unix(self.unix() - (self.monotonic() - monotonic))

    # ---- being told ------------------------------------------------------------------------

    def told(self, unix: float, monotonic: float, source: str) -> None:
        """It was ``unix`` when ``monotonic`` showed that: from now on this holds."""
        self._zero = unix - (self.steady() - (self.monotonic() - monotonic))
        self.source = source

    def take(self, clock: TimedBy, source: str) -> bool:
        """Go on by what was told before a restart, if the computer has run on since."""
        if clock.boot == self.boot:
            self._zero, self.source = clock.zero, source
        return clock.boot == self.boot

    @property
    def system_zero(self) -> float:
        """UTC of the steady clock's zero by the system's clock: it moves only when that is set."""
        return self._system() - self.steady()

    def basis(self) -> TimedBy | None:
        """By which clock moments are timed now; None in a rehearsal, where no clock is meant."""
        if self.rehearsal:
            return None
        return TimedBy(self.boot, self.system_zero if self._zero is None else self._zero)
