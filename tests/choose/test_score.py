"""The score of a set before any sighting, against brute-force simulation."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from experiments import load
from many import means, sighted
from plumbstar.choose.score import (
    score_next,
    score_sets,
    score_trusting_stop,
    score_walk,
    unseen_mistakes,
)
from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import N_TERMS
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.chance import hit_chance
from plumbstar.solve.fix import sky_grid, solve
from plumbstar.solve.since import NEXT_PUSH
from plumbstar.solve.weighing import covariance_about, leading
from plumbstar.units import Array, Indices
from samples import tries

PRIOR, NOISE = Priors.from_kit(Kit()), Noise()
CLASSIC = ("azimuth_zero", "lean_north", "lean_west")
RADIUS = np.radians(0.5)


def brute_force(
    places: list[tuple[float, float]], samples: int, rng: np.random.Generator, classic: bool = False
) -> float:
    """Share of pushes that land in the field: mounts drawn, sighted, solved and pushed."""
    az, alt = sky_grid(20.0, 300)
    belief = Priors(np.zeros(N_TERMS), PRIOR.sigma).only(CLASSIC).flat() if classic else PRIOR
    per_mount = 5
    mounts = samples // per_mount
    terms = np.array([draw_terms(PRIOR, rng) for _ in range(mounts)])
    readings = sighted(np.radians(places), terms, NOISE, rng)
    found = means(readings, np.radians(places), belief, NOISE)
    pick = rng.integers(0, 300, (mounts, per_mount))
    goal = kinematics.unit(az[pick], alt[pick])
    reading = kinematics.reading_of(goal, found[:, None], readings[:, -1, 0, None])
    d = kinematics.direction(reading, terms[:, None])
    basis = kinematics.tangent_basis(az[pick], alt[pick])
    off = np.einsum("mnij,mnj->mni", basis, d) + rng.normal(0, NOISE.centring, (*d.shape[:2], 2))
    ahead = np.einsum("mni,mni->mn", goal, d) > 0
    return float(np.mean(ahead & (np.hypot(off[..., 0], off[..., 1]) < RADIUS)))


def test_many_mounts_are_solved_as_one_is() -> None:
    rng = np.random.default_rng(3)
    places = [(10.0, 30.0), (130.0, 60.0), (255.0, 40.0)]
    terms = np.array([draw_terms(PRIOR, rng) for _ in range(20)])
    readings = sighted(np.radians(places), terms, NOISE, rng)
    together = means(readings, np.radians(places), PRIOR, NOISE)
    for r, found in zip(np.degrees(readings), together, strict=True):
        rows = [Sighting("star", *p, *o) for p, o in zip(places, r.tolist(), strict=True)]
        alone = solve(rows, PRIOR, NOISE, find_bad=False)
        assert found == pytest.approx(alone.mean, abs=1e-7)


SETS = {
    "a quarter turn apart": [(40, 50), (130, 35)],
    "opposite": [(80, 40), (260, 55)],
    "near each other": [(100, 40), (112, 45)],
    "one azimuth": [(200, 25), (200, 68)],
    "across north": [(340, 30), (25, 60)],
    "three": [(10, 30), (130, 60), (255, 40)],
}


@pytest.mark.parametrize("name", SETS)
def test_the_score_is_within_two_points_of_brute_force(name: str) -> None:
    places = SETS[name]
    az, alt = np.radians(places).T
    t_az, t_alt = sky_grid(20.0, 300)
    score = score_sets(az, alt, len(places), PRIOR, NOISE, t_az, t_alt, RADIUS)
    assert len(score.sets) == 1
    simulated = brute_force(places, 10_000, np.random.default_rng(21))
    assert score.mean_hit_chance[0] == pytest.approx(simulated, abs=0.02)


@pytest.mark.parametrize("name", ["a quarter turn apart", "opposite", "three"])
def test_the_score_of_trusting_the_stop_too(name: str) -> None:
    places = SETS[name]
    az, alt = np.radians(places).T
    score = score_trusting_stop(az, alt, PRIOR, NOISE, *sky_grid(20.0, 300), RADIUS)
    simulated = brute_force(places, 10_000, np.random.default_rng(22), classic=True)
    # The classic recipe's leans are free, so a degree of stop makes it less linear: 3 points.
    assert score == pytest.approx(simulated, abs=0.03)


def test_all_sets_are_scored_once_and_alike() -> None:
    rng = np.random.default_rng(1)
    az, alt = rng.uniform(0, 2 * np.pi, 9), np.radians(rng.uniform(20, 70, 9))
    t = sky_grid(20.0, 100)
    for size in (1, 2, 3):
        many = score_sets(az, alt, size, PRIOR, NOISE, *t, RADIUS)
        wanted = set(itertools.combinations(range(9), size))
        assert {tuple(sorted(s)) for s in many.sets.tolist()} == wanted
        assert len(many.sets) == len(wanted)
        k = len(wanted) // 2
        pick = many.sets[k]
        alone = score_sets(az[pick], alt[pick], size, PRIOR, NOISE, *t, RADIUS)
        assert alone.mean_hit_chance[0] == pytest.approx(many.mean_hit_chance[k], abs=1e-4)


def test_a_third_star_never_hurts() -> None:
    rng = np.random.default_rng(2)
    az, alt = rng.uniform(0, 2 * np.pi, 7), np.radians(rng.uniform(20, 70, 7))
    t = sky_grid(20.0, 100)
    pairs = score_sets(az, alt, 2, PRIOR, NOISE, *t, RADIUS)
    triples = score_sets(az, alt, 3, PRIOR, NOISE, *t, RADIUS)
    best = {
        frozenset(s): c for s, c in zip(pairs.sets.tolist(), pairs.mean_hit_chance, strict=True)
    }
    for s, c in zip(triples.sets.tolist(), triples.mean_hit_chance, strict=True):
        assert c >= max(best[frozenset(p)] for p in itertools.combinations(s, 2)) - 2e-3


#: All round the sky; of the two orders the first winds the azimuth by more than half a turn.
ROUND = {
    "wound": [(10, 30), (130, 60), (255, 40)],
    "as it is best": [(255, 40), (10, 30), (130, 60)],
    "steep": [(330, 25), (95, 70), (215, 30)],
    "in a half circle": [(20, 30), (190, 60), (110, 35)],
}


@pytest.mark.parametrize("name", ROUND)
def test_a_hand_that_walks_round_the_sky_gets_what_is_scored(name: str) -> None:
    """In geometry of its own: design/choose_walking.py, small."""
    w = load("choose_walking")
    places = np.radians(ROUND[name])
    mounts = tries(200, 500)
    far, _ = w.landed(places, mounts, np.random.default_rng(31), bad=False)
    for radius in np.radians([0.25, 0.5]):
        score = score_walk(*places.T, PRIOR, NOISE, *sky_grid(), radius)
        # 500 mounts: a standard error of 1.2 points in the smaller field.
        near = 0.035 * np.sqrt(500 / mounts)
        assert score == pytest.approx(float(np.mean(far < radius)), abs=near)


def test_each_set_is_in_its_best_order_and_scored_as_it_is_walked() -> None:
    rng = np.random.default_rng(8)
    az, alt = rng.uniform(0, 2 * np.pi, 8), np.radians(rng.uniform(20, 70, 8))
    spread = 0.0
    for size, radius in ((2, RADIUS), (3, RADIUS / 2)):
        found = score_sets(az, alt, size, PRIOR, NOISE, *sky_grid(), radius)
        for row, chance in zip(found.sets, found.mean_hit_chance, strict=True):
            of = {
                order: score_walk(az[[*order]], alt[[*order]], PRIOR, NOISE, *sky_grid(), radius)
                for order in itertools.permutations(row.tolist())
            }
            assert chance == pytest.approx(of[tuple(row.tolist())], abs=2e-4)
            assert chance > max(of.values()) - 0.005
            spread = max(spread, max(of.values()) - min(of.values()))
    assert spread > 0.03  # it matters, in a field of half a degree


def test_the_order_costs_what_the_caller_says() -> None:
    az, alt = np.radians([10.0, 130.0, 255.0]), np.radians([30.0, 60.0, 40.0])

    def first_is_last(rows: Indices, turned: Array) -> Array:
        assert np.all(turned > np.radians(200))
        return np.where(rows[:, -1] == 0, 0.0, 1.0)

    found = score_sets(az, alt, 3, PRIOR, NOISE, *sky_grid(), RADIUS, first_is_last)
    assert found.sets[0, -1] == 0


def test_the_next_star_is_gone_on_from() -> None:
    """From the star to the targets, not from where the tube is now."""
    rng = np.random.default_rng(6)
    hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
    fix = solve(hidden.sight_all([(100, 30), (220, 55)]), PRIOR, NOISE)
    star = np.radians([340.0]), np.radians([40.0])
    t_az, t_alt = sky_grid(20.0, 60)
    _, after = score_next(fix, *star, t_az, t_alt, RADIUS / 2)
    J = fix.jacobian_at(*star)[0]
    hand = fix.landing_noise
    # One more star without a mistake confirms the stories that lead.
    before = covariance_about(fix.mean, leading(fix.stories))
    S = J @ before @ J.T + np.diag(hand.variances(star[1])[0])
    K = before @ J.T @ np.linalg.inv(S)
    cov = before - K @ J @ before
    near = float(fix.reading_for(340.0, 40.0)[0])
    Jt = fix.jacobian_at(t_az, t_alt, near)
    sky = Jt @ cov @ Jt.swapaxes(1, 2) + hand.centring**2 * np.eye(2)
    expected = unseen_mistakes(3) * np.mean(hit_chance(np.zeros(2), sky, RADIUS / 2))
    assert after[0] == pytest.approx(float(expected), abs=2e-3)


def test_the_next_star_buys_what_was_promised() -> None:
    rng = np.random.default_rng(5)
    promised, got = [], []
    t_az, t_alt = sky_grid(20.0, 200)
    mounts = tries(25, 120)
    for k in range(mounts):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        rows = hidden.sight_all([(100, 30), (130, 55)])
        fix = solve(rows, PRIOR, NOISE)
        now, after = score_next(
            fix, np.radians([10.0, 220.0]), np.radians([40.0, 45.0]), t_az, t_alt, RADIUS
        )
        if k % 6 == 0:
            assert now == pytest.approx(NEXT_PUSH * fix.mean_hit_chance(1.0), abs=0.005)
        assert np.all(after >= now - 1e-9)
        rows.append(hidden.sight("next", 220.0, 45.0))
        promised.append(after[1])
        got.append(NEXT_PUSH * solve(rows, PRIOR, NOISE).mean_hit_chance(1.0))
    assert np.mean(promised) == pytest.approx(np.mean(got), abs=0.01 * np.sqrt(120 / mounts))
