"""Time and place from a satellite receiver's lines (NMEA 0183: RMC, GGA), given as bytes.

Pure: bytes and the steady moment of their coming go in. The lines are taken apart by ``pynmeagps``
(an extra, ``plumbstar[gps]``); which of them to believe is decided here.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any, Literal

from plumbstar.errors import UserError, how_to_add
from plumbstar.sky.site import Site

#: Satellites' weeks are counted to 1024 and begin anew (IS-GPS-200, 20.3.3.3.1.1; memory): a
#: receiver that has missed a turn is 19.6 years behind.
ROLLOVER = dt.timedelta(weeks=1024)
#: A line tells of a second that is over when it comes, by up to this long (the receiver's own
#: reckoning and 9600 baud; common practice, no source). It is taken as half of it, give or take.
LAG_S = 1.0
#: Until the almanac is in (12.5 min at most) a receiver may leave the leap seconds out, 18 since
#: 2017 (memory).
LEAP_S = 18.0
#: Lines agreeing with one another before a fix is believed.
WANTED = 3
#: A place that wanders by more than this between two lines is no fix yet, degrees (100 m).
STILL_DEG = 0.001
#: Longer without an end of line is no sentence (NMEA 0183 allows 82 characters).
LONGEST = 200

#: How far a receiver has got: nothing came, no line of a receiver came, lines without a fix, a fix.
GpsState = Literal["silent", "unreadable", "searching", "fixed"]


@dataclass(frozen=True)
class GpsFix:
    """A believed fix. ``zero``: UTC, seconds since 1970, at the steady clock's zero.

    ``turns``: how many times 1024 weeks the receiver's date was behind. ``elevation_m`` is None
    where no line gave it.
    """

    zero: float
    lat_deg: float
    lon_deg: float
    elevation_m: float | None
    satellites: int | None
    turns: int

    def site(self, name: str = "") -> Site:
        """The place."""
        height = self.elevation_m if self.elevation_m is not None else 0.0
        return Site(round(self.lat_deg, 5), round(self.lon_deg, 5), round(height), name=name)


class Receiver:
    """Takes bytes as they come; ``fix`` is there when several lines agree.

    ``not_before`` is a date (seconds since 1970) that is past: an earlier one from the receiver is
    a week count that has turned. Raises :class:`UserError` where ``pynmeagps`` is missing.
    """

    def __init__(self, not_before: float) -> None:
        try:
            import pynmeagps
        except ModuleNotFoundError:
            raise UserError(
                "The package that reads a GPS's lines, pynmeagps, is not installed",
                "",
                f"Install it: {how_to_add('gps')}",
            ) from None
        self._reader: Any = pynmeagps
        self._not_before = dt.datetime.fromtimestamp(not_before, dt.UTC).date()
        self._rest = b""
        self._zeros: list[float] = []
        self._places: list[tuple[float, float]] = []
        self._height: float | None = None
        self._turns = 0
        self.satellites: int | None = None
        self.lines = 0
        self.broken = 0
        self.fix: GpsFix | None = None

    def feed(self, data: bytes, steady: float) -> GpsFix | None:
        """More bytes, that came when the steady clock showed ``steady``."""
        self._rest += data
        *whole, self._rest = self._rest.split(b"\n")
        if len(self._rest) > LONGEST:
            self._rest = b""
        for line in whole:
            start = line.rfind(b"$")  # what stands before it is the end of a line cut off
            if start >= 0:
                self._line(line[start:].strip(), steady)
        return self.fix

    def _line(self, line: bytes, steady: float) -> None:
        r = self._reader
        try:
            m = r.NMEAReader.parse(line + b"\r\n", validate=r.VALCKSUM)
            kind = m.msgID if m is not None else ""
        # Whatever a bent line does to the reader: it is a bent line.
        except Exception:
            self.broken += 1
            return
        if m is None:
            self.broken += 1
            return
        self.lines += 1
        if kind == "GGA":
            self._gga(m)
        elif kind == "RMC":
            self._rmc(m, steady)

    def _gga(self, m: Any) -> None:
        self.satellites = m.numSV if isinstance(m.numSV, int) else None
        # Quality 0 is none, 6 reckoned on, 7 typed in, 8 invented (NMEA 0183, GGA).
        good = isinstance(m.quality, int) and m.quality not in (0, 6, 7, 8)
        self._height = float(m.alt) if good and isinstance(m.alt, int | float) else None

    def _rmc(self, m: Any, steady: float) -> None:
        mode = getattr(m, "posMode", "")
        told = isinstance(m.time, dt.time) and isinstance(m.date, dt.date)
        placed = isinstance(m.lat, int | float) and isinstance(m.lon, int | float)
        sound = placed and math.isfinite(m.lat) and abs(m.lat) <= 90.0 and abs(m.lon) <= 180.0
        if m.status != "A" or mode in ("N", "E", "M", "S") or not (told and sound):
            self._zeros, self._places = [], []
            return
        day, turns = m.date, 0
        while day < self._not_before:
            day, turns = day + ROLLOVER, turns + 1
        utc = dt.datetime.combine(day, m.time, dt.UTC).timestamp()
        place = (float(m.lat), float(m.lon))
        zero = utc - steady
        still = (
            not self._places
            or max(abs(a - b) for a, b in zip(place, self._places[-1], strict=True)) < STILL_DEG
        )
        steady_too = not self._zeros or abs(zero - self._zeros[-1]) < LAG_S
        if not (still and steady_too) or turns != self._turns:
            self._zeros, self._places = [], []
        self._zeros.append(zero)
        self._places.append(place)
        self._turns = turns
        if len(self._zeros) >= WANTED:
            # The line that came least late is nearest to the truth; half the lag is still allowed.
            best = max(self._zeros[-20:]) + LAG_S / 2.0
            self.fix = GpsFix(best, *place, self._height, self.satellites, turns)

    @property
    def state(self) -> GpsState:
        """How far it has got."""
        if self.fix is not None:
            return "fixed"
        if self.lines:
            return "searching"
        return "unreadable" if self.broken else "silent"
