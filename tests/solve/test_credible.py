"""A press that cannot be what it says is told from what the mount, a knock or a hand explain."""

import math
from dataclasses import replace

import numpy as np
import pytest

from plumbstar.kit import example
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.mounts import centred, draw_terms, readings_in_turn
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.times import Instant
from plumbstar.solve.credible import far_off, those_far_off
from plumbstar.solve.fix import solve
from samples import tries

KIT = example()
PRIORS, NOISE = Priors.from_kit(KIT), Noise.from_kit(KIT)
FIELD = 1.5
NIGHT = Instant.parse("2027-01-28T18:30:00Z")


def presses(rng, count=4, knock_deg=0.0):
    """Honest ones of a mount drawn from the priors; the base is knocked before the last."""
    terms = np.tile(draw_terms(PRIORS, rng), (count, 1))
    for name in ("lean_north", "lean_west"):
        terms[-1, INDEX[name]] += math.radians(knock_deg) * rng.standard_normal()
    places = np.radians(np.stack([rng.uniform(0, 360, count), rng.uniform(20, 80, count)], -1))
    directions = centred(places, NOISE.centring * rng.standard_normal((count, 2)))
    readings = np.degrees(readings_in_turn(directions, terms))
    rows = np.hstack([np.degrees(places), readings])
    return [Sighting(f"star {k}", *map(float, row), NIGHT, "32 mm") for k, row in enumerate(rows)]


def judged(tap, before, priors=PRIORS):
    fix = solve(before, priors, NOISE) if before else None
    return far_off(tap, fix, priors, NOISE, FIELD, before)


def test_honest_presses_are_not_asked_about_nor_a_knock_that_the_fix_can_find_out():
    rng = np.random.default_rng(11)
    asked = knocked = 0
    for _ in range(tries(20, 120)):
        s = presses(rng)
        asked += sum(judged(s[k], s[:k]) is not None for k in range(4))
        s = presses(rng, knock_deg=2.0)
        knocked += judged(s[3], s[:3]) is not None
    assert (asked, knocked) == (0, 0)


def test_two_stars_that_agree_are_not_outvoted_by_one_of_them_far_out_in_its_tail():
    """An azimuth 48 degrees off, which is 12 or more on the sky. Where either star alone was
    believed at four sigmas, 12 of 232 such presses went by, and now 1."""
    rng = np.random.default_rng(5)
    asked = []
    for _ in range(tries(60, 250)):
        *before, tap = presses(rng, 3)
        off = replace(tap, az_reading_deg=tap.az_reading_deg + 48.0)
        places = [tap.true_az_deg, tap.true_alt_deg, tap.true_az_deg + 48.0, tap.true_alt_deg]
        if math.degrees(float(separation_rad(*np.radians(places)))) > 12.0:
            asked.append(judged(off, before) is not None)
    assert len(asked) > tries(50, 200)
    assert asked.count(False) <= 1


@pytest.mark.parametrize("before", [1, 2, 3])
def test_another_place_is_asked_about(before):
    """The star named is 48 degrees from where the tube points."""
    rng = np.random.default_rng(before)
    for _ in range(40):
        s = presses(rng, before + 1)
        tap = s[before]
        wrong = replace(tap, true_az_deg=tap.true_az_deg + 180.0)
        true = separation_rad(
            *np.radians([tap.true_az_deg, tap.true_alt_deg]),
            *np.radians([wrong.true_az_deg, wrong.true_alt_deg]),
        )
        far = judged(wrong, s[:before])
        if math.degrees(float(true)) < 48.0:
            continue
        assert far is not None
        assert not far.altitude_only
        assert far.off_deg == pytest.approx(math.degrees(float(true)), abs=far.bound_deg)
        assert far.bound_deg < 30.0


def test_a_reading_that_did_not_move_names_the_star_it_was_of():
    first, second = presses(np.random.default_rng(4), 2)
    stuck = replace(
        second, az_reading_deg=first.az_reading_deg + 0.05, alt_reading_deg=first.alt_reading_deg
    )
    far = judged(stuck, [first])
    assert far is not None
    assert far.same_as == 0
    assert judged(second, [first]) is None


def test_the_first_star_is_judged_by_the_altitude_alone():
    (tap,) = presses(np.random.default_rng(5), 1)
    low = replace(tap, alt_reading_deg=tap.alt_reading_deg - 60.0)
    far = judged(low, [])
    assert far is not None
    assert far.altitude_only
    assert far.off_deg == pytest.approx(60.0, abs=4.0)
    over = replace(tap, alt_reading_deg=180.0 - tap.alt_reading_deg)  # over the zenith
    assert judged(over, []) is None


def test_the_bound_is_that_of_the_mount():
    """A base that is known to stand well lets less through; one that may stand anyhow, more."""
    rng = np.random.default_rng(6)
    s = presses(rng, 4)
    tap = replace(s[3], alt_reading_deg=s[3].alt_reading_deg + 5.0)
    assert judged(tap, s[:3]) is None  # the base may have been knocked so far
    sigma = PRIORS.sigma.copy()
    for name in ("lean_north", "lean_west"):
        sigma[INDEX[name]] = math.radians(0.3)
    stiff = Priors(PRIORS.mean, sigma)
    fix = solve(s[:3], PRIORS, NOISE)
    assert far_off(tap, fix, stiff, NOISE, FIELD, s[:3]) is not None
    sigma = PRIORS.sigma.copy()
    sigma[INDEX["altitude_zero"]] = math.radians(60.0)  # the stop is not known at all
    assert judged(replace(s[0], alt_reading_deg=s[0].alt_reading_deg - 60.0), []) is not None
    assert (
        judged(replace(s[0], alt_reading_deg=s[0].alt_reading_deg - 60.0), [],
               Priors(PRIORS.mean, sigma)) is None
    )  # fmt: skip


def test_of_an_evening_each_is_judged_by_those_before_it():
    s = presses(np.random.default_rng(8), 5)
    stuck = replace(s[3], az_reading_deg=s[2].az_reading_deg, alt_reading_deg=s[2].alt_reading_deg)
    found = those_far_off([*s[:3], stuck, s[4]], PRIORS, NOISE, FIELD)
    assert [(k, far.same_as) for k, far in found] == [(3, 2)]
    assert those_far_off(s, PRIORS, NOISE, FIELD) == []
