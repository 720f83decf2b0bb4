"""No stop, way or place within twenty degrees of the Sun, by angles worked out another way."""

import itertools
import math

import numpy as np
import pytest

from plumbstar.guide.aim import Aim, aim_banned, left_from, way_there
from plumbstar.guide.course import Course
from plumbstar.guide.push import push
from plumbstar.guide.searching import search
from plumbstar.guide.stops import place_stops
from plumbstar.guide.sun import Ban, SunRefusal, banned, clear_of, doubt_deg, reach_deg
from plumbstar.guide.way import nearest_deg, way_banned
from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, terms_from_deg
from plumbstar.sky.bodies import Body
from plumbstar.sky.naming import lookup
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve

HIDDEN = terms_from_deg(
    azimuth_zero=37, altitude_zero=2.2, lean_north=0.8, lean_west=-0.6, cone=0.25, squareness=0.1
)
SITE = Site(47.2, 11.6, 940)
NOON = Instant.parse("2027-05-12T11:00:00Z")


def fixed(places=((60, 50), (150, 35), (280, 60))):
    hidden = HiddenMount(HIDDEN, Noise(6.0 / 3438), np.random.default_rng(4))
    return solve(hidden.sight_all(list(places)), Priors.from_kit(Kit()), Noise(6.0 / 3438))


def apart(a, b):
    """Haversine of azimuth and altitude, degrees: not as the program does it."""
    (az, alt), (az2, alt2) = np.radians(a), np.radians(b)
    h = math.sin((alt2 - alt) / 2) ** 2
    h += math.cos(alt) * math.cos(alt2) * math.sin((az2 - az) / 2) ** 2
    return math.degrees(2 * math.asin(math.sqrt(min(1.0, h))))


@pytest.mark.parametrize("seed", range(6))
def test_every_stop_of_a_search_keeps_clear_with_the_whole_field(seed):
    rng = np.random.default_rng(seed)
    fix = fixed([(60, 50)])  # one star: a wide search
    target, field = (float(rng.uniform(0, 360)), float(rng.uniform(20, 60))), 1.5
    bearing, away = rng.uniform(0, 2 * math.pi), rng.uniform(21.5, 24.0)
    d = kinematics.unit(*np.radians(target))
    off = np.array([[away * math.cos(bearing), away * math.sin(bearing)]])
    sun = tuple(np.degrees(kinematics.az_alt(place_stops(d, off)[0])))

    def allowed(offsets):
        return clear_of(place_stops(d, offsets), field / 2, sun)

    def nearest(stops):
        places = np.degrees(kinematics.az_alt(place_stops(d, np.array(stops[1:]))))
        return min(apart(p, sun) for p in places)

    free, _ = search(fix, *target, field)
    kept, found_by = search(fix, *target, field, allowed)
    if sun[1] > -5.0:
        assert nearest(free) < 20.0 + field / 2  # without the Sun it would have led there
        assert nearest(kept) >= 20.0 + field / 2
    assert len(kept) > 3
    assert all(b >= a for a, b in itertools.pairwise(found_by))


def test_the_whole_field_and_the_doubt_of_the_fix_count():
    sure, doubtful = fixed(), fixed([(60, 50)])
    sun = (180.0, 40.0)
    d = kinematics.unit(*np.radians(sun))
    for away, fix, field, wanted in (
        (19.9, None, 0.0, Ban.TARGET),
        (20.1, None, 0.0, None),
        (20.1, None, 1.0, Ban.TARGET),  # the edge of the field
        (20.6, sure, 1.0, Ban.TARGET),  # the field alone would pass
        (22.5, sure, 1.0, None),
        (23.0, doubtful, 1.0, Ban.TARGET),
        (120.0, doubtful, 1.0, None),
    ):
        place = tuple(np.degrees(kinematics.az_alt(place_stops(d, np.array([[0.0, away]]))[0])))
        found = banned(place, sun, True, reach_deg(fix, *place, field))
        assert (found.ban if found else None) is wanted, (away, field)
        if found:
            assert found.apart_deg == pytest.approx(away, abs=1e-6)
            assert "from the Sun" in str(found.refusal())
    assert doubt_deg(doubtful, 180.0, 61.0) > 3.0 > doubt_deg(sure, 180.0, 61.0)


