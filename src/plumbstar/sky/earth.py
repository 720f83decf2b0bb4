"""How the Earth turned: UT1-UTC, polar motion and leap seconds, from packaged tables, offline.

Source: IERS Bulletin A as packaged in ``astropy-iers-data`` (finals2000A.all, one fixed-width line
a day from 1973-01-02, measured and then predicted about a year ahead). Two lines are read by their
offset for each day wanted; nothing is parsed as a whole.

Outside the table nothing fails. **After its end** the last value is held: UT1-UTC has moved by
under 0.35 s in a year lately, which is 5 arcsec of azimuth, far below what a hand can push to.
**Before 1973** zero is used: from 1961 UTC followed UT1 within 0.1 s; in the years before, UTC here
means UT1, and TT - UTC is SOFA's 32.184 s where the truth was -3 s in 1900 and 33 s in 1960, so the
Moon is off by up to 18 arcsec in 1900 and the stars by nothing. Dropped: the wobble that the table
would have had, under 0.7 arcsec.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import astropy_iers_data
import erfa
import numpy as np

from plumbstar.sky.times import Instant
from plumbstar.units import Array

_ARCSEC = np.pi / 648000.0
_LINE = 188  # bytes a line in finals2000A.all, newline included
_lock = threading.Lock()


@dataclass(frozen=True, slots=True)
class EarthOrientation:
    """UT1-UTC in seconds and the pole's coordinates in radians, at one or ``(n,)`` moments."""

    dut1_s: float | Array
    xp_rad: float | Array
    yp_rad: float | Array


@lru_cache(maxsize=1)
def _table() -> tuple[Path, int, int]:
    """The file, the MJD of its first line, and that of the last line that holds UT1-UTC."""
    path = Path(astropy_iers_data.IERS_A_FILE)
    size = path.stat().st_size
    with path.open("rb") as f:
        first = int(float(f.read(_LINE)[7:15]))
        # The tail of the file is blank lines for days not predicted yet: bisect for their start.
        low, high = 0, size // _LINE
        while high - low > 1:
            mid = (low + high) // 2
            f.seek(mid * _LINE)
            if f.read(_LINE)[58:68].strip():
                low = mid
            else:
                high = mid
    return path, first, first + low


@lru_cache(maxsize=4096)
def _day(mjd: int) -> tuple[float, float, float]:
    """UT1-UTC (s), x, y (arcsec) at 0h UTC of a day that the table holds."""
    path, first, _ = _table()
    with path.open("rb") as f:
        f.seek((mjd - first) * _LINE)
        line = f.read(_LINE)
    return float(line[58:68]), float(line[18:27]), float(line[37:46])


def table_end() -> Instant:
    """The last moment for which the packaged table holds a value."""
    return Instant(float(_table()[2]) + 2400000.5, 0.0)


def past_table(instant: Instant) -> bool:
    """Whether ``instant`` lies past the table's end, so that the last value is held."""
    return table_end() < instant


def _at(mjd: float) -> tuple[float, float, float]:
    _, first, last = _table()
    if mjd < first:
        return 0.0, 0.0, 0.0
    if mjd >= last:
        return _day(last)
    day = int(mjd)
    part = mjd - day
    (t0, x0, y0), (t1, x1, y1) = _day(day), _day(day + 1)
    # A leap second at the end of the day makes UT1-UTC jump; UT1 itself runs on smoothly.
    t1 -= round(t1 - t0)
    return t0 + part * (t1 - t0), x0 + part * (x1 - x0), y0 + part * (y1 - y0)


def orientation(instants: Instant | Sequence[Instant]) -> EarthOrientation:
    """Earth orientation at one moment (floats) or several (arrays of shape ``(n,)``).

    Linear between daily values; dropped: the sub-daily tidal terms, under 0.1 ms and 0.001 arcsec.
    """
    if isinstance(instants, Instant):
        dut1, x, y = _at(instants.jd1 - 2400000.5 + instants.jd2)
        return EarthOrientation(dut1, x * _ARCSEC, y * _ARCSEC)
    rows = np.array([_at(t.jd1 - 2400000.5 + t.jd2) for t in instants]).reshape(-1, 3)
    return EarthOrientation(rows[:, 0], rows[:, 1] * _ARCSEC, rows[:, 2] * _ARCSEC)


_leaps_read = False


def use_leap_seconds() -> None:
    """Give ERFA the packaged leap seconds if they are newer than its own. Done once."""
    global _leaps_read
    if _leaps_read:
        return
    with _lock:
        if _leaps_read:
            return
        known = erfa.leap_seconds.get()
        newest = (int(known["year"][-1]), int(known["month"][-1]))
        rows = []
        for line in Path(astropy_iers_data.IERS_LEAP_SECOND_FILE).read_text().splitlines():
            if line.strip() and not line.startswith("#"):
                _, _, month, year, tai_utc = line.split()
                if (int(year), int(month)) > newest:
                    rows.append((int(year), int(month), float(tai_utc)))
        if rows:
            erfa.leap_seconds.set(np.concatenate([known, np.array(rows, dtype=known.dtype)]))
        _leaps_read = True
