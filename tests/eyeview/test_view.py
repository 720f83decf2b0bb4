"""The picture against outside answers: places, the way north lies, drift, Moon, Saturn's ring."""

from __future__ import annotations

import math
from dataclasses import replace

import astropy.units as u
import msgspec
import numpy as np
import pytest
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar import kit as kits
from plumbstar.eyeview import EyeView, eye_view, finder_view, say
from plumbstar.eyeview.model import Way
from plumbstar.kit import Eyepiece, Kit, Telescope
from plumbstar.sky.bodies import Body, body_icrs
from plumbstar.sky.frame import frame
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import icrs_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from samples import tries

iers.conf.auto_download = False
iers.conf.auto_max_age = None

NOON_2000 = Instant.parse("2000-01-01T11:58:55.816Z")  # J2000.0: TT is 64.184 s ahead
NIGHT = Instant.parse("2027-01-28T18:30:00Z")
RIDGE = Site(47.2, 11.6, 940.0)
SALTPAN = Site(-31.5, 21.0, 1050.0)
WIDE = Eyepiece(name="wide", focal_length_mm=32.0, apparent_field_deg=97.5)  # 2 deg
ARCSEC = math.radians(1.0 / 3600.0)


def kit_of(view: str = "upright", at: str = "end") -> Kit:
    return Kit(
        telescope=Telescope(aperture_mm=280, focal_length_mm=1560, view=view, eyepiece_at=at),
        eyepiece=(WIDE,),
    )


def airless(site: Site) -> Site:
    return replace(site, pressure_hpa=0.0)


def at(ra_deg: float, dec_deg: float, size: float = math.nan) -> DeepSky:
    """A place in the sky as a target."""
    return DeepSky("x", "", "x", "galaxy", "", ra_deg % 360.0, dec_deg, math.nan, size)


def angle(way: Way) -> float:
    """Anticlockwise from the right, degrees."""
    return math.degrees(math.atan2(way[1], way[0]))


def between(a: float, b: float) -> float:
    return abs((a - b + 180.0) % 360.0 - 180.0)


def astropy_frame(site: Site, instant: Instant) -> AltAz:
    where = EarthLocation.from_geodetic(site.lon_deg, site.lat_deg, site.elevation_m)
    return AltAz(obstime=Time(instant.jd1, instant.jd2, format="jd", scale="utc"), location=where)


@pytest.mark.parametrize("site", [RIDGE, SALTPAN], ids=["north", "south"])
@pytest.mark.parametrize("hours", [0.0, 3.0])
def test_stars_stand_where_astropy_puts_them(site: Site, hours: float) -> None:
    """Alcyone and its neighbours: offsets in azimuth and altitude of another library's frame."""
    instant = NIGHT.plus_seconds(hours * 3600.0)
    target = find_target("Alcyone")
    view = eye_view(target, instant, airless(site), kit_of(), WIDE)
    to = astropy_frame(site, instant)
    when = Time(instant.jd1, instant.jd2, format="jd", scale="utc")

    def seen(name: str) -> SkyCoord:
        s = find_target(name)
        moving = SkyCoord(
            s.ra_deg * u.deg, s.dec_deg * u.deg, pm_ra_cosdec=s.pm_ra_mas * u.mas / u.yr,
            pm_dec=s.pm_dec_mas * u.mas / u.yr, distance=1000.0 / s.parallax_mas * u.pc,
            obstime=Time("J2000"),
        )  # fmt: skip
        return moving.apply_space_motion(when).transform_to(to)

    middle = seen("Alcyone")
    scale = math.radians(view.field_deg / 2.0)
    ours = {s.name: s for s in view.stars}
    for name in ("Atlas", "Pleione", "Electra", "Maia", "Taygeta", "Merope"):
        right, up = middle.spherical_offsets_to(seen(name))
        assert ours[name].x * scale == pytest.approx(right.rad, abs=1.5 * ARCSEC)
        assert ours[name].y * scale == pytest.approx(up.rad, abs=1.5 * ARCSEC)


