"""A run of outings weighed: against the density of the data written out, and what it must find."""

import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from plumbstar.diagnose import weeks
from plumbstar.diagnose.weeks import Happening, RunOfOutings, TermMoved, tale


def told(values, sigma=0.1, stretch=None, stop=0):
    """RunOfOutings that measure each term by itself: values (n, k) in the kit's sigmas."""
    values = np.asarray(values, dtype=float)
    n, k = values.shape
    info = np.tile(np.eye(k) / sigma**2, (n, 1, 1))
    if stretch is None:
        stretch = np.zeros((n + 1, k), dtype=int)
    when = np.linspace(-0.5, 0.5, n) if n > 1 else np.zeros(1)
    return RunOfOutings(info, values / sigma**2, np.asarray(stretch), when, np.full(k, 0.05), stop)


def random_run(rng, n=5, k=2, mend=None, moved=None):
    """Correlated outings, with their values and covariances."""
    ys, Rs = rng.normal(size=(n, k)), []
    for _ in range(n):
        A = rng.normal(size=(k, k))
        Rs.append(A @ A.T * 0.1 + 0.05 * np.eye(k))
    info = np.linalg.inv(np.array(Rs))
    vec = np.einsum("ijk,ik->ij", info, ys)
    stretch = np.zeros((n + 1, k), dtype=int)
    if mend is not None:
        stretch[mend:, 0] = 1
    told = ()
    if moved is not None:
        told = (TermMoved(0, (np.arange(n + 1) >= moved).astype(float), 0.8, 0.2),)
    when, floor = np.linspace(-0.5, 0.5, n), np.full(k, 0.05)
    return RunOfOutings(info, vec, stretch, when, floor, 0, told), ys, Rs


@pytest.mark.parametrize(("mend", "moved"), [(None, None), (3, None), (None, 2)])
def test_every_story_weighs_what_the_density_of_the_data_says(mend, moved):
    """Against the joint normal of all data written out in full (scipy), and the next outing's mean
    and spread against the same data's conditional normal."""
    rng = np.random.default_rng(1)
    run, ys, Rs = random_run(rng, mend=mend, moved=moved)
    n, k = run.vec.shape
    found = weeks.weigh(run)
    given = np.zeros((n + 1, k))
    if moved is not None:
        given[moved:, 0] = 0.8
    y = (ys - given[:-1]).ravel()
    noise = np.zeros((n * k, n * k))
    for i in range(n):
        noise[i * k : i * k + k, i * k : i * k + k] = Rs[i]
    # What the likelihoods leave out is the same for all stories.
    constant = multivariate_normal(np.zeros(n * k), noise).logpdf(ys.ravel())
    constant -= multivariate_normal(np.zeros(n * k), noise).logpdf(np.zeros(n * k))
    peak = multivariate_normal(np.zeros(n * k), noise).logpdf(np.zeros(n * k)) + constant
    chances = {"changed": 0.04, "drifts": 0.05, "odd": 0.015, "far": 0.035}
    seen = set()
    for s in found.stories:
        columns = []  # how all outings and the next hang on each unknown, (n + 1, k) each
        for j in range(k):
            for stretch in sorted(set(run.stretch[:, j].tolist())):
                c = np.zeros((n + 1, k))
                c[:, j] = 0.9 * (run.stretch[:, j] == stretch)
                columns.append(c)
        if moved is not None:
            c = np.zeros((n + 1, k))
            c[moved:, 0] = 0.2
            columns.append(c)
        beforehand = 0.0
        for e in s.events:
            c = np.zeros((n + 1, k))
            if e.kind == "strange":
                beforehand += math.log(0.02 / 0.98)
                for j in range(k):
                    c = np.zeros((n + 1, k))
                    c[e.outing, j] = 2.2
                    columns.append(c)
                continue
            p = chances[e.kind] * (0.6, 0.4)[e.term]
            beforehand += math.log(p / (1 - p))
            if e.kind == "far":
                c[:, e.term] = 8.0 * (run.stretch[:, e.term] == run.stretch[e.outing, e.term])
            elif e.kind == "odd":
                c[e.outing, e.term] = 2.2
            elif e.kind == "changed":
                same = run.stretch[:, e.term] == run.stretch[e.outing, e.term]
                c[:, e.term] = 1.15 * ((np.arange(n + 1) >= e.outing) & same)
            else:
                c[:, e.term] = np.append(run.when, run.when[-1])
                c[:, e.term] *= run.stretch[:, e.term] == run.stretch[-1, e.term]
            columns.append(c)
        F = np.array(columns).reshape(len(columns), -1).T
        scatter = np.kron(np.eye(n + 1), np.diag(s.scatter**2))
        whole = F @ F.T
        cov = whole[: n * k, : n * k] + noise + scatter[: n * k, : n * k]
        size_p = 0.0  # one size for all, but that a term has its own in 6 of 10
        for common, (_, w) in enumerate(weeks.SCATTERS):
            size_p += w * math.prod(
                0.6 * weeks.SCATTERS[i][1] + (0.4 if i == common else 0.0) for i in s.sizes
            )
        assert s.scatter.tolist() == [max(weeks.SCATTERS[i][0], 0.05) for i in s.sizes]
        expected = multivariate_normal(np.zeros(n * k), cov).logpdf(y) - peak
        expected += beforehand + math.log(size_p)
        assert s.log_p == pytest.approx(expected, abs=1e-8)
        mean, spread = s.outing(-1)
        cross = whole[n * k :, : n * k] @ np.linalg.inv(cov)
        assert mean == pytest.approx(given[-1] + cross @ y, abs=1e-9)
        direct = whole[n * k :, n * k :] - cross @ whole[: n * k, n * k :]
        assert spread == pytest.approx(direct, abs=1e-9)
        seen |= {e.kind for e in s.events}
    assert seen - {"far"} == {"changed", "drifts", "odd", "strange"}
    assert max(len(s.events) for s in found.stories) >= 2
    assert any(len(set(s.sizes)) > 1 for s in found.stories)


