"""The server's small parts by themselves: clock, course, aim, epochs, what is kept."""

import dataclasses
import math

import msgspec
import numpy as np
import pytest

from plumbstar.clock.clock import EveningClock
from plumbstar.encoders.reading import Reading
from plumbstar.guide.aim import Aim, left_from, place_stop, reading_event
from plumbstar.guide.course import Course
from plumbstar.guide.push import push as push_to
from plumbstar.logbook.slips import Slip
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.mounts import HiddenMount, terms_from_deg
from plumbstar.sky.bodies import Body
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.epochs import freed, solve_parts
from plumbstar.solve.fix import solve
from plumbstar.web.evening import desk as kept
from plumbstar.web.evening.almanac import Almanac
from plumbstar.web.evening.desk import Desk, Miss, SearchUnderWay
from plumbstar.web.evening.ranking import Ranking

from .server_rig import DAY, NIGHT, NOISE, SCENE, Standing

PRIORS = Priors.from_kit(SCENE.kit)
STARS = ("Capella", "Rigel", "Pollux", "Alpheratz", "Aldebaran")


def sightings(names, start=NIGHT, *, seed=1, terms=None, gap=60.0):
    hidden = HiddenMount(
        SCENE.hidden if terms is None else terms, NOISE, np.random.default_rng(seed)
    )
    out = []
    for k, name in enumerate(names):
        t = start.plus_seconds(gap * k)
        az, alt = place_of(lookup.find_target(name), t, SCENE.site)
        out.append(hidden.sight(name, az, alt, t))
    return out


# ---- clock


def test_the_evening_runs_on_from_its_start():
    t = Standing(DAY)
    clock = EveningClock(NIGHT, unix=lambda: t.t, monotonic=lambda: t.m)
    assert clock.now().minus(NIGHT) == pytest.approx(0, abs=1e-4)
    t.go(100.0)
    assert clock.now().minus(NIGHT) == pytest.approx(100.0, abs=1e-4)
    t.t += 5000.0  # somebody sets the computer's clock: a rehearsal does not jump
    assert clock.now().minus(NIGHT) == pytest.approx(100.0, abs=1e-4)
    assert clock.at(t.m - 30.0).minus(NIGHT) == pytest.approx(70.0, abs=1e-4)


def test_without_a_start_it_follows_the_system():
    t = Standing(NIGHT)
    clock = t.clock()
    t.t += 3600.0
    assert clock.now().minus(NIGHT) == pytest.approx(3600.0, abs=1e-3)
    assert clock.at(t.m - 2.0).minus(NIGHT) == pytest.approx(3598.0, abs=1e-3)


# ---- course


@pytest.mark.parametrize("name", ["Capella", "Rigel", "Polaris", "Moon", "Jupiter", "M 42"])
def test_a_course_keeps_to_the_exact_places(name):
    target = lookup.find_target(name)
    course = Course(target, SCENE.site)
    for s in (0.0, 7.3, 14.9, 15.0, 29.99, 45.0, -20.0, 3600.0):
        t = NIGHT.plus_seconds(s)
        az, alt = place_of(target, t, SCENE.site)
        exact = kinematics.unit(np.radians(az), np.radians(alt))
        off = math.degrees(np.linalg.norm(course.direction(t) - exact)) * 3600
        assert off < 0.2  # arcsec


# ---- aim


def a_fix():
    return solve(sightings(STARS), PRIORS, NOISE)


def test_the_push_agrees_with_guide():
    fix = a_fix()
    target = lookup.find_target("M 42")
    course, sun = Course(target, SCENE.site), Course(Body("Sun"), SCENE.site)
    aim = Aim(fix, course, sun, 1.5, 20.0)
    far = left_from(aim, 300.0, 60.0, NIGHT)
    push = push_to(
        fix, "M 42", lambda s: course.az_alt_deg(NIGHT.plus_seconds(s)), 300.0, 60.0, 1.5,
        sun=lambda s: sun.az_alt_deg(NIGHT.plus_seconds(s)), seconds=20.0,
    )  # fmt: skip
    assert far.seconds == 20.0
    assert far.push_az_deg == pytest.approx(push.push_az_deg, abs=1e-6)
    assert far.push_alt_deg == pytest.approx(push.push_alt_deg, abs=1e-6)
    assert not far.in_field
    # Pushed there in no time at all, it is in the middle and nothing is left.
    at = fix.reading_of(course.direction(NIGHT), 300.0)
    near = left_from(aim, *at, NIGHT)
    assert near.in_field
    assert abs(near.push_az_deg) < 1e-6
    assert abs(near.push_alt_deg) < 1e-6
    assert math.hypot(near.right_deg, near.up_deg) < 1e-6
    assert near.beep == 1.0
    # Half a degree of reading to the left of it: the target lies to the right.
    left = left_from(aim, at[0] - 0.5, at[1], NIGHT)
    alt = math.radians(course.az_alt_deg(NIGHT)[1])
    assert left.right_deg == pytest.approx(0.5 * math.cos(alt), abs=0.02)
    assert left.push_az_deg == pytest.approx(0.5, abs=0.01)
    assert far.beep < left.beep < 1.0
    low = left_from(aim, at[0], at[1] - 0.5, NIGHT)
    assert low.up_deg == pytest.approx(0.5, abs=0.01)


