"""Learnt priors: free of the priors used before, calibrated, and hard to fool."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from plumbstar.diagnose import evidence, learn
from plumbstar.diagnose.hand import learn_hand
from plumbstar.diagnose.teach import learnt_priors
from plumbstar.errors import UserError
from plumbstar.kit import example
from plumbstar.logbook import Logbook
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS, PERSISTENT, TERMS
from plumbstar.simulate.mounts import centred, draw_terms, rounded
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve
from samples import tries

Array = NDArray[np.float64]

KIT = example()
BASE = Priors.from_kit(KIT)
NOISE = Noise.from_kit(KIT)
NAMES = ("altitude_zero", "squareness", "cone", "droop")
# How the invented mount changes from outing to outing, degrees.
CHANGES = {"altitude_zero": 0.25, "squareness": 0.05, "cone": 0.08, "droop": 0.03}


def sight(rng: np.random.Generator, terms: Array, stars: int) -> list[Sighting]:
    """Centre some random stars with the hidden mount, by the kit's hand and ticks."""
    out = []
    for _ in range(stars):
        az, alt = rng.uniform(0, 2 * np.pi), math.radians(rng.uniform(20, 75))
        d = centred(np.array([az, alt]), rng.normal(0, NOISE.centring, 2))
        tick = np.full(2, 2 * np.pi / KIT.azimuth.ticks_per_turn)
        reading = np.degrees(rounded(kinematics.reading_of(d, terms, az), tick))
        out.append(
            Sighting(
                "a star", math.degrees(az), math.degrees(alt), float(reading[0]), float(reading[1])
            )
        )
    return out


def lasting_mount(rng: np.random.Generator) -> Array:
    """The hidden mount itself, as the kit believes."""
    terms = BASE.mean.copy()
    at = [INDEX[t] for t in PERSISTENT]
    terms[at] += rng.normal(0, 1, len(at)) * BASE.sigma[at] * 0.85
    return terms


def set_up(rng: np.random.Generator, lasting: Array) -> Array:
    """The mount as it is on one evening."""
    terms = lasting.copy()
    terms[INDEX["azimuth_zero"]] = rng.uniform(-3, 3)
    for lean in ("lean_north", "lean_west"):
        terms[INDEX[lean]] = rng.normal(0, math.radians(2))
    for name, change in CHANGES.items():
        terms[INDEX[name]] += rng.normal(0, math.radians(change))
    return terms


def teach(
    rng: np.random.Generator, lasting: Array, outings: int, stars: int = 3
) -> list[evidence.Evidence]:
    return [
        evidence.evidence(solve(sight(rng, set_up(rng, lasting), stars), BASE, NOISE), i)
        for i in range(outings)
    ]


def gaussian(
    x: Array, sigma: Array, outing_id: int = 0, utc: Instant | None = None
) -> evidence.Evidence:
    """Evidence that measures each lasting term by itself, at x +- sigma (9,), radians."""
    return evidence.Evidence(outing_id, utc, np.diag(1 / sigma**2), x / sigma**2)


def test_evidence_does_not_depend_on_the_prior_it_was_solved_with() -> None:
    # A linear problem in closed form: the same likelihood under two priors.
    rng = np.random.default_rng(2)
    H = rng.normal(size=(30, N_TERMS))
    y = H @ rng.normal(0, 0.01, N_TERMS) + rng.normal(0, 0.001, 30)
    lambda_data, eta_data = H.T @ H / 1e-6, H.T @ y / 1e-6
    nuisance = np.array([t not in PERSISTENT for t in TERMS])
    found = []
    for mean, sigma in ((0.0, 0.02), (0.05, 0.004)):
        m, s = np.where(nuisance, 0.0, mean), np.where(nuisance, 0.03, sigma)
        cov = np.linalg.inv(lambda_data + np.diag(1 / s**2))
        fix = solve(sight(rng, np.zeros(N_TERMS), 1), BASE, NOISE)
        object.__setattr__(fix, "mean", cov @ (eta_data + m / s**2))
        object.__setattr__(fix, "covariance", cov)
        object.__setattr__(fix, "prior", Priors(m, s))
        found.append(evidence.evidence(fix))
    for one in ("information", "vector"):
        a, b = (getattr(e, one) for e in found)
        assert np.allclose(a, b, rtol=1e-6, atol=1e-6 * np.abs(a).max())


