"""The evening on which the stop is another one, and nobody told: a fix does not insist on what was
learnt. The mounts are walked in a geometry of their own."""

import math

import numpy as np
import pytest

from experiments import load
from plumbstar.diagnose import learn
from plumbstar.diagnose.evidence import Evidence
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, PERSISTENT
from plumbstar.solve.fix import solve

weeks, walked = load("weeks"), load("walked")
KIT, NOISE = Kit(), Noise.from_kit(Kit())
STOP = INDEX["altitude_zero"]


def learnt_stop(outings: int) -> Priors:
    """After outings that each put the stop at 0, to 0.1 degrees."""
    info = np.zeros((len(PERSISTENT), len(PERSISTENT)))
    at = PERSISTENT.index("altitude_zero")
    info[at, at] = 1 / math.radians(0.1) ** 2
    told = [Evidence(i, None, info, np.zeros(len(PERSISTENT))) for i in range(outings)]
    return learn.learn(told, Priors.from_kit(KIT)).priors


def test_a_stop_that_changed_since_is_followed_by_the_first_fix():
    priors = learnt_stop(6)
    held = Priors(priors.mean, priors.sigma)
    off = {True: [], False: []}
    for seed in range(5):
        rng = np.random.default_rng(seed)
        lasting = np.zeros(walked.N_TERMS)
        lasting[walked.E0] = math.radians(1.6)
        rows, mount = weeks.evening(lasting, rng)
        for changes, p in ((True, priors), (False, held)):
            fix = solve(rows[:3], p, NOISE)
            off[changes].append(abs(math.degrees(fix.mean[STOP] - mount[walked.E0])))
    assert np.median(off[True]) < 0.4
    assert np.median(off[False]) > 0.8


def test_where_nothing_changed_the_chance_hardly_falls():
    priors = learnt_stop(6)
    held = Priors(priors.mean, priors.sigma)
    fell = []
    for seed in range(5):
        rng = np.random.default_rng(seed)
        rows = weeks.evening(np.zeros(walked.N_TERMS), rng)[0]
        each = [solve(rows[:2], p, NOISE).mean_hit_chance(0.76) for p in (held, priors)]
        fell.append(each[0] - each[1])
    assert 0 < np.mean(fell) < 0.04


def test_nothing_may_have_changed_of_what_was_never_learnt():
    assert learn.learn([], Priors.from_kit(KIT)).priors.changed == ()
    chances = [c.chance for c in learnt_stop(3).changed]
    assert 0.02 < sum(chances) < 0.05


def test_an_outing_whose_sightings_leave_doubt_moves_the_stop_less():
    """The same evidence, once from an outing that was sound and once from one in doubt."""
    info = np.zeros((len(PERSISTENT), len(PERSISTENT)))
    at = PERSISTENT.index("altitude_zero")
    info[at, at] = 1 / math.radians(0.1) ** 2

    def said(i: int, stop_deg: float, doubt: float) -> Evidence:
        return Evidence(i, None, info, info[:, at] * math.radians(stop_deg), doubt)

    def stop(doubt: float) -> float:
        run = [said(i, 0.0, 0.05) for i in range(3)] + [said(3, -2.5, doubt)]
        term = learn.learn(run, Priors.from_kit(KIT)).term("altitude_zero")
        return math.degrees(term.mean)

    assert stop(0.0) < stop(0.6) - 0.2


def test_after_a_change_two_stars_tell_which_of_two_values_the_stop_has():
    """After one outing with another stop it may have stayed, or have been so that once: both are
    asked of the next evening's stars, whose fix is then surer than by one wide prior."""
    info = np.zeros((len(PERSISTENT), len(PERSISTENT)))
    at = PERSISTENT.index("altitude_zero")
    info[at, at] = 1 / math.radians(0.1) ** 2
    told = [
        Evidence(i, None, info, info[:, at] * math.radians(x))
        for i, x in enumerate([0.0] * 5 + [1.7])
    ]
    priors = learn.learn(told, Priors.from_kit(KIT)).priors
    values = sorted((math.degrees(v.mean), v.chance) for v in priors.one_of)
    assert len(values) >= 2
    assert values[0][0] == pytest.approx(0.0, abs=0.2)
    assert values[-1][0] == pytest.approx(1.7, abs=0.2)
    assert sum(p for _, p in values) == pytest.approx(1.0)
    # One law over both, as everything but a fix takes it.
    mean = sum(v.chance * v.mean for v in priors.one_of)
    assert priors.mean[STOP] == pytest.approx(mean, abs=math.radians(0.1))
    assert math.degrees(priors.sigma[STOP]) > 0.6
    wide = Priors(priors.mean, priors.sigma, priors.changed)
    off, surer = [], []
    for seed, stop in enumerate((0.0, 1.7) * 3):
        rng = np.random.default_rng(40 + seed)
        lasting = np.zeros(walked.N_TERMS)
        lasting[walked.E0] = math.radians(stop)
        rows, mount = weeks.evening(lasting, rng)
        each = [solve(rows[:2], p, NOISE) for p in (priors, wide)]
        off.append(abs(math.degrees(each[0].mean[STOP] - mount[walked.E0])))
        surer.append(each[0].mean_hit_chance(0.76) - each[1].mean_hit_chance(0.76))
    assert np.median(off) < 0.2
    assert np.mean(surer) > 0.05


def test_where_the_weeks_agree_the_stop_has_one_value():
    assert learnt_stop(6).one_of == ()
