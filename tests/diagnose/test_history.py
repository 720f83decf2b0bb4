"""The run of outings: exact evidence against brute force, hidden changes found, none invented."""

from __future__ import annotations

import math
from dataclasses import fields

import numpy as np
import pytest

from plumbstar.diagnose import evidence, history, shims
from plumbstar.diagnose.evidence import Evidence
from plumbstar.errors import UserError
from plumbstar.kit import Kit, Shim, Stop
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, N_TERMS, PERSISTENT
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve
from samples import tries

KIT = Kit()
PRIORS = Priors.from_kit(KIT)
NOISE = Noise.from_kit(KIT)
START = Instant.parse("2027-01-28T18:00:00Z")
AT = np.array([INDEX[t] for t in PERSISTENT])
LASTING = len(PERSISTENT)
STOP = PERSISTENT.index("altitude_zero")
FIELD = 1.0


def day(i):
    return START.plus_seconds(i * 7 * 86400.0)


def outing(i, terms, rng, stars=3):
    """Sightings on a hidden mount, solved, and the prior taken out: as the logbook does."""
    mount = HiddenMount(terms, NOISE, rng)
    az0 = rng.uniform(0, 360)
    places = [
        ((az0 + 360 / stars * s + rng.uniform(-30, 30)) % 360, rng.uniform(20, 70))
        for s in range(stars)
    ]
    sightings = [mount.sight(f"star {j}", *p) for j, p in enumerate(places)]
    fix = solve(sightings, PRIORS, NOISE, find_bad=False)
    return evidence.evidence(fix, i + 1, day(i))


def evening_terms(lasting, rng, scatter_deg=0.03):
    """The lasting terms, with a new azimuth zero, new leans and a slightly other stop."""
    t = lasting.copy()
    t[0] = rng.uniform(-3, 3)
    t[INDEX["lean_north"]], t[INDEX["lean_west"]] = rng.normal(size=2) * math.radians(1.0)
    t[INDEX["altitude_zero"]] += rng.normal() * math.radians(scatter_deg)
    return t


def lasting(rng):
    sigma = np.where(np.isinf(PRIORS.sigma), 0.0, PRIORS.sigma)
    return draw_terms(Priors(np.zeros(N_TERMS), sigma), rng)


def run(rng, n, step_deg=0.0, at=None, slope_deg=0.0, base=None):
    base = lasting(rng) if base is None else base
    out, last = [], None
    for i in range(n):
        t = base.copy()
        if at is not None and i >= at:
            t[INDEX["altitude_zero"]] += math.radians(step_deg)
        t[INDEX["altitude_zero"]] += math.radians(slope_deg) * i / max(n - 1, 1)
        last = t
        out.append(outing(i, evening_terms(t, rng), rng))
    return out, last


def test_a_knocked_stop_is_found_and_named():
    found, right, blamed, runs = 0, 0, 0, tries(4, 8)
    for seed in range(runs):
        rng = np.random.default_rng(100 + seed)
        rows, _ = run(rng, 9, step_deg=0.9, at=5)
        s = history.summarise(rows, PRIORS, NOISE, FIELD)
        top = s.changes[0] if s.changes else None
        if top is not None and top.name == "altitude_zero" and top.kind == "jump":
            found += top.probability > history.FOUND
            right += top.outing_id == 6
            assert abs(top.size - 0.9) < 4 * top.size_sigma + 0.1
        blamed += any(c.name != "altitude_zero" for c in s.changes)
    assert found >= tries(4, 7)
    assert right >= tries(4, 7)
    assert blamed <= 1  # the cone did not jump with it


def test_steady_mounts_raise_no_alarm():
    alarms, runs = 0, tries(6, 14)
    for seed in range(runs):
        rng = np.random.default_rng(300 + seed)
        rows, _ = run(rng, 8)
        s = history.summarise(rows, PRIORS, NOISE, FIELD)
        alarms += bool(s.changes)
    assert alarms <= tries(1, 2)


def test_a_drift_is_told_from_a_jump():
    kinds, runs = [], tries(4, 8)
    for seed in range(runs):
        rng = np.random.default_rng(500 + seed)
        rows, _ = run(rng, 12, slope_deg=1.6)
        s = history.summarise(rows, PRIORS, NOISE, FIELD)
        t = s.term("altitude_zero")
        kinds.append((t.drifts, t.jumped))
    assert sum(d > 0.5 for d, _ in kinds) >= tries(3, 6)
    assert sum(j > 0.5 for _, j in kinds) <= 1


def test_a_recorded_mend_is_no_alarm_and_starts_anew():
    rng = np.random.default_rng(7)
    rows, last = run(rng, 9, step_deg=1.2, at=5)
    unsaid = history.summarise(rows, PRIORS, NOISE, FIELD)
    assert unsaid.changes
    assert unsaid.changes[0].outing_id == 6
    mends = [(day(4).plus_seconds(86400.0), ("altitude_zero",))]
    said = history.summarise(rows, PRIORS, NOISE, FIELD, mends=mends)
    assert not said.changes
    t = said.term("altitude_zero")
    assert t.now == pytest.approx(
        math.degrees(last[INDEX["altitude_zero"]]), abs=4 * t.now_sigma + 0.05
    )


def test_values_now_fall_inside_their_intervals():
    """Hidden lasting values against now ± sigma; 24 runs x 3 terms: the share within 1 sigma."""
    pulls, runs = [], tries(10, 24)
    for seed in range(runs):
        rng = np.random.default_rng(900 + seed)
        rows, last = run(rng, 5)
        s = history.summarise(rows, PRIORS, NOISE, FIELD)
        for name in ("altitude_zero", "cone", "squareness"):
            t = s.term(name)
            pulls.append((t.now - math.degrees(last[INDEX[name]])) / t.now_sigma)
    pulls = np.abs(pulls)
    slack = math.sqrt(24 / runs)
    assert abs(np.mean(pulls < 1) - 0.71) < 0.15 * slack
    assert np.mean(pulls < 2) > 1.0 - 0.07 * slack