@pytest.mark.parametrize(("seed", "within"), [(1, 0.1), (2, 0.1), (3, 0.3), (4, 0.1), (5, 0.1)])
def test_evidence_of_real_sightings_is_nearly_free_of_the_prior(seed: int, within: float) -> None:
    # The kinematics are not quite linear, so only near agreement: in the best-known directions
    # mostly within a tenth of a sigma of the data alone.
    rng = np.random.default_rng(seed)
    terms = set_up(rng, lasting_mount(rng))
    stars = sight(rng, terms, 6)
    other = Priors(BASE.mean.copy(), BASE.sigma * np.where(BASE.sigma < 1, 2.0, 1.0))
    for lean in ("lean_north", "lean_west"):  # the set-up's own priors stay the same
        other.sigma[INDEX[lean]] = BASE.sigma[INDEX[lean]]
    a, b = (evidence.evidence(solve(stars, p, NOISE, find_bad=False)) for p in (BASE, other))
    unit = BASE.sigma[[INDEX[t] for t in PERSISTENT]]
    free = unit > 0
    Na, Nb = ((e.information * np.outer(unit, unit))[np.ix_(free, free)] for e in (a, b))
    values, axes = np.linalg.eigh(Na)
    best = axes[:, values > 5]
    assert best.shape[1] >= 1
    assert np.allclose(best.T @ Na @ best, best.T @ Nb @ best, rtol=0.05, atol=0.05 * values.max())
    told = [best.T @ (e.vector * unit)[free] for e in (a, b)]
    assert np.all(np.abs(told[0] - told[1]) / np.sqrt(np.diag(best.T @ Na @ best)) < within)


def test_putting_the_prior_back_gives_the_fix_again() -> None:
    rng = np.random.default_rng(4)
    fix = solve(sight(rng, set_up(rng, lasting_mount(rng)), 2), BASE, NOISE)
    e = evidence.evidence(fix)
    at = np.array([INDEX[t] for t in PERSISTENT])
    free = BASE.sigma[at] > 0
    P = np.diag(1 / BASE.sigma[at][free] ** 2)
    cov = np.linalg.inv(e.information[np.ix_(free, free)] + P)
    mean = cov @ (e.vector[free] + P @ BASE.mean[at][free])
    assert np.allclose(cov, fix.covariance[np.ix_(at[free], at[free])], rtol=1e-6, atol=1e-12)
    assert np.allclose(mean, fix.mean[at][free], rtol=1e-6, atol=1e-9)


def test_no_outing_leaves_the_kits_priors_to_the_letter() -> None:
    got = learn.learn([], BASE)
    assert np.array_equal(got.priors.mean, BASE.mean)
    assert np.array_equal(got.priors.sigma, BASE.sigma)
    assert all(not t.outings and math.isnan(t.scatter) for t in got.terms)


def test_one_outing_does_not_narrow_the_prior_to_its_own_sigma() -> None:
    unit = np.array([max(BASE.sigma[INDEX[t]], 1e-9) for t in PERSISTENT])
    exact = gaussian(0.5 * unit, 0.01 * unit)
    t = learn.learn([exact], BASE).term("altitude_zero")
    assert 0.2 * t.kit_sigma < t.sigma < t.kit_sigma  # its own sigma would be 0.01
    assert abs(t.mean - 0.5 * t.kit_sigma) < 0.15 * t.kit_sigma


def test_many_equal_outings_stop_at_the_floor() -> None:
    unit = np.array([max(BASE.sigma[INDEX[t]], 1e-9) for t in PERSISTENT])
    got = learn.learn([gaussian(0.3 * unit, 1e-4 * unit, i) for i in range(40)], BASE)
    for t in got.terms:
        assert learn.FLOOR[t.name] <= t.sigma < 1.6 * learn.FLOOR[t.name]


@pytest.mark.parametrize(("outings", "low", "high"), [(1, 0.60, 0.90), (6, 0.60, 0.82)])
def test_the_next_outing_lies_inside_one_sigma_about_68_times_in_100(
    outings: int, low: float, high: float
) -> None:
    # From sightings to learnt priors, 40 invented mounts with four terms: 160 trials, of which
    # 68.3 % +- 3.7 % should be inside (quick: 40, +- 7.4 %). The model expects more change
    # between outings than this mount shows, so too wide is the side on which it errs.
    rng = np.random.default_rng(20270128)
    inside = trials = 0
    mounts = tries(10, 40)
    for _ in range(mounts):
        lasting = lasting_mount(rng)
        got = learn.learn(teach(rng, lasting, outings), BASE)
        then = set_up(rng, lasting)
        for name in NAMES:
            t = got.term(name)
            inside += abs(then[INDEX[name]] - t.mean) < t.sigma
            trials += 1
    slack = 0.11 * (math.sqrt(40 / mounts) - 1.0)  # three sigma of fewer trials, less those of 160
    assert low - slack <= inside / trials <= high + slack