@given(
    az=st.floats(0.0, 360.0),
    alt=st.one_of(st.floats(1.0, 90.0), st.sampled_from([90.0, 89.9999])),
    north=st.booleans(),
)
@settings(max_examples=tries(10, 25), deadline=None)
def test_north_and_east_lie_where_astropy_puts_them(az: float, alt: float, north: bool) -> None:
    """A point a little north, or east, of anything in the sky, overhead too."""
    site = RIDGE if north else SALTPAN
    ra, dec = (math.degrees(x) for x in icrs_of(az, alt, NIGHT, site, airless=True))
    if alt > 89.99 or abs(dec) > 89.99:
        return  # "up" there hangs on the last figures: test_overhead takes those
    view = eye_view(at(ra, dec), NIGHT, airless(site), kit_of(), WIDE)
    to = astropy_frame(site, NIGHT)
    place = SkyCoord(ra * u.deg, dec * u.deg)
    middle = place.transform_to(to)
    for way, pa in ((view.north, 0.0), (view.east, 90.0)):
        there = place.directional_offset_by(pa * u.deg, 60 * u.arcsec).transform_to(to)
        right, up = middle.spherical_offsets_to(there)
        theirs = math.degrees(math.atan2(up.rad, right.rad))
        assert between(angle(way), theirs) < 0.02 / max(0.01, math.cos(math.radians(alt)))


@pytest.mark.parametrize(
    ("ha", "dec", "lat", "expected"),
    [
        # Liberfa t_hd2pa, and a second computed with two libraries.
        (63.0253575, 68.7549354, 17.1887339, 109.2187865),  # 1.1, 1.2, 0.3; 1.906227428 rad
        (45.0, 20.0, 40.0, 52.2930642),
    ],
)
def test_parallactic_angle(ha: float, dec: float, lat: float, expected: float) -> None:
    """At J2000.0 the pole of date is ICRS's to 10 arcsec; aberration moves the place by 20."""
    site = Site(lat, 0.0, pressure_hpa=0.0)
    lst = math.degrees(float(frame(NOON_2000, site).sidereal_time_rad()))
    view = eye_view(at(lst - ha, dec), NOON_2000, site, kit_of(), WIDE)
    assert view.parallactic_deg == pytest.approx(expected, abs=0.05)
    # The zenith's position angle is q, and position angles run anticlockwise from north by eye.
    assert between(angle(view.zenith) - angle(view.north), expected) < 0.05
    turned = eye_view(at(lst - ha, dec), NOON_2000, site, kit_of("turned"), WIDE)
    assert between(angle(turned.north), angle(view.north) + 180.0) < 1e-9
    assert turned.parallactic_deg == pytest.approx(view.parallactic_deg)
    mirrored = eye_view(at(lst - ha, dec), NOON_2000, site, kit_of("mirrored"), WIDE)
    assert mirrored.north == pytest.approx((-view.north[0], view.north[1]))
    assert mirrored.parallactic_deg == pytest.approx(view.parallactic_deg)


KIND = st.sampled_from(["upright", "turned", "mirrored", "mirrored_turned"])


@given(
    az=st.floats(0.0, 359.99),
    alt=st.one_of(st.floats(-5.0, 90.0), st.just(90.0)),
    kind=KIND,
    side=st.sampled_from(["end", "left", "right"]),
)
@settings(max_examples=tries(26, 80), deadline=None)
def test_everywhere_in_the_sky(az: float, alt: float, kind: str, side: str) -> None:
    """Zenith and horizon too: ways of length one, square to each other, and the parity right."""
    ra, dec = (math.degrees(x) for x in icrs_of(az, alt, NIGHT, RIDGE, airless=True))
    view = eye_view(at(ra, dec), NIGHT, airless(RIDGE), kit_of(kind, side), WIDE)
    check(view, kind)


@pytest.mark.parametrize("dec", [90.0, -90.0, 89.9999, -89.9999, 89.0, -89.0])
@pytest.mark.parametrize("ra", [0.0, 123.0])
@pytest.mark.parametrize("kind", ["turned", "mirrored"])
def test_at_the_poles(ra: float, dec: float, kind: str) -> None:
    site = airless(RIDGE if dec > 0 else SALTPAN)
    check(eye_view(at(ra, dec), NIGHT, site, kit_of(kind), WIDE), kind)