def test_what_an_event_would_add_is_known_before_it_is_added():
    run, _, _ = random_run(np.random.default_rng(2), n=6, k=3)
    scattered = tale.Scattered.of(run, (1, 1, 2))
    story = tale.with_event(scattered, tale.plain(scattered), Happening("strange", -1, 2))
    ahead = tale.further(scattered.run, story)
    assert len(ahead) == 3 * (5 + 6 + 1) + 5
    for log_p, event in ahead:
        assert tale.with_event(scattered, story, event).log_p == pytest.approx(log_p, abs=1e-9)
    # The weak ones left out are none but the weak ones; what may happen is made once for a run.
    middle = sorted(log_p for log_p, _ in ahead)[len(ahead) // 2]
    strong = tale.further(scattered.run, story, middle)
    assert strong == [a for a in ahead if a[0] > middle]
    assert scattered.run.ways is run.ways


def test_without_outings_that_tell_the_next_is_as_wide_as_the_kit_says():
    run = RunOfOutings(
        np.zeros((2, 2, 2)), np.zeros((2, 2)), np.zeros((3, 2), dtype=int), np.array([-0.5, 0.5]),
        np.full(2, 0.05), 0,
    )  # fmt: skip
    mean, cov = weeks.weigh(run).next()
    assert mean == pytest.approx(0, abs=1e-12)
    assert np.sqrt(np.diag(cov)) == pytest.approx(1.0, abs=0.06)


def test_a_change_that_nobody_told_is_believed_after_the_second_outing_with_it():
    rng = np.random.default_rng(3)
    values = np.array([0.5, -0.3, 0.2]) + rng.normal(0, 0.05, (6, 3))
    after = np.array([2.0, -0.3, 0.2]) + rng.normal(0, 0.05, (3, 3))
    first = weeks.weigh(told(np.vstack([values, after[:1]])))
    mean, cov = first.next()
    # One outing: it may stay so, or have been that evening only. Both lie inside two sigma.
    assert abs(mean[0] - 2.0) < 2 * math.sqrt(cov[0, 0])
    assert abs(mean[0] - 0.5) < 2.5 * math.sqrt(cov[0, 0])
    second = weeks.weigh(told(np.vstack([values, after[:2]])))
    mean, cov = second.next()
    assert mean[0] == pytest.approx(2.0, abs=0.15)
    assert math.sqrt(cov[0, 0]) < 0.4
    assert second.chance("changed", 0, 6) > 0.9
    assert math.sqrt(cov[1, 1]) < 0.2  # the others go on as before


def test_an_odd_outing_is_told_from_a_change_and_does_not_hide_one():
    rng = np.random.default_rng(4)
    values = np.array([0.3, -0.3, 0.2]) + rng.normal(0, 0.05, (12, 3))
    values[6:, 0] += 1.5
    values[2, 0] -= 2.5
    found = weeks.weigh(told(values))
    assert found.odd[2, 0] > 0.9
    assert found.chance("changed", 0, 6) > 0.9
    assert found.chance("changed", 0, 2) < 0.05
    assert found.next()[0][0] == pytest.approx(1.8, abs=0.1)


def test_two_changes_are_two():
    rng = np.random.default_rng(5)
    values = rng.normal(0, 0.05, (12, 2))
    values[4:, 0] += 1.5
    values[9:, 0] -= 0.9
    found = weeks.weigh(told(values))
    assert found.chance("changed", 0, 4) > 0.9
    assert found.chance("changed", 0, 9) > 0.9
    assert found.next()[0][0] == pytest.approx(0.6, abs=0.1)


def test_after_a_mend_without_an_outing_the_term_is_as_the_kit_believes():
    stretch = np.zeros((6, 2), dtype=int)
    stretch[5, 0] = 1
    mean, cov = weeks.weigh(told(np.full((5, 2), 0.8), stretch=stretch)).next()
    assert mean[0] == pytest.approx(0.0, abs=1e-9)
    assert math.sqrt(cov[0, 0]) == pytest.approx(0.95, abs=0.05)
    assert mean[1] == pytest.approx(0.8, abs=0.02)


def test_a_run_of_two_hundred_outings_is_weighed_in_seconds():
    rng = np.random.default_rng(6)
    values = rng.normal(0, 0.1, (200, 6))
    values[120:, 0] += 1.0
    found = weeks.weigh(told(values))
    assert found.chance("changed", 0) > 0.9
    assert found.next()[0][0] == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("outings", [1, 2, 5])
def test_a_far_value_is_learnt_as_a_far_value(outings):
    """Seven of the kit's sigmas: from the first outing on; and the others stay."""
    rng = np.random.default_rng(7)
    values = np.array([7.0, -0.3]) + rng.normal(0, 0.05, (outings, 2))
    found = weeks.weigh(told(values))
    mean, cov = found.next()
    assert mean[0] == pytest.approx(7.0, abs=0.7)
    assert abs(mean[0] - 7.0) < 2 * math.sqrt(cov[0, 0])
    assert math.sqrt(cov[0, 0]) < (1.6, 0.9, 0.4)[(1, 2, 5).index(outings)]
    assert mean[1] == pytest.approx(-0.3, abs=0.4)
    assert found.chance("far", 0) > 0.8
    near = weeks.weigh(told(np.array([1.0, -0.3]) + rng.normal(0, 0.05, (5, 2))))
    assert near.chance("far", 0) < 0.1


def test_what_is_odd_is_the_share_of_the_stories_in_which_it_is():
    run, _, _ = random_run(np.random.default_rng(5), n=4, k=2)
    found = weeks.weigh(run)
    for i in range(4):
        for j in range(2):
            mine = {Happening("odd", j, i), Happening("strange", -1, i)}
            share = sum(
                w for w, s in zip(found.shares, found.stories, strict=True) if mine & set(s.events)
            )
            assert found.odd[i, j] == pytest.approx(share, abs=1e-12)
    assert found.odd.max() > 0.01
