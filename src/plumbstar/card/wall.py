"""The clock on the wall: moments as a person at that place reads them, UTC unless told a zone."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from plumbstar.sky.times import Instant

_UTC = dt.UTC


@dataclass(frozen=True, slots=True)
class Wall:
    """A time zone, or UTC when ``zone`` is None."""

    zone: dt.tzinfo | None = None

    def _at(self, instant: Instant) -> dt.datetime:
        """To the nearest minute."""
        seconds = round(instant.to_unix() / 60.0) * 60
        utc = dt.datetime(1970, 1, 1, tzinfo=_UTC) + dt.timedelta(seconds=seconds)
        return utc.astimezone(self.zone or _UTC)

    def time(self, instant: Instant) -> str:
        """ "18:05"."""
        return f"{self._at(instant):%H:%M}"

    def label(self, instant: Instant) -> str:
        """What the times are: "UTC", "UTC+1", "UTC-3:30"; the zone's offset at that moment."""
        if self.zone is None:
            return "UTC"
        offset = self._at(instant).utcoffset() or dt.timedelta()
        minutes = round(offset.total_seconds() / 60.0)
        hours, rest = divmod(abs(minutes), 60)
        sign = "−" if minutes < 0 else "+"
        return f"UTC{sign}{hours}" + (f":{rest:02d}" if rest else "") if minutes else "UTC"

    def next_full_hour(self, instant: Instant) -> Instant:
        """The first full hour of this clock after the moment."""
        offset = self._at(instant).utcoffset() or dt.timedelta()
        seconds = instant.to_unix() + offset.total_seconds()
        return instant.plus_seconds(3600.0 - seconds % 3600.0)


def offset(text: str) -> dt.timezone | None:
    """The zone of ``+01:00``, ``-3`` or ``UTC+5:30``; None if the text is no offset."""
    m = re.fullmatch(r"(?:UTC)?([+\-−])(\d{1,2})(?::?([0-5]\d))?", text.strip(), re.ASCII | re.I)
    if m is None or int(m[2]) > 14:
        return None
    east = dt.timedelta(hours=int(m[2]), minutes=int(m[3] or 0))
    return dt.timezone(east if m[1] == "+" else -east)


def night_of(instant: Instant, lon_deg: float) -> tuple[dt.date, str]:
    """The evening's date at that longitude (mean solar time), and "28 to 29 January 2027".

    ``instant`` is one of the night's evening, before midnight there. The Sun's own time is used
    because a date in UTC would be a day off where the evening falls across midnight UTC.
    """
    here = instant.plus_seconds(lon_deg / 360.0 * 86400.0)
    first = dt.date.fromisoformat(here.iso()[:10])
    second = first + dt.timedelta(days=1)
    start = f"{first.day}"
    if first.month != second.month:
        start += f" {_MONTHS[first.month - 1]}"
    if first.year != second.year:
        start += f" {first.year}"
    return first, f"{start} to {second.day} {_MONTHS[second.month - 1]} {second.year}"


_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
