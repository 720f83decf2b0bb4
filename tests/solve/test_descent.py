"""The descent's problems: what is worked out once for all rows is what each row gives alone."""

from dataclasses import replace

import numpy as np
import pytest

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.batches import batch_of
from plumbstar.solve.descent import log_evidence, promised
from plumbstar.solve.posterior import Data, gauss_newton
from plumbstar.solve.stories import single


@pytest.mark.parametrize(("moved", "another"), [(0.0, 0.0), (0.02, 0.0), (0.0, 0.01)])
def test_rows_of_one_mount_are_worked_out_once(moved, another):
    """Cost, residuals and Jacobian of every story at one mount; where something moved in it; and
    where one story has another mount than the rest."""
    rng = np.random.default_rng(4)
    prior, noise = Priors.from_kit(Kit()), Noise()
    hidden = HiddenMount(draw_terms(prior, rng), noise, rng)
    rows = hidden.sight_all(zip(rng.uniform(0, 360, 5), rng.uniform(15, 80, 5), strict=True))
    data = Data.of(rows, noise)
    batch, x = batch_of(data, prior, noise, gauss_newton(data, prior), single(5))
    x[:, 12:] = moved
    x[3, 5] += another
    assert batch.alike
    alone = replace(batch, alike=False)
    for once, each in zip(batch.evaluate(x), alone.evaluate(x), strict=True):
        assert once.shape == each.shape
        assert np.allclose(once, each, rtol=1e-12, atol=1e-14)


def test_a_step_lowers_the_cost_by_what_is_promised():
    """Of a linear problem, to the last digit: 1/2 x'Hx - g'x is least at -1/2 g'H^-1 g."""
    rng = np.random.default_rng(5)
    root = rng.normal(size=(3, 4, 4))
    hessian, right = root @ root.swapaxes(1, 2) + np.eye(4), rng.normal(size=(3, 4))
    least = [-2 * (0.5 * x @ H @ x - g @ x) for H, g in zip(hessian, right, strict=True)
             for x in [np.linalg.solve(H, g)]]  # fmt: skip
    assert promised(hessian, right) == pytest.approx(least, rel=1e-12)


def test_evidence_of_a_single_number():
    """One number of prior sigma 2, seen once with sigma 1 at distance d: a normal of variance 5."""
    d = 1.7
    x = d * 4.0 / 5.0
    cost = (d - x) ** 2 + (x / 2.0) ** 2
    info, weight, hessian = np.array([[0.25]]), np.array([[1.0]]), np.array([[[1.25]]])
    expected = -0.5 * d * d / 5.0 - 0.5 * np.log(2 * np.pi * 5.0)
    assert log_evidence(np.array([cost]), hessian, info, weight) == pytest.approx(expected)
