"""The evening on which the stop is another one, and nobody told: a fix does not insist on what was
learnt. The mounts are walked in a geometry of their own."""

import math

import numpy as np

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
