"""Instants: UTC as the pair of Julian dates that the SOFA routines want.

Two doubles keep a nanosecond where one would keep 40 microseconds. The pair is the SOFA
"quasi-JD" form of UTC (SOFA Time Scale and Calendar Tools, section 3.5), so a leap second is legal.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from plumbstar.errors import UserError

_ISO = re.compile(
    r"^\s*(\d{4})-(\d{2})-(\d{2})"
    r"(?:[T ](\d{2}):(\d{2})(?::(\d{2}(?:\.\d+)?))?)?\s*(Z|UTC|[+-]\d{2}:?\d{2})?\s*$",
    re.IGNORECASE,
)
#: The midnights that begin the first and the last day of the years 1900 to 2100.
_FIRST_JD, _LAST_JD = 2415020.5, 2488433.5


@dataclass(frozen=True, slots=True, order=True)
class Instant:
    """One moment, UTC. ``jd1 + jd2`` is the quasi-Julian date; jd1 is midnight, 0 <= jd2 < 1."""

    jd1: float
    jd2: float

    @staticmethod
    def parse(text: str) -> Instant:
        """Read ISO 8601 (``2027-01-28T18:30:00Z``); no zone means UTC.

        Raises :class:`UserError` when the text is not a date and time that exists.
        """
        m = _ISO.match(text)
        if m is None:
            raise UserError(
                f"the time '{text}'",
                "ISO 8601 in UTC, as 2027-01-28T18:30:00Z",
                "Write year-month-day, T, hours:minutes:seconds, and Z",
            )
        year, month, day = (int(g) for g in m.group(1, 2, 3))
        hour, minute = int(m[4] or 0), int(m[5] or 0)
        second = float(m[6] or 0.0)
        try:
            midnight = dt.date(year, month, day)
        except ValueError as e:
            raise UserError(
                f"the date in '{text}' ({e})", "a day that exists", "Check year, month and day"
            ) from None
        seconds = hour * 3600 + minute * 60 + second
        zone = (m[7] or "Z").upper()
        if zone not in ("Z", "UTC"):
            sign = 1 if zone[0] == "+" else -1
            seconds -= sign * (int(zone[1:3]) * 3600 + int(zone[-2:]) * 60)
        jd1 = midnight.toordinal() + 1721424.5
        made = Instant(jd1, 0.0).plus_seconds(seconds)
        # 60 is allowed: a leap second is a legal time and a log may hold one. The years are those
        # of UTC, or what is read here could not be read again from what iso() makes of it.
        known = _FIRST_JD <= made.jd1 <= _LAST_JD
        if hour > 23 or minute > 59 or second >= 61.0 or not known:
            raise UserError(
                f"the time '{text}'",
                "years 1900 to 2100, hours 00-23, minutes 00-59, seconds 00-60",
                "Check each part",
            )
        return made

    @staticmethod
    def from_unix(seconds: float) -> Instant:
        """From seconds since 1970-01-01T00:00:00 UTC, as the system clock counts them."""
        days, rest = divmod(seconds, 86400.0)
        return Instant(2440587.5 + days, rest / 86400.0)

    def to_unix(self) -> float:
        """Seconds since 1970-01-01T00:00:00 UTC, leap seconds not counted."""
        return (self.jd1 - 2440587.5) * 86400.0 + self.jd2 * 86400.0

    def plus_seconds(self, seconds: float) -> Instant:
        """This moment moved by ``seconds`` (a leap second between counts as none: under 1 s)."""
        whole, part = divmod(self.jd2 + seconds / 86400.0, 1.0)
        return Instant(self.jd1 + whole, part)

    def minus(self, other: Instant) -> float:
        """Seconds from ``other`` to this moment."""
        return ((self.jd1 - other.jd1) + (self.jd2 - other.jd2)) * 86400.0

    @property
    def julian_year(self) -> float:
        """The date as a year, 2000.0 being J2000.0; a minute from UTC to TT counts for nothing."""
        return 2000.0 + ((self.jd1 - 2451545.0) + self.jd2) / 365.25

    def iso(self, decimals: int = 0) -> str:
        """ISO 8601 with a Z, to ``decimals`` of a second, rounded."""
        scale = 10**decimals
        ticks = round(self.jd2 * 86400.0 * scale)
        day, ticks = divmod(ticks, 86400 * scale)
        date = dt.date.fromordinal(int(self.jd1 - 1721424.5) + day)
        secs, frac = divmod(ticks, scale)
        tail = f".{frac:0{decimals}d}" if decimals else ""
        return f"{date}T{secs // 3600:02d}:{secs // 60 % 60:02d}:{secs % 60:02d}{tail}Z"

    def __str__(self) -> str:
        return self.iso()
