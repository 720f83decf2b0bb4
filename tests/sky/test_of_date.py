"""Places of date, and what is listed at a place, against outside values."""

from __future__ import annotations

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import TETE, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers

from plumbstar.sky import ofdate, places
from plumbstar.sky.bodies import Body, body_icrs
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue, deepsky
from plumbstar.sky.naming import lookup, nearby, own, own_source
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import TURN

from .outside import ARCSEC, dms, hms, instant_from_tt

RIDGE = Site(47.2, 11.6, 940.0)
NIGHT = Instant.parse("2027-01-28T18:30:00Z")


@pytest.fixture(autouse=True)
def offline(monkeypatch):
    monkeypatch.setattr(iers.conf, "auto_download", False)
    monkeypatch.setattr(iers.conf, "auto_max_age", None)


def test_theta_persei_of_the_textbook():
    """Meeus, Astronomical Algorithms, 2nd ed., example 23.a (memory): the apparent place of theta
    Persei on 2028 November 13.19 TD, 2h46m14.390s +49d21'07.45". Measured: 0.05 arcsec off."""
    years = 28.86705
    ra = hms(2, 44, 11.986) + hms(0, 0, 0.03425) * years
    dec = dms(1, 49, 13, 42.48) - 0.0895 * ARCSEC * years
    got = ofdate.from_icrs(ra, dec, instant_from_tt(2462088.5, 0.19), Site(90.0, 0.0))
    assert abs(got[0] - hms(2, 46, 14.390)) * np.cos(dec) < 0.15 * ARCSEC
    assert abs(got[1] - dms(1, 49, 21, 7.45)) < 0.15 * ARCSEC


@pytest.mark.parametrize("utc", ["2026-07-28T18:30:00Z", "2019-07-02T02:00:00Z"])
def test_astropys_true_equator_and_equinox(utc):
    """astropy's TETE at the same site, whose handling of time and frames is its own."""
    instant = Instant.parse(utc)
    there = EarthLocation(lat=47.2 * u.deg, lon=11.6 * u.deg, height=940 * u.m)
    frame_of_date = TETE(obstime=Time(utc[:-1]), location=there)
    rng = np.random.default_rng(5)
    ra, dec = rng.uniform(0, 360, 40), np.degrees(np.arcsin(rng.uniform(-0.99, 0.99, 40)))
    far = SkyCoord(ra * u.deg, dec * u.deg).transform_to(frame_of_date)
    ours = [ofdate.from_icrs(*np.radians(x), instant, RIDGE) for x in zip(ra, dec, strict=True)]
    off = SkyCoord(ours * u.rad).separation(SkyCoord(far.ra, far.dec)).arcsec
    assert off.max() < 0.01


def test_the_way_back_and_the_way_by_the_horizon_agree():
    rng = np.random.default_rng(6)
    for _ in range(30):
        az, alt = rng.uniform(0, 360), rng.uniform(0.5, 89.5)
        ra, dec = ofdate.from_horizon(az, alt, NIGHT, RIDGE)
        icrs = places.icrs_of(float(az), float(alt), NIGHT, RIDGE)
        back = ofdate.to_icrs(ra, dec, NIGHT, RIDGE)
        assert abs((back[0] - icrs[0] + 1.0) % TURN - 1.0) < 1e-4 * ARCSEC
        assert abs(back[1] - icrs[1]) < 1e-4 * ARCSEC
        again = ofdate.from_icrs(*back, NIGHT, RIDGE)
        assert again == pytest.approx((ra, dec), abs=1e-4 * ARCSEC)


def test_sidereal_time_of_the_textbook():
    """Meeus, Astronomical Algorithms, 2nd ed., ex. 12.a: 13h10m46.1351s, 1987 April 10, 0h UT1.
    UT1-UTC was then -0.47 s (IERS), and sidereal time goes at the same pace."""
    at = Instant.parse("1987-04-10T00:00:00Z")
    earth = frame(at, Site(51.5, 0.0)).earth
    shown = ofdate.sidereal_hours(at, Site(51.5, 0.0)) * 3600.0 - float(earth.dut1_s)
    assert shown == pytest.approx(13 * 3600 + 10 * 60 + 46.1351, abs=0.01)
    east = ofdate.sidereal_hours(at, Site(51.5, 15.0))
    assert (east - ofdate.sidereal_hours(at, Site(51.5, 0.0))) % 24 == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "off_arcmin", "found"),
    [
        ("Vega", 0.5, "Vega"),
        ("Arcturus", 1.0, "Arcturus"),  # 2.28 arcsec a year: half an arcminute by now
        ("M 31", 1.9, "M31"),
        ("Vega", 2.5, None),
    ],
)
def test_what_is_listed_there(text, off_arcmin, found):
    t = lookup.find_target(text)
    got = nearby.at_place(t.ra_deg, t.dec_deg + off_arcmin / 60.0, NIGHT, RIDGE)
    assert (None if got is None else found if got.key == t.key else got.key) == found


@pytest.mark.parametrize("name", ["Moon", "Jupiter", "Saturn"])
def test_a_body_is_found_where_it_is_seen(name):
    """The Moon is a degree off its geocentric place."""
    f = frame(NIGHT, RIDGE)
    az, alt = places.place_of(Body(name), NIGHT, RIDGE, airless=True)
    ra, dec = places.icrs_of(az, alt, NIGHT, RIDGE, airless=True)
    assert nearby.at_place(np.degrees(ra), np.degrees(dec), NIGHT, RIDGE) == Body(name)
    if name == "Moon":
        ra, dec, _ = body_icrs(Body("Moon"), f, geocentric=True)
        assert nearby.at_place(float(np.degrees(ra)), float(np.degrees(dec)), NIGHT, RIDGE) is None


def test_every_listed_thing_is_found_at_its_place_or_something_nearer(monkeypatch):
    for listed in (catalogue.load(), deepsky.load()):
        for i in range(0, len(listed), 701):
            t = listed[i]
            got = nearby.at_place(t.ra_deg, t.dec_deg, NIGHT, RIDGE)
            assert got is not None, t.label
            assert lookup.find_target(got.key).key == got.key
    mine = deepsky.DeepSkyList.of(own.parse("name,ra_deg,dec\nMy pair,10,80").objects)
    monkeypatch.setattr(own_source, "listed", lambda: mine)
    assert nearby.at_place(10.0, 80.001, NIGHT, RIDGE).name == "My pair"


@pytest.mark.parametrize(("ra", "dec"), [(359.9999999, -0.000001), (0.0, 90.0), (720.5, -90.0)])
def test_a_plain_place_is_found_again_by_its_key(ra, dec):
    place = nearby.place_at(ra, dec)
    assert lookup.find_target(place.key).key == place.key
    assert place.ra_deg == pytest.approx(ra % 360.0 % 359.9999999, abs=1e-5)
