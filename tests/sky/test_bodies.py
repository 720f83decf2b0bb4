"""Sun, Moon and planets against JPL DE421 (by Skyfield), NOVAS, USNO and Meeus."""

from collections import defaultdict

import erfa
import numpy as np
import pytest

from plumbstar.errors import UserError
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.bodies import (
    Body,
    body_at,
    body_icrs,
    body_place,
    illuminated_fraction,
    magnitude,
    match,
    semidiameter_rad,
    sun_altitude,
)
from plumbstar.sky.earth import EarthOrientation
from plumbstar.sky.frame import frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

from .outside import ARCSEC, dms, hms, instant_from_tt, rows

# Arcsec. The worst in the file: Saturn 75, Uranus 64; plan94 misses the goal of 60 there.
LIMITS = {
    "Sun": 0.1, "Moon": 20.0, "Mercury": 3.0, "Venus": 12.0, "Mars": 55.0, "Jupiter": 60.0,
    "Saturn": 90.0, "Uranus": 75.0, "Neptune": 15.0,
}  # fmt: skip


def test_skyfield_bodies():
    """60 random moments and sites each, from Skyfield 1.55 with JPL DE421; see the file's head."""
    worst = defaultdict(float)
    for r in rows("bodies_skyfield.csv"):
        site = Site(float(r["lat_deg"]), float(r["lon_deg"]), float(r["elevation_m"]))
        az, alt = body_at(Body(r["body"]), Instant.parse(r["utc"]), site, airless=True)
        theirs = np.radians([float(r["az_deg"]), float(r["alt_deg"])])
        gap = float(separation_rad(az, alt, *theirs)) / ARCSEC
        worst[r["body"]] = max(worst[r["body"]], gap)
    assert set(worst) == set(LIMITS)
    for name, limit in LIMITS.items():
        assert worst[name] < limit, (name, worst[name])


def _apparent_of_date(body, jd):
    """Geocentric apparent (ra, dec) on the equinox of date, and distance in au, at TT ``jd``."""
    f = frame(instant_from_tt(jd, 0.0), Site(0.0, 0.0), EarthOrientation(0.0, 0.0, 0.0))
    ra, dec, distance = body_icrs(body, f, geocentric=True)
    ri, di = erfa.atciqz(ra, dec, f.astrom)
    return (ri - f.origins) % (2 * np.pi), di, distance


def test_sun_of_meeus():
    """Meeus 2nd ed. ex. 25.a, 1992-10-13 0h TD; low accuracy, 0.01 deg.

    The row's distance, 0.99766, is that method's; ex. 25.b (VSOP87, memory) has 0.99760775.
    """
    ra, dec, distance = _apparent_of_date(Body("Sun"), 2448908.5)
    assert np.degrees(ra) == pytest.approx(np.degrees(hms(13, 13, 31.4)), abs=0.01)
    assert np.degrees(dec) == pytest.approx(np.degrees(dms(-1, 7, 47, 6)), abs=0.01)
    assert distance == pytest.approx(0.99760775, abs=2e-6)


def test_moon_of_meeus():
    """Meeus 2nd ed. ex. 47.a, 1992-04-12 0h TD; 0.003 deg and 30 km.

    Ours is the length of the light's path, in which the Earth moves up to 38 km: 30 + 38 km.
    """
    ra, dec, distance = _apparent_of_date(Body("Moon"), 2448724.5)
    assert np.degrees(ra) == pytest.approx(134.688469, abs=0.003)
    assert np.degrees(dec) == pytest.approx(13.768367, abs=0.003)
    assert distance * 149597870.7 == pytest.approx(368409.7, abs=68.0)


def test_moon_phase_series():
    """Skyfield 1.55 test_almanac.py, compared there with USNO; daily at 05:00 UTC."""
    expected = [0, 0, 0.03, 0.08, 0.15, 0.24, 0.33, 0.43, 0.52, 0.62]
    for k, value in enumerate(expected):
        when = Instant.parse(f"2018-09-{9 + k:02d}T05:00:00Z")
        assert illuminated_fraction(Body("Moon"), when) == pytest.approx(value, abs=0.006)


NOVAS_JD = 2440423.345833333


