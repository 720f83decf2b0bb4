"""From bytes and moments to readings, with nothing but arithmetic: no clock, no port.

The source hands over what came and when; the tracker says what the reading is now and, in plain
words, what is wrong. Every moment is an argument, so all of it is tested without waiting.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from plumbstar.encoders.counter import PairCounter, Snapshot
from plumbstar.encoders.limits import USUAL_LIMITS, Limits
from plumbstar.encoders.parse import Counts, ReplyParser
from plumbstar.encoders.reading import History, Reading, State
from plumbstar.errors import UserError
from plumbstar.kit import Connection, Kit
from plumbstar.mount.slips import slip_words
from plumbstar.turns import half_turn_deg


@dataclass(frozen=True, slots=True)
class Timing:
    """Seconds. Common practice, no source."""

    stale_s: float = 1.0
    """A reading older than this (and than three usual intervals) is stale."""
    reply_s: float = 0.5
    """How long a poll waits for its reply before it is sent again."""
    quiet_s: float = 0.25
    """Silence after which a reply without line end is taken as whole, the first time."""
    quiet_bare_s: float = 0.04
    """The same once the board is known to send no line ends."""
    first_retry_s: float = 0.25
    """Wait before the first attempt to reconnect; it doubles each time, up to ..."""
    last_retry_s: float = 2.0
    """... this."""
    open_s: float = 5.0
    """How long opening may take."""
    silent_tcp_s: float = 5.0
    """A TCP connection this silent is closed and opened again: the far end may be gone."""
    silent_serial_s: float = 30.0
    """The same for a serial port; longer, since opening one restarts some boards."""


USUAL_TIMING: Final = Timing()

#: What the altitude reads on the upright stop; how far the stop is off is for the fix to find.
UPRIGHT_DEG: Final = 90.0
#: An altitude this far outside the kit's limits is doubted: stops and zeros are off by less.
BEYOND_DEG: Final = 5.0


def place(connection: Connection) -> str:
    """Where the board is, as the observer would say it."""
    if connection.kind == "tcp":
        return f"{connection.host} port {connection.port}"
    return connection.device or "the encoders"


class Tracker:
    """The present reading of one telescope, from bytes or from typing.

    Times are seconds: ``now`` of a steady clock, ``unix`` of the wall clock.
    """

    def __init__(
        self, kit: Kit, timing: Timing = USUAL_TIMING, limits: Limits = USUAL_LIMITS
    ) -> None:
        self._kit = kit
        self._timing = timing
        self._typed = not kit.connection.heard
        self.parser = ReplyParser.for_connection(kit.connection)
        ticks = (kit.azimuth.ticks_per_turn or 1, kit.altitude.ticks_per_turn or 1)
        self.counter = PairCounter(ticks, limits)
        az_sign, alt_sign = (-1.0 if c.reversed else 1.0 for c in (kit.azimuth, kit.altitude))
        self._deg_per_tick = (az_sign * 360.0 / ticks[0], alt_sign * 360.0 / ticks[1])
        self._zero_deg = (0.0, UPRIGHT_DEG if kit.stop.counts_from_zero else 0.0)
        self.history = History()
        self._last: Reading | None = None  # the newest believed, as it was then
        self._open = False
        self._why = ""  # why it is not open
        self._since = 0.0  # when it opened
        self._bytes_at: float | None = None
        self._line_at: float | None = None  # the last line with two whole numbers
        if self._typed:
            self.latest = Reading(problem="type the two readings")
        else:
            self.latest = Reading(problem=f"connecting to {place(kit.connection)}")

    # ------------------------------------------------------------------ the connection

    def opened(self, now: float) -> None:
        """The port or socket is open; nothing has been heard yet."""
        self._open = True
        self._why = ""
        self._since = now
        self._bytes_at = self._line_at = None
        self.parser.restart()
        self.counter.interrupted()
        self._refresh(now)

    def lost(self, now: float, why: str) -> None:
        """The port or socket is shut or would not open; ``why`` is a sentence for the observer."""
        if self._open:
            self.counter.interrupted()
        self._open = False
        self._why = why
        self._refresh(now)

    def silent_s(self, now: float) -> float:
        """How long nothing at all has been heard on this connection."""
        return now - max(self._since, self._bytes_at if self._bytes_at is not None else self._since)

    # ------------------------------------------------------------------ what is heard

    def feed(self, data: bytes, now: float, unix: float) -> int:
        """Take bytes. Returns how many lines held two whole numbers; ``latest`` is up to date."""
        if data:
            self._bytes_at = now
        return self._take(self.parser.feed(data), now, unix)

    def flush(self, heard: float, now: float, unix: float) -> int:
        """The board has gone quiet since ``heard``: take an unfinished line as a whole reply."""
        return self._take(self.parser.flush(), heard, unix - (now - heard), now)

    def _take(self, lines: list[Counts], at: float, unix: float, now: float | None = None) -> int:
        for counts in lines:
            self._line_at = at
            if self.counter.feed(counts, at):
                self._record(at, unix)
        self._refresh(at if now is None else now)
        return len(lines)

    def _record(self, at: float, unix: float) -> None:
        total, raw = self.counter.total, self.counter.raw
        if total is None or raw is None:
            return
        az, alt = (
            zero + t * scale
            for t, scale, zero in zip(total, self._deg_per_tick, self._zero_deg, strict=True)
        )
        if self._kit.stop.counts_from_zero:
            alt = half_turn_deg(alt)  # a count that begins again each turn may show a turn too much
        slip, number = bool(self.counter.slips), self.counter.slips_before
        unseen = self.counter.pace.unseen_deg
        self._last = Reading(az, alt, *raw, at, unix, "live", slip, number, "", unseen)
        # A slow board's readings lie further apart, and hold until its next.
        usual = self.counter.usual_s
        self.history.bridge_s, self.history.hold_s = max(0.6, 1.5 * usual), max(1.2, 2.5 * usual)
        self.history.add(self._last)

    # ------------------------------------------------------------------ what is done to it

    def tick(self, now: float) -> None:
        """Let time pass: ``latest`` grows old, and its words say for how long."""
        self._refresh(now)

    def acknowledge(self, now: float, number: int) -> None:
        """A star has been sighted since, so slips up to that number no longer matter."""
        self.counter.acknowledge(number)
        if self._last is not None:
            self._last = replace(self._last, slip=bool(self.counter.slips))
        self._refresh(now)

    def set_reading(
        self, now: float, az_deg: float | None = None, alt_deg: float | None = None
    ) -> None:
        """Call the present place by these values, as when the tube rests on the upright stop.

        Later readings run on from there, and those kept since the last possible slip are read so,
        too: a press may still be on its way. Older ones are forgotten. Raises :class:`UserError`
        when there is no live reading to attach them to.
        """
        if self._typed:
            raise UserError(
                "This telescope's readings are typed, so there is no count to set",
                "",
                "Type what the circles show; the fix finds their zeros",
            )
        if self.latest.state != "live" or self._last is None:
            raise UserError(
                f"The encoders do not answer just now: {self.latest.problem or self.latest.state}",
                "",
                "Nothing was changed. When they answer again, press once more",
            )
        az, alt = self._last.degrees()
        az_by = 0.0 if az_deg is None else az_deg - az
        alt_by = 0.0 if alt_deg is None else alt_deg - alt
        self._zero_deg = (self._zero_deg[0] + az_by, self._zero_deg[1] + alt_by)
        self.history.call_anew(az_by, alt_by, self._last.slips_before)
        self._record(self._last.at_monotonic, self._last.at_unix)
        self._refresh(now)

    def type_reading(self, az_deg: float, alt_deg: float, now: float, unix: float) -> None:
        """A reading typed by the observer (already in the sense of the mount; see typed.py)."""
        if not self._typed:
            raise UserError(
                "This telescope's readings come from its encoders, as the kit says",
                "",
                "Nothing was changed. To type them, set connection.kind = 'typed' in the kit",
            )
        self._last = Reading(az_deg, alt_deg, None, None, now, unix, "typed")
        self.history.add(self._last)
        self.latest = self._last

    def snapshot(self) -> tuple[Snapshot, tuple[float, float]] | None:
        """What :meth:`resume` needs to carry on after the program is started again."""
        s = self.counter.snapshot()
        return None if s is None else (s, self._zero_deg)

    def resume(self, old: tuple[Snapshot, tuple[float, float]]) -> None:
        """Carry on from an earlier run; a count that has changed meanwhile is a possible slip."""
        snapshot, self._zero_deg = old
        self.counter.resume(snapshot)

    # ------------------------------------------------------------------ what to say

    def _refresh(self, now: float) -> None:
        if self._typed:
            return
        stale_s = max(self._timing.stale_s, 3.0 * self.counter.usual_s)
        old = self._last is None or now - self._last.at_monotonic > stale_s
        state: State
        if self._last is None:
            state = "absent"
        elif old or not self._open:
            state = "stale"
        else:
            state = "live"
        words = [self._trouble(now, old, stale_s)]
        if self.counter.slips:
            why = slip_words(self.counter.slips[-1].causes)
            words.append(f"possible slip: {why}. Sight a star again")
        elif state == "live":
            words.append(self.counter.doubt(now) or self._beyond())
        problem = "; ".join(w for w in words if w)
        last, slip = self._last, bool(self.counter.slips)
        if last is None:
            self.latest = Reading(state="absent", problem=problem)
        elif (last.state, last.slip, last.problem) == (state, slip, problem):
            self.latest = last
        else:
            self.latest = replace(last, state=state, slip=slip, problem=problem)

    def _beyond(self) -> str:
        """A hint where the altitude reads what the kit says the tube cannot; no proof either."""
        t, last = self._kit.telescope, self._last
        if last is None or last.alt_deg is None:
            return ""
        if t.min_alt_deg - BEYOND_DEG <= last.alt_deg <= t.max_alt_deg + BEYOND_DEG:
            return ""
        return (
            f"the altitude reads {last.alt_deg:.0f} deg, where the tube cannot be: "
            "sight a star again, or tell where the upright stop is"
        )

    def _trouble(self, now: float, old: bool, stale_s: float) -> str:
        """Why there is no fresh reading, in plain words; empty when there is one."""
        where = place(self._kit.connection)
        if not self._open:
            return self._why or f"connecting to {where}"
        if not old:
            return ""
        silent = self.silent_s(now)
        if silent > stale_s:
            if self._bytes_at is None and not self._kit.connection.pushed:
                return (
                    f"{where} is open but has not answered for {silent:.0f} s: "
                    "check the poll string, the baud rate and the cable"
                )
            return f"no bytes for {silent:.0f} s: is the cable in?"
        if self._bytes_at is None:
            return f"{where} is open, nothing heard yet"
        if self._line_at is None or now - self._line_at > stale_s:
            seen = f" (last: '{self.parser.last_junk}')" if self.parser.last_junk else ""
            return (
                f"bytes come, but no line with two whole numbers{seen}: "
                "check the baud rate, the poll string and base"
            )
        if self.counter.total is None or now - self.counter.at_s > stale_s:
            return "the counts leap about from line to line: check the baud rate and the wiring"
        return ""
