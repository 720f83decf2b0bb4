"""Evenings in which something went wrong: the chance stays honest, and it is said what moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from experiments import load
from plumbstar.guide.sweep import not_in_field
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.fix import solve
from plumbstar.solve.say import fix_notes
from samples import tries

PRIOR, NOISE = Priors.from_kit(Kit()), Noise()


def of_kind(words: str, evenings: int):
    """Some evenings of one of the worlds of design/honest_with_mistakes.py."""
    m = load("honest_with_mistakes")
    world = next(w for w in m.WORLDS if words in w.name)
    return m.run(world, evenings, seed=41)


def test_with_mistakes_at_the_stated_rates_the_chance_comes_true():
    evenings = tries(90, 400)
    near = 0.03 * (400 / evenings) ** 0.5
    c = of_kind("stated rates", evenings)
    assert abs(c.stated.mean() - c.hit.mean()) < near
    high = c.stated >= 0.9
    assert abs(c.stated[high].mean() - c.hit[high].mean()) < near


def test_after_a_slip_the_fix_goes_by_the_sightings_since():
    """Of 1,000 evenings: 98 % stated where nine in ten are claimed, and 98 % hit."""
    evenings = tries(25, 60)
    c = of_kind("after the fourth of six", evenings)
    assert c.asked.mean() > 0.85
    assert c.hit.mean() > 0.85
    assert abs(c.stated.mean() - c.hit.mean()) < 0.06 * (60 / evenings) ** 0.5


def test_a_slip_before_the_newest_star_is_thought_of():
    c = of_kind("before the last of four", tries(30, 60))
    assert c.asked.mean() > 0.45
    assert np.mean((c.stated >= 0.8) & ~c.hit) < 0.25


def test_two_stars_claim_no_more_than_the_absence_of_a_mistake_allows():
    """Nothing checks them, so a mistake is always thinkable; a third star takes it away."""
    rng = np.random.default_rng(3)
    two, three = [], []
    for _ in range(15):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        seen = hidden.sight_all([(100, 30), (190, 55), (300, 40)])
        fix = solve(seen[:2], PRIOR, NOISE)
        two.append(fix.mean_hit_chance(2.0))
        three.append(solve(seen, PRIOR, NOISE).mean_hit_chance(2.0))
        assert any("A third star checks both" in n for n in fix_notes(fix)) or fix.doubtful
    assert max(two) < 0.98
    assert np.median(three) > 0.98


def test_a_hand_far_better_than_stated_is_told_and_used():
    rng = np.random.default_rng(5)
    hand = Noise(NOISE.centring / 30)
    hidden = HiddenMount(draw_terms(PRIOR, rng), hand, rng)
    fix = solve(hidden.sight_all(zip(range(0, 360, 30), [30, 60] * 6, strict=True)), PRIOR, NOISE)
    assert any("agree far better than the stated centring" in n for n in fix_notes(fix))
    assert fix.landing_noise.centring < NOISE.centring / 5
    assert fix.hit_chance(77.0, 45.0, 0.2) > 0.9


@pytest.mark.parametrize("axis", ["azimuth", "altitude"])
def test_the_star_to_sight_again_tells(axis):
    """One sighting after a slip: it may be a wrong star. The star that is named decides."""
    rng = np.random.default_rng(8)
    hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
    places = [(40, 35), (150, 50), (260, 30), (330, 60), (100, 45)]
    seen = hidden.sight_all(places[:4])
    hidden.terms = hidden.terms.copy()
    hidden.terms[0 if axis == "azimuth" else 1] += np.radians(2.0)
    seen.append(hidden.sight("after", *places[4]))
    moved = solve(seen, PRIOR, NOISE).moved
    assert moved is not None
    assert moved.first == 4
    assert moved.axes == (axis,)
    assert abs(moved.by_deg) == pytest.approx(2.0, abs=0.7)
    assert moved.again is not None
    again = hidden.sight("again", *places[moved.again])
    sure = solve([*seen, again], PRIOR, NOISE).moved
    assert sure is not None
    assert sure.probability > max(0.99, moved.probability - 1e-9)


def test_a_miss_makes_the_other_story_likelier():
    """A wrong star or a slip: not found where the one says, the target is where the other does."""
    rng = np.random.default_rng(8)
    hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
    seen = hidden.sight_all([(40, 35), (150, 50), (260, 30)])
    s = seen[-1]
    off = replace(s, true_az_deg=s.true_az_deg + 3, true_alt_deg=s.true_alt_deg + 2)
    fix = solve([*seen[:2], off], PRIOR, NOISE)
    first = fix.stories[0]
    after = not_in_field(fix, 200.0, 45.0, 2.0)
    assert sum(w.share for w in after.stories) == pytest.approx(1.0)
    same = next(w for w in after.stories if w.story == first.story)
    told = float(fix.hit_chance(200.0, 45.0, 2.0))
    assert 0.3 < told < 0.99
    assert same.share < first.share
