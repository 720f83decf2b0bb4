"""A fix of many sightings says what solving every story says (design/many_sightings.py: more)."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from plumbstar.solve import weighing
from plumbstar.solve.batches import batch_of, solved
from plumbstar.solve.exploring import Exploring
from plumbstar.solve.glance import Glance
from plumbstar.solve.posterior import Data, gauss_newton
from plumbstar.solve.stories import double, single

sys.path.insert(0, str(Path(__file__).parents[2] / "design"))
import many_sightings

SEED = 20271216


@pytest.mark.parametrize("wrong", ["", "z", "zw"])
def test_the_same_shares_and_chances(wrong):
    rows = many_sightings.evening(SEED, 0, weighing.FEW + 2, wrong)
    explored, _ = many_sightings.solved(rows, weighing.FEW)
    every, _ = many_sightings.solved(rows, len(rows))
    shares, chance, arcsec = many_sightings.apart(explored, every)
    assert shares < 0.02
    assert chance < 0.002
    assert arcsec < 1.0


def test_a_glance_tells_the_evidence_of_stories_near_it():
    """Against the exact kinematics: of every kind of story, and pairs of them."""
    rows = many_sightings.evening(SEED, 1, 9, "")
    prior, noise = many_sightings.PRIOR, many_sightings.NOISE
    data = Data.of(rows, noise)
    clean = gauss_newton(data, prior)
    one = single(len(rows))
    pairs = double([s for s in one if s.bad or s.moves][::17], one[::5])
    stories = [*one, *pairs]
    told = Glance(data, prior, noise, clean.mean).promises(stories)
    _, exact = solved(*batch_of(data, prior, noise, clean, stories), stories)
    likely = exact > exact.max() - 12
    assert likely.sum() > 50
    assert np.abs(told - exact)[likely].max() < 0.05


def test_few_of_many_stories_are_solved():
    rows = many_sightings.evening(SEED, 2, 128, "z")
    prior, noise = many_sightings.PRIOR, many_sightings.NOISE
    data = Data.of(rows, noise)
    seen = Exploring(data, prior, noise, gauss_newton(data, prior))
    seen.single(single(len(rows)))
    assert len(seen.stories) > 800
    assert len(seen.best()) < 200