def test_mounts_that_change_between_outings_are_inside_68_times_in_100() -> None:
    # Values that wander by anything from nothing to half the kit's sigma, and now and then change
    # for good: not drawn as the model would. Its mean over stories is wide rather than narrow.
    rng = np.random.default_rng(3)
    unit = np.array([max(BASE.sigma[INDEX[t]], 1e-9) for t in PERSISTENT])
    at = [PERSISTENT.index(t) for t in NAMES]
    inside = trials = 0
    mounts = tries(10, 40)
    for _ in range(mounts):
        value = rng.uniform(-1.5, 1.5, len(at))
        wander = rng.uniform(0, 0.5, len(at))
        rows = []
        for i in range(4):
            value = np.where(rng.random(len(at)) < 0.03, rng.uniform(-1.5, 1.5, len(at)), value)
            x = np.zeros(len(unit))
            x[at] = value + wander * rng.uniform(-1.7, 1.7, len(at)) + rng.normal(0, 0.15, len(at))
            rows.append(gaussian(x * unit, 0.15 * unit, i))
        got = learn.learn(rows, BASE)
        then = value + wander * rng.uniform(-1.7, 1.7, len(at))
        for name, true in zip(NAMES, then, strict=True):
            t = got.term(name)
            inside += abs(true * t.kit_sigma + t.kit_mean - t.mean) < t.sigma
            trials += 1
    slack = 0.11 * (math.sqrt(40 / mounts) - 1.0)
    assert 0.60 - slack <= inside / trials <= 0.80 + slack


def test_counting_the_prior_twice_would_show() -> None:
    # The same outings with the prior left in: pulled to the kit. Guards the test above against
    # passing for the wrong reason.
    rng = np.random.default_rng(8)
    lasting = BASE.mean.copy()
    lasting[INDEX["cone"]] = 2.0 * BASE.sigma[INDEX["cone"]]
    fixes = [solve(sight(rng, set_up(rng, lasting), 4), BASE, NOISE) for _ in range(12)]
    at = np.array([INDEX[t] for t in PERSISTENT])
    free = BASE.sigma[at] > 0
    naive = []
    for f in fixes:
        N, v = np.zeros((len(at), len(at))), np.zeros(len(at))
        P = np.linalg.inv(f.covariance[np.ix_(at[free], at[free])])
        N[np.ix_(free, free)], v[free] = P, P @ f.mean[at[free]]
        naive.append(evidence.Evidence(0, None, N, v))
    truth = lasting[INDEX["cone"]]
    ours = learn.learn([evidence.evidence(f) for f in fixes], BASE).term("cone")
    theirs = learn.learn(naive, BASE).term("cone")
    assert abs(ours.mean - truth) < 1.5 * ours.sigma
    assert abs(theirs.mean - truth) > 1.5 * theirs.sigma
    assert abs(ours.mean - truth) < 0.75 * abs(theirs.mean - truth)


def test_one_odd_outing_is_named_and_does_little_harm() -> None:
    rng = np.random.default_rng(9)
    unit = np.array([max(BASE.sigma[INDEX[t]], 1e-9) for t in PERSISTENT])
    values = [0.4 * unit + rng.normal(0, 0.1, len(unit)) * unit for _ in range(8)]
    usual = [gaussian(x, 0.08 * unit, i) for i, x in enumerate(values)]
    odd_value = values[0].copy()
    odd_value[0] += 4 * unit[0]  # the tube was not on its stop
    odd = gaussian(odd_value, 0.08 * unit, 99)
    before = learn.learn(usual, BASE).term("altitude_zero")
    assert before.odd == ()
    # It is named at once, but that the stop stays there is not out of the question.
    at_once = learn.learn([*usual, odd], BASE).term("altitude_zero")
    assert at_once.odd == (99,)
    assert abs(at_once.mean - before.mean) < 0.3 * at_once.sigma
    assert at_once.sigma > 2.5 * before.sigma
    # The next outing tells.
    back = gaussian(values[1], 0.08 * unit, 100)
    after = learn.learn([*usual, odd, back], BASE).term("altitude_zero")
    assert after.odd == (99,)
    assert abs(after.mean - before.mean) < 0.1 * before.kit_sigma  # a plain mean: 0.4
    assert after.sigma < 2.5 * before.sigma


