"""Earth rotation, sidereal time and the horizon, against textbook values."""

import numpy as np
import pytest

from plumbstar.sky.frame import frame, horizontal
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

from .outside import dms, hms, no_earth

AIRLESS = True
GREENWICH = Site(0.0, 0.0)


def test_earth_rotation_angle():
    """SOFA test value t_era00, UT1 = MJD 54388.0.

    Ours carries SOFA's TIO locator s' with it, 2e-11 rad.
    """
    f = frame(Instant(2454388.5, 0.0), GREENWICH, no_earth())
    assert f.astrom["eral"] == pytest.approx(0.4022837240028158102, abs=1e-9)


def test_apparent_sidereal_time():
    """Meeus 2nd ed. ex. 12.a (PyMeeus 0.5.12): GAST 13h10m46.1351s at 1987-04-10 0h UT.

    Meeus uses the 1982 sidereal time and 1980 nutation, ours the IAU 2006/2000A; the difference in
    1987 is under 0.01 s.
    """
    f = frame(Instant.parse("1987-04-10T00:00:00Z"), GREENWICH, no_earth())
    assert f.sidereal_time_rad() == pytest.approx(hms(13, 10, 46.1351), abs=hms(0, 0, 0.01))


def test_hour_angle_to_horizon():
    """SOFA test value t_hd2ae; ha 1.1, dec 1.2, latitude 0.3 rad.

    No diurnal aberration here: apco13 puts it into the CIRS place, which this test makes up.
    """
    site = Site(float(np.degrees(0.3)), 0.0)
    f = frame(Instant.parse("2000-01-01T00:00:00Z"), site, no_earth())
    az, alt = horizontal(f, f.astrom["eral"] - 1.1, np.float64(1.2), AIRLESS)
    assert alt == pytest.approx(0.4472186304990486228, abs=1e-9)
    assert az == pytest.approx(5.916889243730066194, abs=1e-9)


def test_venus_from_washington():
    """Meeus 2nd ed. ex. 13.b: 68.0337 deg from south = 248.0337 from north; +15.1249."""
    site = Site(38.0 + 55.0 / 60.0 + 17.0 / 3600.0, -(77.0 + 3.0 / 60.0 + 56.0 / 3600.0))
    f = frame(Instant.parse("1987-04-10T19:21:00Z"), site, no_earth())
    hour_angle = hms(8, 34, 56.853) + np.radians(site.lon_deg) - hms(23, 9, 16.641)
    az, alt = horizontal(
        f, f.astrom["eral"] - hour_angle, np.float64(dms(-1, 6, 43, 11.61)), AIRLESS
    )
    assert np.degrees(az) == pytest.approx(248.0337, abs=0.0005)
    assert np.degrees(alt) == pytest.approx(15.1249, abs=0.0005)


def test_many_moments_are_the_same_as_one_by_one():
    site = Site(-31.5, 21.0, 1300.0)
    moments = [Instant.parse(f"2027-07-0{d}T1{d}:00:00Z") for d in range(1, 6)]
    together = frame(moments, site)
    for i, t in enumerate(moments):
        alone = frame(t, site)
        for field in set(alone.astrom.dtype.names) - {"phi"}:  # apco13 leaves phi unset
            assert np.array_equal(together.astrom[field][i], alone.astrom[field]), field
        assert together.sidereal_time_rad()[i] == alone.sidereal_time_rad()


@pytest.mark.parametrize("utc", ["2027-01-28T18:30:00Z", "2016-12-31T12:00:00Z", "1960-05-05"])
def test_the_moments_of_a_night_drawn_through_a_few_are_the_same_as_one_by_one(utc):
    """To 1e-12, which is 0.2 millionths of an arcsecond, a leap second between them or not."""
    site = Site(47.2, 11.6, 940.0)
    moments = [Instant.parse(utc).plus_seconds(600.0 * k) for k in range(200)]
    together = frame(moments, site)
    for i in (0, 1, 71, 72, 73, 150, 199):
        alone = frame(moments[i], site)
        for field in set(alone.astrom.dtype.names) - {"phi"}:
            assert together.astrom[field][i] == pytest.approx(alone.astrom[field], abs=1e-12), field
        assert together.origins[i] == pytest.approx(alone.origins, abs=1e-12)
