"""The disc integral: reference rows, scipy, and the fast centred form."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from plumbstar.solve.chance import centred_hit_chance, hit_chance
from samples import tries


def cov(s1: float, s2: float, turn: float = 0.0) -> np.ndarray:
    c, s = np.cos(turn), np.sin(turn)
    R = np.array([[c, -s], [s, c]])
    return R @ np.diag([s1**2, s2**2]) @ R.T


def test_centred_circle() -> None:
    # 1 - exp(-R^2 / 2 sigma^2), from memory.
    assert hit_chance([0, 0], cov(1, 1), 1.0) == pytest.approx(0.3934693402873666, abs=1e-12)


@pytest.mark.parametrize(
    ("radius", "offset", "sigma", "expected"),
    # Non-central chi-square with 2 degrees of freedom (Marcum Q), computed with scipy.
    [(1, 1, 1, 0.2671201962), (2, 1, 1, 0.7309879399), (0.5, 0.3, 0.25, 0.6744688611)],
)
def test_offset_circle_equal_sigmas(radius, offset, sigma, expected) -> None:
    assert hit_chance([offset, 0], cov(sigma, sigma), radius) == pytest.approx(expected, abs=1e-9)
    ours = hit_chance([0, -offset], cov(sigma, sigma), radius)
    theirs = stats.ncx2.cdf((radius / sigma) ** 2, 2, (offset / sigma) ** 2)
    assert ours == pytest.approx(theirs, abs=1e-10)


def test_circular_error_probable_of_an_ellipse() -> None:
    # Harter, J. Am. Stat. Assoc. 55, 723 (1960), table; from memory.
    assert hit_chance([0, 0], cov(1, 1), 1.177410) == pytest.approx(0.5, abs=1e-5)
    assert hit_chance([0, 0], cov(1, 0.5), 0.870417) == pytest.approx(0.5, abs=1e-5)


def test_offset_circle_unequal_sigmas() -> None:
    # Computed apart, by scipy quadrature.
    assert hit_chance([0.4, 0.2], cov(0.6, 0.3), 1.0) == pytest.approx(0.7902518749, abs=1e-8)


def test_rayleigh_quantiles() -> None:
    # sqrt(-2 ln(1 - p)), from memory.
    got = hit_chance([0, 0], cov(1, 1), np.array([1.177410, 2.447747]))
    assert got == pytest.approx([0.5, 0.95], abs=1e-6)


def test_against_scipy_quadrature_for_any_ellipse() -> None:
    rng = np.random.default_rng(3)
    for _ in range(tries(15, 60)):
        s = 10 ** rng.uniform(-2.5, 1, 2)
        turn, offset = rng.uniform(0, np.pi), rng.normal(0, 0.8, 2)
        c, n = np.cos(turn), np.sin(turn)
        m = np.array([[c, n], [-n, c]]) @ offset

        def strip(x: float, s=s, m=m) -> float:
            half = np.sqrt(max(0.0, 1 - x * x))
            inside = stats.norm.cdf(half, m[1], s[1]) - stats.norm.cdf(-half, m[1], s[1])
            return stats.norm.pdf(x, m[0], s[0]) * inside

        low, high = max(-1, m[0] - 9 * s[0]), min(1, m[0] + 9 * s[0])
        want = 0.0
        if high > low:
            cuts = np.linspace(low, high, 12)[1:-1]
            want = integrate.quad(strip, low, high, limit=400, points=cuts, epsabs=1e-12)[0]
        assert hit_chance(offset, cov(*s, turn), 1.0) == pytest.approx(want, abs=1e-8)


def test_tiny_sigmas_are_safe() -> None:
    assert hit_chance([0, 0], np.zeros((2, 2)), 1.0) == pytest.approx(1.0)
    assert hit_chance([2, 0], np.zeros((2, 2)), 1.0) == pytest.approx(0.0)
    assert hit_chance([0.3, 0], cov(1e-9, 0.5), 1.0) == pytest.approx(
        np.diff(stats.norm.cdf(np.array([-1, 1]) * np.sqrt(1 - 0.09), 0, 0.5))[0], abs=2e-3
    )


@pytest.mark.parametrize(("ratio", "bound"), [(2, 3e-9), (4, 3e-5), (1e6, 0.022)])
def test_the_fast_form_is_as_accurate_as_it_says(ratio: float, bound: float) -> None:
    s = 10 ** np.random.default_rng(0).uniform(-2, 1.5, (20000, 2))
    s = s[s.max(axis=1) / s.min(axis=1) < ratio]
    a, b = (s**2).sum(axis=1) / 2, np.abs(s[:, 0] ** 2 - s[:, 1] ** 2) / 2
    fast = centred_hit_chance(a, b, 1.0)
    exact = centred_hit_chance(a, b, 1.0, 400)
    assert np.max(np.abs(fast - exact)) < bound
    some = slice(0, 50)
    slow = [float(hit_chance([0, 0], cov(*row), 1.0)) for row in s[some]]
    assert exact[some] == pytest.approx(slow, abs=1e-3 if ratio > 100 else 1e-9)
