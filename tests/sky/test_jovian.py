"""Jupiter's moons against the theory L1.2 and the worked example in Meeus."""

from __future__ import annotations

import numpy as np
import pytest
from tests.sky.outside import rows

from plumbstar.sky import jovian
from plumbstar.sky.bodies import Body, body_icrs
from plumbstar.sky.frame import frame
from plumbstar.sky.jovian import Hidden
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array

RADIUS_AU = 71492.0 / 149597870.7
#: Along the equator, across it, and toward us, in radii: the worst of 1,500 dates, rounded up.
WORST = {"Io": 0.04, "Europa": 0.09, "Ganymede": 0.1, "Callisto": 0.18}


def _vector(row: dict[str, str], of: str) -> Array:
    return np.array([float(row[f"{of}_{a}"]) for a in "xyz"])


def test_against_l12() -> None:
    for row in rows("jovian_l12.csv"):
        jupiter, sun = _vector(row, "jupiter"), _vector(row, "sun")
        frame_ = jovian.axes(jupiter)
        for m in jovian.moons(float(row["tt_jd"]), jupiter, sun):
            there = frame_ @ _vector(row, m.name.lower()) / RADIUS_AU
            here = np.array([m.west, m.north, m.toward])
            assert np.abs(there - here).max() < WORST[m.name], (row["tt_jd"], m)


def test_worked_example() -> None:
    """Meeus, example 44.a: 1992 December 16, 0 h UT (figures from memory)."""
    f = frame(Instant.parse("1992-12-16T00:00:00Z"), Site(0.0, 0.0))
    to = [
        np.asarray(_xyz(*(float(x) for x in body_icrs(Body(b), f, True))))
        for b in ("Jupiter", "Sun")
    ]
    found = jovian.moons(2448972.50068, *to)
    xy = [(-3.44, 0.21), (7.44, 0.25), (1.24, 0.65), (7.08, 1.10)]
    for m, (x, y) in zip(found, xy, strict=True):
        assert m.west == pytest.approx(x, abs=0.011)
        assert m.north == pytest.approx(y, abs=0.02)


def _xyz(ra: float, dec: float, r: float) -> tuple[float, float, float]:
    return (r * np.cos(dec) * np.cos(ra), r * np.cos(dec) * np.sin(ra), r * np.sin(dec))


def test_what_hides_them_is_geometry() -> None:
    """Each state comes with the place it must have; shadows fall on the disc from moons before it.
    The Sun stands up to 12 degrees aside."""
    met: set[Hidden] = set()
    shadows = 0
    for row in rows("jovian_l12.csv"):
        jupiter, sun = _vector(row, "jupiter"), _vector(row, "sun")
        for hour in range(0, 48, 2):
            for m in jovian.moons(float(row["tt_jd"]) + hour / 24.0, jupiter, sun):
                met.add(m.hidden)
                across = np.hypot(m.west, m.north)
                if m.hidden is Hidden.IN_FRONT:
                    assert m.toward > 5.0
                    assert across <= 1.0
                elif m.hidden is Hidden.BEHIND:
                    assert m.toward < -5.0
                    assert across <= 1.0
                elif m.hidden is Hidden.IN_SHADOW:
                    assert m.toward < 0.0
                    assert across < 1.0 + 0.21 * np.hypot(across, m.toward)
                if m.shadow is not None:
                    shadows += 1
                    assert m.toward > 0.0
                    assert np.hypot(*m.shadow) <= 1.0
    assert met == set(Hidden)
    assert shadows > 5
