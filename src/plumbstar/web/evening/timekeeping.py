"""The server's own idea of the time: doubts about the clock, what a phone or GPS told, and which
saved entries a better clock shows to be wrong.

The system's clock is never set. What was told is kept in the logbook with the name of this run of
the computer: after a mere restart of the server it holds on, after a restart of the computer (whose
clock may be right by then) it does not.
"""

from __future__ import annotations

import datetime as dt
import importlib.metadata
from dataclasses import dataclass

import msgspec

from plumbstar.clock import doubts as clock_check
from plumbstar.clock.clock import EveningClock
from plumbstar.clock.doubts import Finding
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, Outing, TimedBy
from plumbstar.logbook.correct import Shifts
from plumbstar.logbook.words import signed_clock
from plumbstar.sky.times import Instant

TOLD, TRUSTED, LEFT = "clock_told", "clock_trusted", "times_left"
SOURCES = {"phone": "a phone", "gps": "the GPS"}
#: Before this no copy of this version was made.
RELEASED = dt.date(2026, 11, 1)


def not_before() -> float:
    """The day of the program's own tables: whoever has them lives later. Seconds since 1970."""
    day = RELEASED
    try:
        # Its version is the table's date, as 0.2026.11.2.0.34.55.
        parts = importlib.metadata.version("astropy-iers-data").split(".")
        day = max(day, dt.date(int(parts[1]), int(parts[2]), int(parts[3])))
    except (importlib.metadata.PackageNotFoundError, ValueError, IndexError):
        pass
    return dt.datetime.combine(day, dt.time(), dt.UTC).timestamp()


class Told(msgspec.Struct, frozen=True):
    """What is kept of a time that was told."""

    boot: str
    zero: float
    source: str


@dataclass(frozen=True)
class Offer:
    """Saved entries that the present clock shows to be wrong, and the question about them."""

    shifts: Shifts
    count: int
    sentence: str


