"""The evidence under a heavy-tailed hand of unknown scale, against sums over a grid."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_t, norm

from plumbstar.diagnose.explain import tails

HAND = 0.1


def by_grid(seen: np.ndarray, prior: float) -> float:
    """Log evidence of one unknown that shifts every sighting across, none up."""
    x = np.linspace(-8 * prior, 8 * prior, 20001)
    total = np.zeros_like(x)
    for share, times in tails.HAND:
        shape = tails._SCALE * (times * HAND) ** 2 * np.eye(2)
        like = np.ones_like(x)
        for across, up in seen:
            at = np.stack([across - x, np.full_like(x, up)], axis=-1)
            like *= multivariate_t(shape=shape, df=tails._FREEDOM).pdf(at)
        total += share * like
    return float(np.log(np.sum(total * norm.pdf(x, scale=prior)) * (x[1] - x[0])))


@pytest.mark.parametrize("far", [0.0, 0.3, 0.8])
def test_it_is_the_integral(far: float) -> None:
    """Within the error of a Gaussian about the mode, with a sighting up to eight sigmas off."""
    seen = np.array([[0.05, 0.02], [0.12, -0.1], [-0.03, 0.07], [0.08 + far, 0.0], [0.1, 0.05]])
    jac = np.tile([1.0, 0.0], 5)[None, :, None]
    weight, info = np.full((1, 10), HAND**-2), np.full((1, 1), 0.5**-2)
    # Started at the normal model's mode, as it is in use.
    mode = (seen[:, 0].sum() / HAND**2) / (5 / HAND**2 + 0.5**-2)
    r = (seen - [mode, 0.0]).reshape(1, -1)
    got = tails.evidence(r, jac, weight, info, np.full((1, 1), mode), HAND)
    assert got[0] == pytest.approx(by_grid(seen, 0.5), abs=0.25)


def test_a_sighting_left_out_tells_nothing() -> None:
    jac = np.tile([1.0, 0.0], 3)[None, :, None]
    weight, info, gap = np.full((1, 6), HAND**-2), np.ones((1, 1)), np.zeros((1, 1))
    weight[0, 4:] = 0.0
    near, far = np.zeros((1, 6)), np.zeros((1, 6))
    far[0, 4:] = 5.0
    without = tails.evidence(near[:, :4], jac[:, :4], weight[:, :4], info, gap, HAND)
    for r in (near, far):
        assert tails.evidence(r, jac, weight, info, gap, HAND) == pytest.approx(without)
