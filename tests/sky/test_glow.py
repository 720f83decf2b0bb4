"""Sky brightness and the air's toll, against published rows and each other."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar.sky import glow
from plumbstar.sky.extinction import air_mass, extinction_mag


@pytest.mark.parametrize(
    ("h", "x"),
    [(0.1, 36.467), (10, 5.586), (90, 1.0), (0, 37.920), (5, 10.306), (20, 2.903), (30, 1.994),
     (60, 1.154)],
)  # fmt: skip
def test_air_mass(h: float, x: float) -> None:
    """Kasten and Young 1989; the first three from pvlib's tests, the rest computed."""
    assert float(air_mass(math.radians(h))) == pytest.approx(x, abs=1e-3)


@pytest.mark.parametrize(("elevation", "k"), [(0, 0.281), (500, 0.238), (1000, 0.206)])
def test_extinction(elevation: float, k: float) -> None:
    """Green 1992 (memory)."""
    assert extinction_mag(elevation) == pytest.approx(k, abs=1e-3)


@pytest.mark.parametrize(("mag", "nl"), [(21.0, 135.66), (22.0, 54.008)])
def test_scale(mag: float, nl: float) -> None:
    """Garstang; Krisciunas and Schaefer 1991 eq. 1 (memory)."""
    assert float(glow.nanolamberts(mag)) == pytest.approx(nl, rel=1e-3)
    assert float(glow.mag_arcsec2(nl)) == pytest.approx(mag, abs=1e-3)


def test_moonlight_row() -> None:
    """The value printed in specsim's documentation, 19.855 mag (389.5 nL)."""
    nl = glow.moonlight(
        math.radians(20.0), math.radians(45.0), math.radians(70.0), math.radians(50.0), 0.15
    )
    assert float(glow.mag_arcsec2(nl)) == pytest.approx(19.855, abs=0.002)
    assert float(nl) == pytest.approx(389.5, rel=1e-3)


def test_moonlight_behaves() -> None:
    """None from a Moon that is down; more the fuller; its two laws meet at 10 degrees."""
    at = (math.radians(45.0), math.radians(60.0))
    assert float(glow.moonlight(-0.01, 0.0, *at, 0.2)) == 0.0
    fuller = [
        float(glow.moonlight(0.7, math.radians(a), *at, 0.2)) for a in (0, 30, 60, 90, 120, 150)
    ]
    assert fuller == sorted(fuller, reverse=True)
    inside, outside = (
        float(glow.moonlight(0.7, 0.3, 0.8, math.radians(r), 0.2)) for r in (9.999, 10.001)
    )
    assert inside == pytest.approx(outside, rel=0.2)


def test_twilight() -> None:
    """Patat et al. 2006, their fit in V at the zenith (memory), and its end."""
    p10 = float(glow.twilight(math.radians(-15.0)) + glow.nanolamberts(21.947))
    assert float(glow.mag_arcsec2(p10)) == pytest.approx(11.84 + 15.18 - 5.7, abs=0.01)
    assert float(glow.twilight(math.radians(-18.5))) == 0.0
    assert float(glow.twilight(math.radians(-40.0))) == 0.0
    brighter = glow.twilight(np.radians([-17.0, -12.0, -9.0, -6.0, -3.0, 0.0]))
    assert np.all(np.diff(np.log(brighter)) > 0.0)


def test_twilight_is_brightest_low_over_the_sun() -> None:
    sun, low = math.radians(-8.0), math.radians(13.0)
    over, beside, away = (float(glow.twilight(sun, low, c)) for c in (1.0, 0.0, -1.0))
    assert beside == away == float(glow.twilight(sun))
    assert 2.5 * math.log10(over / away) == pytest.approx(2.0 * math.cos(low) ** 2)
    assert float(glow.twilight(sun, math.pi / 2, 1.0)) == pytest.approx(away)


def test_dark_sky_is_what_the_site_has_overhead_and_brighter_lower() -> None:
    assert float(glow.mag_arcsec2(glow.dark_sky(21.4, math.pi / 2, 0.2))) == pytest.approx(21.4)
    low = glow.mag_arcsec2(glow.dark_sky(21.4, np.radians([90.0, 45.0, 30.0, 20.0]), 0.2))
    assert np.all(np.diff(low) < 0.0)
    assert low[-1] > 20.6  # at 20 degrees up about half a magnitude