def check(view: EyeView, kind: str) -> None:
    for way in (view.north, view.east, view.zenith):
        assert math.hypot(*way) == pytest.approx(1.0)
    assert abs(view.north[0] * view.east[0] + view.north[1] * view.east[1]) < 1e-3
    assert view.mirrored is kind.startswith("mirrored")
    assert all(math.hypot(s.x, s.y) <= 1.0 for s in view.stars)
    mags = [s.v_mag for s in view.stars]
    assert mags == sorted(mags)
    assert max(mags, default=0.0) <= view.limit_mag
    assert math.isfinite(view.parallactic_deg)


def test_overhead() -> None:
    """The tube upright and facing azimuth a: right in the picture is a + 90, up is a + 180.

    So north, azimuth 0, lies at (-sin a, -cos a). ICRS north is within a degree of it there."""
    site = airless(RIDGE)
    ra, dec = (math.degrees(x) for x in icrs_of(30.0, 90.0, NIGHT, site))
    view = eye_view(at(ra, dec), NIGHT, site, kit_of(), WIDE)
    assert view.alt_deg == pytest.approx(90.0, abs=1e-6)
    a = math.radians(view.az_deg)
    assert between(angle(view.north), angle((-math.sin(a), -math.cos(a)))) < 1.0
    assert between(angle(view.east), angle(view.north) + 90.0) < 0.01


def test_the_eyepiece_at_the_side_turns_with_the_altitude() -> None:
    target = find_target("M 37")
    end = eye_view(target, NIGHT, RIDGE, kit_of("turned"), WIDE)
    right = eye_view(target, NIGHT, RIDGE, kit_of("turned", "right"), WIDE)
    left = eye_view(target, NIGHT, RIDGE, kit_of("turned", "left"), WIDE)
    assert between(angle(right.north), angle(end.north) + end.alt_deg) < 1e-6
    assert between(angle(left.north), angle(end.north) - end.alt_deg) < 1e-6


def test_drift_is_westward_and_takes_its_time() -> None:
    """240 s at declination 40 deg are 46.09 arcmin, so a 2 deg field's radius takes 312 s.

    Near culmination, without air."""
    site = Site(47.2, 11.6, pressure_hpa=0.0)
    lst = math.degrees(float(frame(NIGHT, site).sidereal_time_rad()))
    view = eye_view(at(lst, 40.0), NIGHT, site, kit_of(), WIDE)
    rate = 46.09 / 240.0  # arcmin a second
    assert view.minutes_to_edge * 60.0 == pytest.approx(
        60.0 * view.field_deg / 2.0 / rate, rel=0.004
    )
    assert view.drift is not None
    # Precession since J2000 has turned ICRS east by under 0.2 deg here.
    assert between(angle(view.drift), angle(view.east) + 180.0) < 0.3
    # Seen by eye due south, the sky moves to the right.
    south = eye_view(at(lst, 0.0), NIGHT, site, kit_of(), WIDE)
    assert south.drift is not None
    assert angle(south.drift) == pytest.approx(0.0, abs=0.5)


def test_the_moons_bright_side() -> None:
    """Meeus, Astronomical Algorithms, ex. 48.a: 1992-04-12 0h TD, k 0.6786, chi 285.0 (memory).

    Geocentric; from the ground the Moon stands up to a degree aside."""
    moment = Instant.parse("1992-04-11T23:59:01Z")
    ra = 134.69  # where it stands overhead, parallax is least: Meeus, ex. 47.a
    gst = math.degrees(float(frame(moment, Site(0.0, 0.0)).sidereal_time_rad()))
    site = Site(13.77, (ra - gst + 180.0) % 360.0 - 180.0)
    view = eye_view(Body("Moon"), moment, site, kit_of(), WIDE)
    assert view.disc is not None
    assert view.disc.lit == pytest.approx(0.6786, abs=0.002)
    pa = (angle(view.disc.sunward) - angle(view.north)) % 360.0
    assert pa == pytest.approx(285.0, abs=0.3)
    # 368,410 km away less the Earth's radius: 33 arcmin across.
    assert 2.0 * view.disc.radius * 60.0 == pytest.approx(
        2 * 60 * math.degrees(1737.4 / 362030), rel=0.003
    )