@pytest.mark.parametrize("seed", range(12))
def test_the_way_is_every_reading_between(seed):
    rng = np.random.default_rng(seed)
    fix = fixed()
    here = (float(rng.uniform(-100, 400)), float(rng.uniform(0, 80)))
    to = (here[0] + float(rng.uniform(-180, 180)), float(rng.uniform(0, 80)))
    sun = (float(rng.uniform(0, 360)), float(rng.uniform(0, 60)))
    said, _ = nearest_deg(fix, here, to, sun)
    t = rng.uniform(size=(20_000, 2))
    readings = np.array(here) + t * (np.array(to) - np.array(here))
    tube = np.degrees(kinematics.az_alt(kinematics.direction(np.radians(readings), fix.mean)))
    a, b = np.radians(tube), np.radians(sun)
    h = np.sin((b[1] - a[:, 1]) / 2) ** 2
    h += np.cos(a[:, 1]) * np.cos(b[1]) * np.sin((b[0] - a[:, 0]) / 2) ** 2
    least = np.degrees(2 * np.arcsin(np.sqrt(h))).min()
    assert said <= least
    assert said > least - 1.5


def test_a_push_across_the_sun_is_refused_and_one_beside_it_is_not():
    fix = fixed()
    sun = (180.0, 35.0)
    west, east = (fix.reading_for(az, 35.0, 180.0) for az in (240.0, 120.0))
    k = {"sun": lambda s: sun, "filter_confirmed": True}
    with pytest.raises(SunRefusal, match=r"may pass .* from the Sun"):
        push(fix, "X", lambda s: (120.0, 35.0), *west, 1.0, **k)
    # First up and over would be clear of it; but nothing holds the hand to that.
    with pytest.raises(SunRefusal, match="may pass"):
        push(fix, "X", lambda s: (120.0, 80.0), *fix.reading_for(240.0, 20.0, 180.0), 1.0, **k)
    round_by_north = fix.reading_for(20.0, 35.0, 100.0)
    assert push(fix, "X", lambda s: (120.0, 35.0), *round_by_north, 1.0, **k)
    assert way_banned(fix, tuple(west), tuple(east), (180.0, -1.0), 1.0) is None  # it has set
    at_it = tuple(fix.reading_for(185.0, 40.0, 180.0))
    found = way_banned(fix, at_it, tuple(east), sun, 1.0)
    assert found.ban is Ban.HERE
    assert found.apart_deg == pytest.approx(apart((185.0, 40.0), sun), abs=0.1)
    with pytest.raises(SunRefusal, match="not known where the tube points"):
        push(fix, "X", lambda s: (120.0, 35.0), west[0], None, 1.0, **k)
    night = push(fix, "X", lambda s: (120.0, 35.0), west[0], None, 1.0, sun=lambda s: (0, -40))
    assert night.to_az_deg == pytest.approx(east[0], abs=1e-6)


def test_the_stream_shows_no_way_across_the_sun():
    fix = fixed()
    sun = Course(Body("Sun"), SITE)
    az, alt = sun.az_alt_deg(NOON)
    course = Course(lookup.find_target("Alpheratz"), SITE)  # 44 degrees from it
    to_az, to_alt = course.az_alt_deg(NOON)
    aim = Aim(fix, course, sun, 1.0, 20.0, filter_confirmed=True)
    assert aim_banned(aim, course, NOON) is None
    across = 2 * az - to_az  # as far on the Sun's other side
    here = tuple(fix.reading_for(across, alt, fix.reading_for(az, alt)[0]))
    assert way_there(aim, *here, NOON).ban in (Ban.WAY, Ban.HERE)
    assert left_from(aim, *here, NOON) is None
    near = tuple(fix.reading_for(to_az, to_alt + 1.0, here[0]))
    assert way_there(aim, *near, NOON) is None
    assert left_from(aim, *near, NOON) is not None
    # A stop of the search is asked about, too: this one lies on the way to the Sun, 10 degrees off.
    target, at = course.direction(NOON), sun.direction(NOON)
    toward = kinematics.tangent_basis(*kinematics.az_alt(target)) @ at
    toward *= (apart((to_az, to_alt), (az, alt)) - 10.0) / np.linalg.norm(toward)
    for stop, ban in ((toward, Ban.STOP), (-0.1 * toward, None)):
        found = aim_banned(Aim(fix, course, sun, 1.0, 20.0, True, tuple(stop)), course, NOON)
        assert (found.ban if found else None) is ban
        if found:
            assert found.apart_deg == pytest.approx(10.0, abs=0.05)