def test_a_mend_is_a_new_beginning_for_its_terms_only() -> None:
    unit = np.array([max(BASE.sigma[INDEX[t]], 1e-9) for t in PERSISTENT])
    day = Instant.parse("2027-01-28T18:30:00Z")
    old = [gaussian(0.9 * unit, 0.05 * unit, i, day.plus_seconds(i * 86400)) for i in range(5)]
    mend = day.plus_seconds(5.5 * 86400)
    mended = 0.9 * unit
    mended[PERSISTENT.index("altitude_zero")] *= -2 / 9
    new = [
        gaussian(mended, 0.05 * unit, 10 + i, day.plus_seconds((6 + i) * 86400)) for i in range(3)
    ]
    got = learn.learn([*old, *new], BASE, [(mend, ("altitude_zero",))])
    stop, cone = got.term("altitude_zero"), got.term("cone")
    assert stop.outings == (10, 11, 12)
    assert cone.outings == (0, 1, 2, 3, 4, 10, 11, 12)
    assert abs(stop.mean + 0.2 * stop.kit_sigma) < 0.12 * stop.kit_sigma
    assert abs(cone.mean - 0.9 * cone.kit_sigma) < 0.12 * cone.kit_sigma
    assert stop.since == mend
    assert cone.since is None
    # An outing that never said when it was counts as before the mend.
    undated = learn.learn([gaussian(unit, 0.1 * unit, 1)], BASE, [(mend, ("altitude_zero",))])
    assert undated.term("altitude_zero").outings == ()


def test_the_same_outings_always_teach_the_same() -> None:
    rng = np.random.default_rng(11)
    outings = teach(rng, lasting_mount(rng), 2)
    a, b = (learn.learn(outings, BASE).priors for _ in range(2))
    assert np.array_equal(a.mean, b.mean)
    assert np.array_equal(a.sigma, b.sigma)


def test_terms_the_kit_holds_stay_held() -> None:
    held = BASE.holding(cone=math.radians(0.25))
    rng = np.random.default_rng(12)
    got = learn.learn(teach(rng, lasting_mount(rng), 2), held)
    assert got.priors.sigma[INDEX["cone"]] == 0
    with pytest.raises(UserError, match="cone"):
        got.term("cone")


def test_last_mend_of_each_term() -> None:
    day = Instant.parse("2027-01-28")
    later = day.plus_seconds(86400)
    assert learn.since_of([(later, ["cone"]), (day, ["cone", "droop"])]) == {
        "cone": later,
        "droop": day,
    }


def slipped(rows: list[Sighting], first: int, az: float, alt: float) -> list[Sighting]:
    """The same with both circles off by so many degrees from sighting ``first`` on."""
    return [
        replace(s, az_reading_deg=s.az_reading_deg + az, alt_reading_deg=s.alt_reading_deg + alt)
        if i >= first
        else s
        for i, s in enumerate(rows)
    ]


def off_by(e: evidence.Evidence, hidden: np.ndarray) -> tuple[float, int]:
    """Chi-square of the hidden mount (12,) by what an outing says, and of how many numbers."""
    values, axes = np.linalg.eigh(e.information)
    told = values > 1e-6 * values.max()
    x = hidden[[INDEX[t] for t in PERSISTENT]]
    best = axes[:, told] @ ((axes[:, told].T @ e.vector) / values[told])
    return float((x - best) @ e.information @ (x - best)), int(np.count_nonzero(told))


@pytest.mark.parametrize("told", [True, False])
def test_the_parts_of_an_outing_teach_together_told_or_not(told: bool) -> None:
    """What the parts say lies about the hidden mount as far as it says itself (chi-square), also
    where nobody told that both circles slipped between them."""
    rng = np.random.default_rng(21)
    off, wider = [], 0
    cuts = [(4, ("azimuth",)), (4, ("altitude",))] if told else []
    outings = tries(30, 60) if told else tries(15, 25)
    for _ in range(outings):
        hidden = set_up(rng, draw_terms(BASE, rng))
        rows = slipped(sight(rng, hidden, 8), 4, 20.0, 3.0)
        e = evidence.evidence_from(rows, KIT, cuts=cuts)
        first = evidence.evidence_from(rows[:4], KIT)
        assert e is not None
        assert first is not None
        off.append(off_by(e, hidden))
        wider += np.all(np.diag(e.information) >= np.diag(first.information) * 0.999)
    square, count = np.sum(off, axis=0)
    assert abs(square / count - 1.0) < 0.2 * math.sqrt((60 if told else 25) / outings)
    # Never less than what the first part says alone; where nobody told, what moved is itself in
    # doubt.
    assert wider == len(off) if told else wider >= len(off) - 2