class Timekeeping:
    """Made before the evening, which must come up by the right clock. Rests in its thread."""

    def __init__(self, book: Logbook, clock: EveningClock, earliest: float | None = None) -> None:
        self.book, self.clock = book, clock
        self.earliest = not_before() if earliest is None else earliest
        # Read before anything is written by a clock that may be wrong.
        history = book.history(1)
        self._last = history[0].at.to_unix() if history else None
        #: The same as a clock that runs on since the start: UTC at the steady clock's zero.
        self.last_entry_zero = self._last - clock.steady() if self._last is not None else None
        trusted = book.get_setting(TRUSTED)
        self._trusted = isinstance(trusted, int | float) and trusted == self._last
        self._take_back()
        self._system_zero = clock.system_zero
        self._said_of_it: tuple[str, ...] = ()
        book.basis = clock.basis

    def _take_back(self) -> None:
        try:
            told = msgspec.convert(self.book.get_setting(TOLD), Told | None)
        except msgspec.ValidationError:
            return
        if told is None or self.clock.rehearsal:
            return
        # The system's clock has been set meanwhile and agrees: then it needs no help.
        near = abs(told.zero - self.clock.system_zero) < clock_check.MATTERS_S
        if told.source in SOURCES and not near:
            self.clock.take(TimedBy(told.boot, told.zero), told.source)

    # ---- doubts ----------------------------------------------------------------------------

    def findings(self) -> tuple[Finding, ...]:
        """What the computer itself can say against its clock."""
        if self.clock.rehearsal or self.clock.source:
            return ()
        return clock_check.look(
            self.clock.unix(),
            not_before=self.earliest,
            last_entry=None if self._trusted else self._last,
            jumped_s=self.clock.system_zero - self._system_zero,
        )

    def doubts_have_changed(self) -> bool:
        """Whether other findings speak against the clock than when this was asked last."""
        doubts = tuple(f.kind for f in self.findings())
        changed, self._said_of_it = doubts != self._said_of_it, doubts
        return changed

    @property
    def unknown(self) -> bool:
        """Whether the moment, and so the Sun's place, is not known at all."""
        return any(f.kind in clock_check.UNKNOWN for f in self.findings())

    def against_phone(self, received: float, phone_s: float, round_trip_s: float) -> Finding | None:
        """Whether a phone's clock differs; ``received``: our steady moment of its question."""
        if self.clock.rehearsal:
            return None
        return clock_check.against_phone(self.clock.at(received).to_unix(), phone_s, round_trip_s)

    def trust(self) -> None:
        """The observer says that the computer's clock is right as it is."""
        self._system_zero = self.clock.system_zero
        self._trusted = True
        self.book.set_setting(TRUSTED, self._last)

    # ---- being told ------------------------------------------------------------------------

    def take_phone(self, received: float, phone_s: float, round_trip_s: float) -> float:
        """Go by a phone's time, by consent; returns by how much that moves the evening's clock.

        Raises :class:`UserError` for a rehearsal, a slow link, or a phone that is wrong itself.
        """
        if round_trip_s > clock_check.SLOWEST_LINK_S:
            raise UserError(
                f"The link to this phone is slow, {round_trip_s:.1f} s there and back (at most "
                f"{clock_check.SLOWEST_LINK_S:g} s): its time could be half of that wrong",
                "",
                "Come nearer and try again",
            )
        return self.take(received, phone_s + round_trip_s / 2.0, "phone")

    def take(self, monotonic: float, unix: float, source: str) -> float:
        """It was ``unix`` when the steady clock showed ``monotonic``: go by it from now on."""
        if self.clock.rehearsal:
            raise UserError(
                "This evening runs by a start time that the server was given, not by the present "
                "time",
                "",
                "Start the server without that time to use another clock",
            )
        if not self.earliest <= unix <= Instant.parse("2100-01-01").to_unix():
            raise UserError(
                f"The time from {SOURCES[source]} cannot be right"
                + (f": {Instant.from_unix(unix).iso()}" if abs(unix) < 1e11 else ""),
                "",
                "Set that clock first",
            )
        by = unix - self.clock.at(monotonic).to_unix()
        self.clock.told(unix, monotonic, source)
        basis = self.clock.basis()
        assert basis is not None
        self.book.set_setting(TOLD, msgspec.to_builtins(Told(basis.boot, basis.zero, source)))
        return by

    @property
    def offset_s(self) -> float:
        """The evening's clock minus the system's, seconds; 0 while the system's is followed."""
        return self.clock.real_unix() - self.clock.system_unix() if self.clock.source else 0.0

    # ---- entries timed by another clock ----------------------------------------------------

    def offer(self, outing: Outing | None) -> Offer | None:
        """What to ask about the outing's saved times, or None: nothing wrong, or answered."""
        basis = self.clock.basis()
        if outing is None or basis is None or self.unknown:
            return None
        shifts = self.book.shifts_to(outing.id, basis, clock_check.MATTERS_S)
        left = self.book.state(outing.id).get(LEFT)
        if not shifts or (isinstance(left, int | float) and abs(left - basis.zero) < 1.0):
            return None
        kept = {s.id for s in self.book.sightings(outing.id)}
        n = len(kept & set(shifts.sightings))
        if n:
            what, it = (
                (f"These {n} sightings were", "them") if n > 1 else ("This sighting was", "it")
            )
        elif shifts.shown:
            n = len(shifts.shown)
            what, it = (
                (f"These {n} presses beside the controller were", "them")
                if n > 1
                else ("This press beside the controller was", "it")
            )
        elif shifts.finds or shifts.notes:
            what, it = "These other entries were", "them"
        else:
            what, it = "The outing's start was", "it"
        sentence = f"{what} timed by the wrong clock: correct {it} by {shifts.words}?"
        return Offer(shifts, n, sentence)

    def leave(self, outing: Outing) -> None:
        """The observer says that the saved times are right: not asked again for this clock."""
        basis = self.clock.basis()
        if basis is not None:
            self.book.update_state(outing.id, **{LEFT: basis.zero})

    @property
    def sentence(self) -> str:
        """By whose clock the pages go, if not the computer's."""
        if not self.clock.source:
            return ""
        return (
            f"The pages go by {SOURCES[self.clock.source]}'s time: "
            f"{signed_clock(self.offset_s)} from this computer's clock, which was not touched."
        )