def test_saturns_ring() -> None:
    """Meeus, ex. 45.a: 1992-12-16 0h TD, B +16.442, P +6.741 deg, a 35.87 arcsec (memory)."""
    moment = Instant.parse("1992-12-15T23:59:01Z")
    view = eye_view(Body("Saturn"), moment, Site(0.0, 0.0), kit_of(), WIDE)
    assert view.disc is not None
    ring = view.disc.ring
    assert ring is not None
    tilt = math.degrees(math.asin(ring.half_breadth / ring.half_length))
    assert tilt == pytest.approx(16.442, abs=0.05)
    assert between(2 * ring.angle_deg, 2 * (angle(view.east) + 6.741)) < 0.5  # an axis: mod 180
    assert 2.0 * ring.half_length * 3600.0 == pytest.approx(35.87, rel=0.01)


def test_jupiters_disc_to_scale() -> None:
    """Semidiameter of the equator at 1 au: 98.44 arcsec (Meeus, chapter 55; memory)."""
    view = eye_view(Body("Jupiter"), NIGHT, RIDGE, kit_of(), WIDE)
    _, _, distance = body_icrs(Body("Jupiter"), frame(NIGHT, RIDGE))
    assert view.disc is not None
    semi = view.disc.radius * view.field_deg / 2.0 * 3600.0
    assert semi == pytest.approx(98.44 / float(distance), rel=0.003)
    assert view.disc.ring is None


def test_the_outline_lies_at_its_position_angle() -> None:
    """NGC 891 at 22 deg (its well-known lie, memory): from the north mark 22 deg toward east."""
    galaxy = at(35.6392, 42.3491, 13.0)
    for kind in ("upright", "turned", "mirrored"):
        view = eye_view(galaxy, NIGHT, RIDGE, kit_of(kind), WIDE)
        assert view.outline is not None
        assert view.outline.half_length == pytest.approx(13.0 / 60.0 / view.field_deg, rel=1e-3)
        assert math.isnan(view.outline.angle_deg)
        assert view.outline.half_breadth == view.outline.half_length


def test_faint_stars_are_limited_by_list_or_telescope_and_that_is_said() -> None:
    target = find_target("M 37")
    big = eye_view(target, NIGHT, RIDGE, kit_of(), WIDE)
    assert big.list_is_limit
    assert big.limit_mag == 10.0
    assert "where the star list ends" in say.notes(big)[0]
    small = msgspec.structs.replace(
        kit_of(), telescope=Telescope(aperture_mm=30, focal_length_mm=300)
    )
    little = eye_view(target, NIGHT, RIDGE, small, WIDE)
    assert not little.list_is_limit
    assert little.limit_mag == little.telescope_limit_mag < 10.0
    assert say.notes(little) == ()


def test_finder_view() -> None:
    view = finder_view(find_target("Capella"), NIGHT, RIDGE)
    assert (view.field_deg, view.view, view.mirrored) == (8.0, "upright", False)
    assert max(s.v_mag for s in view.stars) <= 6.5
    names = [s.name for s in view.stars]
    assert names[0] == "Capella"
    assert "Almaaz" in names
    # Almaaz, 3.4 deg south-south-west of Capella: 3.4 / 4 of the radius.
    almaaz = view.stars[names.index("Almaaz")]
    assert math.hypot(almaaz.x, almaaz.y) == pytest.approx(3.4 / 4.0, abs=0.02)


def test_no_star_is_drawn_twice() -> None:
    """The bright list and the faint one do not both draw the same star."""
    kit = kits.example()
    for name in ("M 45", "M 42", "Mizar", "M 44"):
        view = eye_view(find_target(name), NIGHT, RIDGE, kit, kit.eyepiece[0])
        for i, a in enumerate(view.stars):
            for b in view.stars[i + 1 :]:
                apart = math.hypot(a.x - b.x, a.y - b.y) * view.field_deg / 2.0 * 3600.0
                assert apart > 2.0 or abs(a.v_mag - b.v_mag) > 1.0, (name, a, b)
    mizar = eye_view(find_target("Mizar"), NIGHT, RIDGE, kit, kit.eyepiece[2])
    # Mizar B, 14.4 arcsec from A (well known, memory).
    near = min(math.hypot(s.x, s.y) for s in mizar.stars if math.hypot(s.x, s.y) > 1e-3)
    assert near * mizar.field_deg / 2.0 * 3600.0 == pytest.approx(14.4, abs=0.5)
    assert np.isfinite(near)