def test_the_shorter_way_round_and_the_wrap():
    fix = a_fix()
    course = Course(lookup.find_target("M 42"), SCENE.site)
    aim = Aim(fix, course, None, 1.5)
    at = fix.reading_of(course.direction(NIGHT), 0.0)
    for turns in (-720, -360, 0, 360, 720):
        left = left_from(aim, at[0] + 170.0 + turns, at[1], NIGHT)
        assert abs(left.push_az_deg) <= 180.0
        assert left.push_az_deg == pytest.approx(-170.0, abs=1.0)


def test_a_folding_display_is_followed_over_its_zero_as_the_solution_counts_it():
    """With a scale error the turn matters: 0.3 % of a turn is a degree."""
    terms = terms_from_deg(azimuth_zero=20, azimuth_scale=0.003)
    hidden = HiddenMount(terms, Noise(1e-5), np.random.default_rng(6))
    hidden.reading[0] = np.radians(300)
    rows = [
        dataclasses.replace(s, az_reading_deg=s.az_reading_deg % 360)
        for s in hidden.sight_all([(330, 30), (10, 40), (60, 35)])
    ]
    folded = solve(rows, PRIORS, Noise(1e-5))
    course = Course(lookup.find_target("Alpheratz"), SCENE.site)
    at = folded.reading_of(course.direction(NIGHT), rows[-1].az_reading_deg)
    left = left_from(Aim(folded, course, None, 1.5), at[0] % 360, at[1], NIGHT)
    assert math.hypot(left.push_az_deg, left.push_alt_deg) < 1e-6
    assert math.hypot(left.right_deg, left.up_deg) < 1e-6


def test_nothing_is_told_without_fix_target_or_while_refused():
    fix, course = a_fix(), Course(lookup.find_target("M 42"), SCENE.site)
    assert left_from(Aim(), 0.0, 0.0, NIGHT) is None
    assert left_from(Aim(fix), 0.0, 0.0, NIGHT) is None
    assert left_from(Aim(None, course), 0.0, 0.0, NIGHT) is None
    assert left_from(Aim(fix, course, refused=True), 0.0, 0.0, NIGHT) is None


@pytest.mark.parametrize("alt_deg", [10.0, 45.0, 85.0, 89.7])
def test_a_stop_lies_where_it_says(alt_deg):
    d = kinematics.unit(np.radians(120.0), np.radians(alt_deg))
    stop = place_stop(d, (1.2, -0.7))
    assert np.linalg.norm(stop) == pytest.approx(1.0)
    assert math.degrees(math.acos(d @ stop)) == pytest.approx(math.hypot(1.2, 0.7), abs=1e-9)
    right, up = np.degrees(kinematics.tangent_basis(np.radians(120.0), np.radians(alt_deg)) @ stop)
    assert (right, up) == (pytest.approx(1.2, abs=1e-3), pytest.approx(-0.7, abs=1e-3))
    assert place_stop(d, None) is d


def test_the_event_of_an_absent_reading():
    e = reading_event(Reading(problem="connecting"), None, NIGHT, 5.0)
    assert e.az_reading_deg is None
    assert e.age_s is None
    assert e.state == "absent"
    assert e.push is None
    assert e.in_field is False


# ---- almanac


def test_the_suns_sentence_through_the_day():
    a = Almanac(SCENE.site)
    noon = a.now(DAY)
    assert noon.up
    assert noon.sentence.startswith("Sun 2")  # 47 N in late January: about 24 degrees
    assert "dark at" in noon.sentence
    night = a.now(NIGHT)
    assert not night.up
    assert "dark until" in night.sentence


def test_where_it_never_gets_dark():
    a = Almanac(Site(62.0, 20.0))
    assert "not get fully dark" in a.now(Instant.parse("2027-06-21T22:00:00Z")).sentence


# ---- epochs