@pytest.mark.parametrize(
    ("name", "az_deg", "alt_deg", "refracted_deg", "tolerance_arcsec"),
    [
        ("Mercury", 262.1859052, 46.3212268, 46.3370424, 5.0),
        ("Moon", 151.1970749, 41.9204014, 41.9388362, 10.0),
    ],
)
def test_novas(name, az_deg, alt_deg, refracted_deg, tolerance_arcsec):
    """USNO NOVAS with DE405, from Skyfield 1.55 test_against_novas.py.

    The rows take TT = UT1, so UT1-UTC is given as TT-UTC. NOVAS refracts by Bennett's formula and
    ours by SOFA's for visible light: 1.5 arcsec apart at this height, inside the rows' tolerance.
    """
    when = instant_from_tt(2440423.0, NOVAS_JD - 2440423.0)
    tt_minus_utc = ((2440423.0 - when.jd1) + (NOVAS_JD - 2440423.0 - when.jd2)) * 86400.0
    site = Site(38.9215, -77.0669, 92.0, temperature_c=10.0, pressure_hpa=1010.0)
    f = frame(when, site, EarthOrientation(tt_minus_utc, 0.0, 0.0))
    az, alt = body_place(Body(name), f, airless=True)
    gap = separation_rad(az, alt, *np.radians([az_deg, alt_deg])) / ARCSEC
    assert gap < tolerance_arcsec
    _, seen = body_place(Body(name), f)
    assert abs(np.degrees(seen) - refracted_deg) * 3600.0 < tolerance_arcsec


def test_sizes_and_brightness():
    """Semidiameters: Sun 15.7 to 16.3 arcmin; Moon 14.7 to 16.9 (Explanatory Supplement; memory).

    Magnitudes at well-known moments (from memory): Venus about -4.6 to -4.9 at its brightest in
    February 2025, Jupiter -2.9 at the opposition of 2022-09-26, full Moon -12.7.
    """
    moments = [Instant.parse(f"2025-{m:02d}-03T00:00:00Z") for m in range(1, 13)]
    f = frame(moments, Site(10.0, 10.0))
    sun = np.degrees(semidiameter_rad(Body("Sun"), f)) * 60.0
    moon = np.degrees(semidiameter_rad(Body("Moon"), f)) * 60.0
    assert sun.min() > 15.7
    assert sun.max() < 16.3
    assert moon.min() > 14.6
    assert moon.max() < 17.0
    # Mars at 1 au: 4.68 arcsec (Astronomical Almanac; memory).
    mars = semidiameter_rad(Body("Mars"), f) * body_icrs(Body("Mars"), f)[2]
    assert np.degrees(mars) * 3600.0 == pytest.approx(4.68, abs=0.01)
    assert magnitude(Body("Venus"), Instant.parse("2025-02-14")) == pytest.approx(-4.7, abs=0.25)
    assert magnitude(Body("Jupiter"), Instant.parse("2022-09-26")) == pytest.approx(-2.9, abs=0.1)
    assert magnitude(Body("Moon"), Instant.parse("2025-03-14T07:00")) == pytest.approx(
        -12.7, abs=0.3
    )


def test_sun_altitude_at_the_equinox():
    """On 2026-03-20 at 14:46 UTC the Sun crosses the equator (memory): at the pole it lies at 0."""
    alt = sun_altitude(Instant.parse("2026-03-20T14:46:00Z"), Site(90.0, 0.0))
    assert np.degrees(alt) == pytest.approx(0.0, abs=0.01)


def test_names():
    assert match("the moon") == Body("Moon")
    assert match("JUPITER").kind == "planet"
    assert match("Vega") is None
    with pytest.raises(UserError, match="one of Sun, Moon"):
        Body("Vulcan")


@pytest.mark.parametrize("name", LIMITS)
def test_a_night_of_many_moments_is_each_of_them_alone(name):
    """Drawn through a few moments, it is what each moment gives by itself."""
    start, site = Instant.parse("2027-01-28T16:30:00Z"), Site(47.2, 11.6, 940.0)
    moments = [start.plus_seconds(300.0 * k) for k in range(164)]
    many = body_icrs(Body(name), frame(moments, site))
    for k in (0, 1, 57, 100, 163):
        alone = body_icrs(Body(name), frame(moments[k], site))
        for got, wanted in zip(many, alone, strict=True):
            assert float(got[k]) == pytest.approx(float(wanted), abs=1e-10)


@pytest.mark.parametrize("name", ["Moon", "Mercury", "Neptune"])
@pytest.mark.parametrize("apart_s", [0.0, 0.01])
def test_moments_that_are_alike_are_each_of_them_alone(name, apart_s):
    """Light time goes by the change of place, which moments at no distance do not show."""
    start, site = Instant.parse("2027-01-28T16:30:00Z"), Site(47.2, 11.6, 940.0)
    moments = [start.plus_seconds(apart_s * k) for k in range(12)]
    many = body_icrs(Body(name), frame(moments, site))
    alone = body_icrs(Body(name), frame(moments[-1], site))
    for got, wanted in zip(many, alone, strict=True):
        assert float(got[-1]) == pytest.approx(float(wanted), abs=1e-10)