def test_prior_is_not_counted_twice():
    """One outing told twenty times as nothing: twenty outings of no sightings leave the prior; and
    the same outing as a posterior, solved under narrow or wide priors, says the same."""
    nothing = [
        Evidence(i, day(i), np.zeros((LASTING, LASTING)), np.zeros(LASTING)) for i in range(20)
    ]
    s = history.summarise(nothing, PRIORS, NOISE, FIELD)
    t = s.term("altitude_zero")
    assert t.now == pytest.approx(0.0, abs=1e-9)
    assert t.now_sigma == pytest.approx(1.0, rel=0.15)
    assert t.trust == "open"
    assert not any(p.tells for p in t.points)

    rng = np.random.default_rng(11)
    mount = HiddenMount(evening_terms(lasting(rng), rng), NOISE, rng)
    sightings = [
        mount.sight("s", az, alt) for az, alt in ((10, 40), (130, 55), (250, 30), (310, 60))
    ]
    wide = Priors(PRIORS.mean, PRIORS.sigma * np.where(np.isin(np.arange(N_TERMS), AT), 1.5, 1.0))
    says = []
    for prior in (PRIORS, wide):
        fix = solve(sightings, prior, NOISE, find_bad=False)
        says.append(evidence.evidence(fix, 1, START))
    a, b = (history.summarise([x], PRIORS, NOISE, FIELD).term("altitude_zero") for x in says)
    assert a.now == pytest.approx(b.now, abs=0.02)
    assert a.now_sigma == pytest.approx(b.now_sigma, rel=0.03)


def test_nobody_is_sent_to_mend_what_is_not_known():
    """One outing, and a stop that may be right: the list asks for more outings, not for shims. A
    stop that drifts is to be found out before it is shimmed."""
    rng = np.random.default_rng(12)
    rows, _ = run(rng, 1)
    for job in history.summarise(rows, PRIORS, NOISE, FIELD).jobs:
        t = history.summarise(rows, PRIORS, NOISE, FIELD).term(job.name)
        if abs(t.now) < 2 * t.now_sigma and t.trust == "open":
            assert history.job_words(job).startswith("More outings")
    rows, _ = run(np.random.default_rng(500), 12, slope_deg=1.6)
    s = history.summarise(rows, PRIORS, NOISE, FIELD)
    stop = next(j for j in s.jobs if j.name == "altitude_zero")
    assert "drift" in history.job_words(stop)
    assert "Shim" not in history.job_words(stop)
    kit = Kit(
        stop=Stop(lever_arm_mm=250.0, adding="raises"), shim=(Shim(thickness_mm=1.0, count=9),)
    )
    advice = shims.advise_from(s, kit)
    assert advice.sentence.startswith("The stop may be drifting")
    assert advice.plan is not None
    assert advice.text.startswith(advice.sentence)
    without = shims.advise_from(s, Kit())
    assert without.plan is None
    assert without.lacking.remedy


def test_the_shim_plan_starts_from_the_same_chances():
    """`plumbstar mount` prints both; they are one number."""
    rows, _ = run(np.random.default_rng(21), 6, step_deg=1.2, at=2)
    s = history.summarise(rows, PRIORS, NOISE, FIELD)
    t = s.term("altitude_zero")
    made = shims.chances(
        s.assumed,
        NOISE,
        math.radians(FIELD) / 2,
        (math.radians(t.now), math.radians(t.now_sigma)),
        (0.0, math.radians(t.now_sigma)),
        s.belief,
    )
    assert made.trusting_before == pytest.approx(s.chance_trusting, abs=1e-9)
    assert made.solving_before == pytest.approx(s.chance_two_stars, abs=1e-9)


def test_jobs_are_ordered_by_what_they_buy():
    rng = np.random.default_rng(21)
    base = np.zeros(N_TERMS)
    base[INDEX["altitude_zero"]] = math.radians(0.9)
    base[INDEX["cone"]] = math.radians(0.05)
    rows, _ = run(rng, 8, base=base)
    s = history.summarise(rows, PRIORS, NOISE, FIELD)
    assert s.jobs[0].name == "altitude_zero"
    assert "Put the stop right" in history.job_words(s.jobs[0])
    assert s.jobs[0].gain_trusting > 0.2
    assert [j.gain for j in s.jobs] == sorted((j.gain for j in s.jobs), reverse=True)
    assert s.term("altitude_zero").trust == "trusted"
    assert "stop" in history.sentence(s).split("start a night with:")[1]
    assert s.chance_two_stars > s.chance_one_star


def test_order_of_input_does_not_matter():
    rng = np.random.default_rng(31)
    rows, _ = run(rng, 4)
    a = history.summarise(rows, PRIORS, NOISE, FIELD)
    b = history.summarise(rows[::-1], PRIORS, NOISE, FIELD)
    for f in fields(a):
        if f.name not in ("belief", "assumed"):  # arrays, which the rest is made from
            assert getattr(a, f.name) == getattr(b, f.name), f.name


def test_mistakes():
    with pytest.raises(UserError):
        history.summarise([], PRIORS, NOISE, FIELD)
    one = [Evidence(1, None, np.zeros((LASTING, LASTING)), np.zeros(LASTING))]
    with pytest.raises(UserError):
        history.summarise(one, PRIORS, NOISE, 0.0)
    s = history.summarise(one, PRIORS, NOISE, FIELD)
    assert "Too few" in history.sentence(s)
    with pytest.raises(UserError):
        s.term("lean_north")
