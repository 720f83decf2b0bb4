"""Reading the filed outside answers, and a few helpers the sky's tests share."""

from __future__ import annotations

import csv
from pathlib import Path

import erfa
import numpy as np

from plumbstar.sky.earth import EarthOrientation
from plumbstar.sky.times import Instant

AUTHORITIES = Path(__file__).resolve().parents[1] / "authorities"
ARCSEC = np.pi / 648000.0


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a filed table; lines that start with # say where it came from."""
    with (AUTHORITIES / name).open(newline="") as f:
        return list(csv.DictReader(line for line in f if not line.startswith("#")))


def hms(h: float, m: float, s: float) -> float:
    """Hours, minutes, seconds to radians."""
    return float(np.radians(15.0 * (h + m / 60.0 + s / 3600.0)))


def dms(sign: int, d: float, m: float, s: float) -> float:
    """Degrees, minutes, seconds to radians."""
    return float(sign * np.radians(d + m / 60.0 + s / 3600.0))


def instant_from_tt(jd1: float, jd2: float) -> Instant:
    """The UTC Instant of a TT Julian date."""
    tai1, tai2 = erfa.tttai(jd1, jd2)
    utc1, utc2 = erfa.taiutc(tai1, tai2)
    midnight = np.floor(utc1 - 0.5) + 0.5
    rest = (utc1 - midnight) + utc2
    days = np.floor(rest)
    return Instant(float(midnight + days), float(rest - days))


def no_earth(dut1_s: float = 0.0) -> EarthOrientation:
    """Earth orientation for textbook examples: no polar motion."""
    return EarthOrientation(dut1_s, 0.0, 0.0)
