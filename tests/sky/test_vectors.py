"""The array form of SOFA's way to the horizon against ERFA's own compiled routines."""

import erfa
import numpy as np
import pytest

from plumbstar.sky.angles import separation_rad
from plumbstar.sky.bodies import Body, body_icrs
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.sky.vectors import Vectors, to_horizon

MAS = np.pi / 648000.0 / 1000.0


def by_erfa(ra, dec, pm_ra_mas, pm_dec_mas, parallax_mas, astrom):
    ri, di = erfa.ufunc.atciq(
        ra, dec, pm_ra_mas * MAS / np.cos(dec), pm_dec_mas * MAS, parallax_mas / 1e3, 0.0, astrom
    )
    az, zd, *_ = erfa.ufunc.atioq(ri, di, astrom)
    return az, np.pi / 2.0 - zd


@pytest.mark.parametrize("utc", ["1901-02-03T04:05:06", "2027-01-28T18:30:00", "2090-07-07T07:00"])
@pytest.mark.parametrize("lat_deg", [-90.0, -31.5, 0.0, 47.2, 90.0])
def test_whole_catalogue(utc, lat_deg):
    stars = catalogue.load()
    f = frame(Instant.parse(utc), Site(lat_deg, 11.6, 940.0))
    az, alt = to_horizon(stars.vectors, f.astrom)
    az2, alt2 = by_erfa(
        stars.ra_rad, stars.dec_rad, stars.pm_ra_mas, stars.pm_dec_mas, stars.parallax_mas, f.astrom
    )
    assert separation_rad(az, alt, az2, alt2).max() < 1e-13
    assert az.min() >= 0.0
    assert az.max() <= 2.0 * np.pi


def test_beside_and_behind_the_sun():
    """Light deflection up to 1.75 arcsec, limited behind the disc as SOFA limits it."""
    f = frame(Instant.parse("2027-08-02T10:00:00"), Site(47.2, 11.6, 940.0))
    sun_ra, sun_dec, _ = body_icrs(Body("Sun"), f)
    away = np.radians(np.array([0.0, 1e-4, 0.05, 0.27, 1.0, 20.0, 90.0, 179.0]))
    ra, dec = np.full(8, float(sun_ra)), sun_dec + away * np.where(sun_dec > 0, -1.0, 1.0)
    ra, dec = np.where(np.abs(dec) > np.pi / 2, ra + np.pi, ra), np.arcsin(np.sin(dec))
    zero = np.zeros(8)
    ours = to_horizon(Vectors.of(ra, dec, zero, zero, zero), f.astrom)
    theirs = by_erfa(ra, dec, zero, zero, zero, f.astrom)
    assert separation_rad(*ours, *theirs).max() < 1e-12


def test_at_the_celestial_pole_motion_stays_finite():
    """mu_alpha* at dec 90: ERFA's form divides by cos dec; ours does not."""
    f = frame(Instant.parse("2027-08-02T10:00:00"), Site(47.2, 11.6))
    one = np.array([0.3]), np.array([np.pi / 2]), np.array([100.0]), np.zeros(1), np.zeros(1)
    still = np.array([0.3]), np.array([np.pi / 2]), np.zeros(1), np.zeros(1), np.zeros(1)
    moved = separation_rad(
        *to_horizon(Vectors.of(*one), f.astrom), *to_horizon(Vectors.of(*still), f.astrom)
    )
    # 100 mas a year for 27.58 years, as seen.
    assert np.degrees(moved[0]) * 3600.0 == pytest.approx(2.758, abs=0.001)


def test_shapes_broadcast():
    stars = catalogue.load()
    few = Vectors(
        stars.vectors.unit[:, :7],
        stars.vectors.motion[:, :7],
        stars.vectors.parallax_rad[:7],
        False,
    )
    start = Instant.parse("2027-01-28T18:30:00")
    moments = [start.plus_seconds(600.0 * k) for k in range(7)]
    f = frame(moments, Site(47.2, 11.6))
    az_grid, alt_grid = to_horizon(few, f.expand().astrom)
    az_pair, alt_pair = to_horizon(few, f.astrom)
    assert az_grid.shape == (7, 7)
    assert np.array_equal(np.diagonal(az_grid), az_pair)
    assert np.array_equal(np.diagonal(alt_grid), alt_pair)