def test_after_the_altitude_circle_slipped_its_zero_teaches_nothing() -> None:
    rng = np.random.default_rng(22)
    rows = slipped(sight(rng, set_up(rng, BASE.mean), 8), 4, 0.0, 3.0)
    at = PERSISTENT.index("altitude_zero")
    with_cut = evidence.evidence_from(rows, KIT, cuts=[(4, ("altitude",))])
    first = evidence.evidence_from(rows[:4], KIT)
    assert with_cut is not None
    assert first is not None
    prior = np.diag(BASE.information[[INDEX[t] for t in PERSISTENT]])
    stop = [np.linalg.solve(e.information + prior, e.vector)[at] for e in (with_cut, first)]
    assert np.degrees(stop) == pytest.approx([0.0, 0.0], abs=0.35)
    assert with_cut.information[at, at] == pytest.approx(first.information[at, at], rel=1e-6)


def test_from_a_logbook_with_mends_and_a_contradictory_outing() -> None:
    book = Logbook.open(":memory:")
    rng = np.random.default_rng(13)
    lasting = BASE.mean.copy()
    lasting[INDEX["altitude_zero"]] = math.radians(0.9)
    day = Instant.parse("2027-01-28T18:30:00Z")
    site = Site(47.2, 11.6, 940.0, name="Thornback Ridge")
    for i in range(5):
        o = book.start_outing(site, KIT, "", day.plus_seconds(i * 86400))
        for s in sight(rng, set_up(rng, lasting), 4):
            book.add_sighting(o.id, s, "typed")
    wild = book.start_outing(site, KIT, "", day.plus_seconds(6 * 86400))
    for k in range(3):
        book.add_sighting(
            wild.id, Sighting("x", 100.0 * k, 40.0, 50.0 * k * k, 10.0 + 25 * k), "typed"
        )
    got = learnt_priors(book, KIT)
    stop = got.term("altitude_zero")
    assert got.left_out == (wild.id,)
    assert stop.outings == (1, 2, 3, 4, 5)
    assert abs(stop.mean - math.radians(0.9)) < math.radians(0.3)
    assert stop.sigma < math.radians(0.6)
    # The outing in progress must not teach itself.
    assert learnt_priors(book, KIT, before=day).term("altitude_zero").outings == ()
    # Cut where the observer said that something moved, each sighting agrees with itself.
    ids = [s.id for s in book.sightings(wild.id)]
    slips = [{"after": n, "axes": ["azimuth", "altitude"], "why": "knocked"} for n in ids[:2]]
    book.update_state(wild.id, desk={"slips": slips})
    assert learnt_priors(book, KIT).left_out == ()
    book.add_mend(KIT.name, ["altitude_zero"], "stop shimmed", day.plus_seconds(3.5 * 86400))
    assert learnt_priors(book, KIT).term("altitude_zero").outings == (5,)
    book.undo()
    assert learnt_priors(book, KIT).term("altitude_zero").outings == (1, 2, 3, 4, 5)


def test_one_wild_evening_leaves_the_hand_a_number() -> None:
    """Its likelihoods are too small for any float; they were taken the logarithm of."""
    steep = -5000.0 * np.arange(13.0)[::-1]
    learnt = learn_hand([steep, np.zeros(13)], NOISE)
    assert learnt is not None
    assert math.isfinite(learnt.centring)
    assert math.isfinite(learnt.sigma_log)


def test_one_outing_narrows_to_a_third_however_good_its_sightings():
    """What docs/logbook.md says: of the change from outing to outing it tells nothing."""
    free = [i for i, t in enumerate(PERSISTENT) if 0.0 < BASE.sigma[INDEX[t]] < math.inf]
    information = np.zeros((len(PERSISTENT), len(PERSISTENT)))
    for i in free:
        information[i, i] = 1e8 / BASE.sigma[INDEX[PERSISTENT[i]]] ** 2
    vector = information @ BASE.mean[[INDEX[t] for t in PERSISTENT]]
    told = learn.learn([evidence.Evidence(1, None, information, vector)], BASE)
    narrowed = [t.sigma / t.kit_sigma for t in told.terms]
    assert 0.29 < min(narrowed) < 0.38
