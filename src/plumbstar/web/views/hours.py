"""How the pages turn UTC into a site's own time."""

from __future__ import annotations

from plumbstar.contract.parts import ClockSpan, SiteClock
from plumbstar.sky.local_time import spans
from plumbstar.sky.times import Instant


def clock_of(zone: str, start: Instant, end: Instant) -> SiteClock:
    """From when which offset holds, between two moments."""
    held = spans(start, end, zone)
    return SiteClock(
        zone=zone or "UTC",
        spans=tuple(ClockSpan(from_utc=t.iso(), offset_s=s, short=short) for t, s, short in held),
    )


class HoursNow:
    """The present hour's clock, kept while it holds."""

    def __init__(self) -> None:
        self._kept: tuple[tuple[str, int], SiteClock] | None = None

    def clock(self, zone: str, now: Instant) -> SiteClock:
        """From yesterday to the day after tomorrow: a night of changed clocks is right too."""
        key = (zone, int(now.to_unix() // 3600))
        if self._kept is None or self._kept[0] != key:
            hour = Instant.from_unix(key[1] * 3600.0)
            held = clock_of(zone, hour.plus_seconds(-86400.0), hour.plus_seconds(172800.0))
            self._kept = (key, held)
        return self._kept[1]
