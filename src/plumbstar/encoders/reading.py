"""One reading, and the last few minutes of them."""

from __future__ import annotations

import bisect
import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from plumbstar.errors import UserError

State = Literal["live", "stale", "typed", "absent"]


class NothingCentred(UserError):
    """The press can be of no star: sent again, it would be refused again."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What the circles or encoders say, before any correction, and how far to trust it.

    ``az_deg`` and ``alt_deg`` are None only while ``state`` is "absent"; azimuth is continuous, so
    it may run past 360 or below 0. ``az_count`` and ``alt_count`` are the board's raw counts, None
    for typed readings. ``at_monotonic`` and ``at_unix`` (seconds) say when the counts arrived, not
    when they were looked at: an old reading keeps its old time.

    "live": heard just now. "stale": the last one heard, but nothing since. "typed": from a circle.
    ``slip`` stays true until the observer has sighted a star again; ``slips_before`` is the number
    of the last possible slip before it, settled or not; ``problem`` is empty or a plain
    sentence for the screen. ``unseen_deg``: how far the tube had gone between lines too far apart
    to tell a hand from a jump of the count, ever since these encoders were first heard.
    """

    az_deg: float | None = None
    alt_deg: float | None = None
    az_count: int | None = None
    alt_count: int | None = None
    at_monotonic: float = 0.0
    at_unix: float = 0.0
    state: State = "absent"
    slip: bool = False
    slips_before: int = 0
    problem: str = ""
    unseen_deg: float = 0.0

    @property
    def usable(self) -> bool:
        """True if a sighting may be recorded from it: live or typed."""
        return self.state in ("live", "typed")

    def degrees(self) -> tuple[float, float]:
        """Azimuth and altitude as read. Raises :class:`UserError` while there is no reading."""
        if self.az_deg is None or self.alt_deg is None:
            raise UserError(
                f"There is no reading now: {self.problem or self.state}",
                "",
                "Get the encoders to answer, or type the two readings",
            )
        return self.az_deg, self.alt_deg


#: So long readings are kept: a press may come so late, and the pages are told.
KEEP_S: Final = 600.0
#: A press whose readings are typed is good however late it comes: half a night.
TYPED_KEEP_S: Final = 12 * 3600.0


def press_kept_s(heard: bool) -> float:
    """How late a press may come and still be of use, seconds, by whether readings are ``heard``."""
    return KEEP_S if heard else TYPED_KEEP_S


class History:
    """The readings of the last ``keep_s`` seconds in the order of their time.

    However fast the board: of readings closer together than ``apart_s``, and of those at rest, only
    as many are kept as it takes to draw the line between them.
    """

    def __init__(
        self,
        keep_s: float = KEEP_S,
        *,
        bridge_s: float = 0.6,
        hold_s: float = 1.2,
        apart_s: float = 0.04,
    ) -> None:
        self._readings: deque[Reading] = deque()
        self._keep_s, self._apart_s = keep_s + 10.0, apart_s  # and what the network takes
        self.bridge_s = bridge_s
        """The longest gap between two readings that is bridged by a straight line."""
        self.hold_s = hold_s
        """How long past the newest reading it is still taken to hold."""

    def __len__(self) -> int:
        return len(self._readings)

    def __iter__(self) -> Iterator[Reading]:
        return iter(self._readings)

    def add(self, reading: Reading) -> None:
        """Keep a reading, unless it is older than the newest: this clock never runs back."""
        if self._readings and reading.at_monotonic < self._readings[-1].at_monotonic:
            return
        r = self._readings
        if len(r) >= 2 and self._between(r[-2], r[-1], reading):
            r.pop()
        r.append(reading)
        while reading.at_monotonic - r[0].at_monotonic > self._keep_s and len(r) > 1:
            r.popleft()

    def _between(self, before: Reading, middle: Reading, after: Reading) -> bool:
        """Whether the middle one adds nothing to the line between the two."""
        ends = [(x.state, x.slip, x.slips_before) for x in (before, middle, after)]
        if after.state == "typed" or ends[0] != ends[1] or ends[1] != ends[2]:
            return False
        span = after.at_monotonic - before.at_monotonic
        counts = [(x.az_count, x.alt_count) for x in (before, middle, after)]
        at_rest = counts[0] == counts[1] == counts[2]
        return span <= (self.bridge_s / 2.0 if at_rest else self._apart_s)

    def call_anew(self, az_by_deg: float, alt_by_deg: float, slips_before: int) -> None:
        """The zeros were moved by so much: so are the readings after the same possible slips. The
        others are forgotten, for nobody knows what they mean now."""
        self._readings = deque(
            replace(r, az_deg=r.az_deg + az_by_deg, alt_deg=r.alt_deg + alt_by_deg)
            for r in self._readings
            if r.slips_before == slips_before and r.az_deg is not None and r.alt_deg is not None
        )

    def at(self, monotonic: float) -> Reading | None:
        """The reading at that instant, or None if there was none to be had.

        Between two live readings at most ``bridge_s`` apart: a straight line between them, with
        the raw counts of the nearer and a slip if either has one. Two readings on either side of a
        slip are never mixed. After the newest: the newest, for ``hold_s``. A typed reading holds
        until the next is typed.
        """
        r = self._readings
        if not r or not math.isfinite(monotonic):
            return None
        i = bisect.bisect_right(r, monotonic, key=lambda x: x.at_monotonic)
        if i == 0:
            return None
        before = r[i - 1]
        if before.state == "typed":
            return before
        if before.at_monotonic == monotonic:
            return before
        if i == len(r):
            return before if monotonic - before.at_monotonic <= self.hold_s else None
        after = r[i]
        if after.state == "typed":
            return None
        span = after.at_monotonic - before.at_monotonic
        if span > self.bridge_s:
            return None
        part = (monotonic - before.at_monotonic) / span
        nearer = before if part < 0.5 else after
        if before.slips_before != after.slips_before:
            return nearer
        (az, alt), (az_after, alt_after) = before.degrees(), after.degrees()
        return replace(
            nearer,
            az_deg=az + part * (az_after - az),
            alt_deg=alt + part * (alt_after - alt),
            at_monotonic=monotonic,
            at_unix=before.at_unix + part * (after.at_unix - before.at_unix),
        )