def shifted(s, az=0.0, alt=0.0):
    return dataclasses.replace(
        s, az_reading_deg=s.az_reading_deg + az, alt_reading_deg=s.alt_reading_deg + alt
    )


def test_without_a_slip_it_is_one_solution():
    rows = sightings(STARS)
    (part,) = solve_parts(rows, PRIORS, NOISE, [])
    assert part.indices == (0, 1, 2, 3, 4)
    assert np.allclose(part.fix.mean, solve(rows, PRIORS, NOISE).mean)
    assert solve_parts([], PRIORS, NOISE, []) == ()


@pytest.mark.parametrize(("az", "alt"), [(7.0, 0.0), (0.0, -3.0), (-40.0, 12.0)])
def test_one_sighting_settles_a_slip(az, alt):
    """Planted: four sightings, then a slip, then one. The mount is what it was but for the zero."""
    rows = sightings(STARS)
    slipped = [*rows[:4], shifted(rows[4], az, alt)]
    axes = ("azimuth",) * bool(az) + ("altitude",) * bool(alt)
    first, last = solve_parts(slipped, PRIORS, NOISE, [(4, axes)])
    assert (first.indices, last.indices) == ((0, 1, 2, 3), (4,))
    truth = SCENE.hidden.copy()
    truth[INDEX["azimuth_zero"]] -= math.radians(az)
    truth[INDEX["altitude_zero"]] -= math.radians(alt)
    off = last.fix.mean - truth
    off[0] = math.remainder(off[0], 2 * math.pi)
    sigma = last.fix.sigma
    free = sigma > 0
    assert np.all(np.abs(off[free]) < 4 * sigma[free])
    # Told nothing of the slip, the fix would be far off or set the new star aside.
    naive = solve(slipped, PRIORS, NOISE)
    assert last.fix.mean_hit_chance(1.5) > 0.8
    places = [place_of(lookup.find_target(n), NIGHT, SCENE.site) for n in ("M 42", "M 37", "M 81")]
    worst = 0.0
    for a, h in places:
        reading = np.radians(last.fix.reading_for(a, h))
        lands = kinematics.direction(reading, truth)
        worst = max(
            worst,
            math.degrees(math.acos(lands @ kinematics.unit(np.radians(a), np.radians(h)))),
        )
    assert worst < 0.75  # half the field of the 32 mm eyepiece
    assert naive.set_aside or naive.mean_hit_chance(1.5) < last.fix.mean_hit_chance(1.5)


def test_the_circle_that_did_not_slip_keeps_what_it_knew():
    rows = sightings(STARS)
    slipped = [*rows[:4], shifted(rows[4], 7.0)]
    first, last = solve_parts(slipped, PRIORS, NOISE, [(4, ("azimuth",))])
    i = INDEX["altitude_zero"]
    assert last.fix.sigma[i] <= first.fix.sigma[i] * 1.01
    assert last.fix.mean[i] == pytest.approx(first.fix.mean[i], abs=3 * first.fix.sigma[i])


def test_two_slips_without_a_sighting_between_free_both_circles():
    rows = sightings(STARS)
    cuts = [(4, ("azimuth",)), (4, ("altitude",))]
    parts = solve_parts([*rows[:4], shifted(rows[4], 7.0, 3.0)], PRIORS, NOISE, cuts)
    assert len(parts) == 2
    assert np.isinf(parts[1].fix.prior.sigma[0])
    assert parts[1].fix.prior.sigma[INDEX["altitude_zero"]] > math.radians(15)


def test_freeing_leaves_the_given_priors_alone():
    before = PRIORS.sigma.copy()
    freed(PRIORS, ("altitude",), PRIORS)
    assert np.array_equal(PRIORS.sigma, before)


# ---- kept


def test_what_is_kept_comes_back():
    desk = Desk(
        eyepiece="17 mm",
        plan=("Capella",),
        choice=Ranking(status="ready", sentence="Capella and Rigel"),
        target="M42",
        sweep=SearchUnderWay((1, 2), "M42", 3, ((0.0, 0.0), (0.5, -0.5)), (0.3, 0.6)),
        misses=(Miss("2027-01-28T18:30:00Z", (1, 2), "M42", 10.0, 20.0, 1.5),),
        slips=(Slip(2, ("azimuth",), "jumped"),),
    )
    assert kept.load(msgspec.json.decode(msgspec.json.encode(kept.dump(desk)))) == desk


@pytest.mark.parametrize("raw", [None, {}, [], 3, {"plan": 7}, {"sweep": {"index": "x"}}, "text"])
def test_a_damaged_desk_is_an_empty_one(raw):
    assert kept.load(raw) == Desk()
