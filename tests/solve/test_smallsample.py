"""Intervals from few readings, against published tables and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from plumbstar.errors import UserError
from plumbstar.solve import smallsample as few


@pytest.mark.parametrize(
    ("dof", "t"), [(1, 12.706), (2, 4.303), (4, 2.776), (9, 2.262), (30, 2.042)]
)
def test_t_table(dof, t):
    """Two-sided 95 % points, the table in every statistics text (from memory)."""
    assert few.t_quantile(dof) == pytest.approx(t, abs=6e-4)


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 8, 11, 24, 37])
def test_quantiles_against_scipy(dof):
    assert few.t_quantile(dof) == pytest.approx(stats.t.ppf(0.975, dof), rel=1e-9)
    for p in (0.025, 0.5, 0.975):
        assert few.chi_square_quantile(p, dof) == pytest.approx(stats.chi2.ppf(p, dof), rel=1e-9)
    for t in (0.3, 1.7, 6.0):
        assert few.t_within(t, dof) == pytest.approx(1 - 2 * stats.t.sf(t, dof), abs=1e-12)


def test_mean_and_spread_cover_as_often_as_they_say():
    """2000 samples of five: the 95 % intervals hold the truth 95 % of the time (± 1 %)."""
    rng = np.random.default_rng(1)
    mean = spread = slope = 0
    for _ in range(2000):
        x = rng.normal(3.0, 0.2, 5)
        m, s, d = few.mean_of(x), few.spread_interval(x), few.slope_of(x)
        mean += m.low < 3.0 < m.high
        spread += s.low < 0.2 < s.high
        slope += d.low < 0.0 < d.high
    for count in (mean, spread, slope):
        assert 0.935 < count / 2000 < 0.965


def test_difference_is_welch():
    rng = np.random.default_rng(2)
    a, b = rng.normal(0, 0.1, 4), rng.normal(0.5, 0.4, 7)
    got = few.difference_of(a, b)
    ref = stats.ttest_ind(b, a, equal_var=False).confidence_interval(0.95)
    assert got.value == pytest.approx(np.mean(b) - np.mean(a))
    # Whole degrees of freedom, rounded down: a little wider, never narrower.
    assert got.low <= ref.low
    assert got.high >= ref.high
    assert got.high - got.low < 1.2 * (ref.high - ref.low)
    assert got.sure_sign == (ref.low > 0 or ref.high < 0)


def test_one_reading_is_one_reading():
    assert few.mean_of([1.0]).high == math.inf
    assert few.difference_of([1.0], [2.0]).high == math.inf
    one_sided = few.difference_of([1.0], [2.0, 2.1, 1.9])
    assert math.isfinite(one_sided.high)
    assert few.slope_of([1.0, 2.0]).high == math.inf


def test_rounding_is_never_perfection():
    same = few.mean_of([90.0, 90.0, 90.0], step=0.1)
    assert same.spread == pytest.approx(0.1 / math.sqrt(12))
    assert same.high > 90.0
    assert few.spread_interval([90.0] * 10, step=0.1).value > 0


@pytest.mark.parametrize("call", [lambda: few.mean_of([]), lambda: few.spread_interval([1.0]),
                                  lambda: few.difference_of([], [1.0])])  # fmt: skip
def test_mistakes(call):
    with pytest.raises(UserError):
        call()
