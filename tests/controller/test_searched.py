"""What a search in vain teaches, against the exact rotations weighed point by point."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar.controller.landing import FEW_STARTS, STARTS
from plumbstar.controller.outlook import Asked, outlook
from plumbstar.controller.ranking import over_the_sky
from plumbstar.controller.searched import SEEN_IF_THERE, Searched, past
from plumbstar.controller.showing import N_SHOWN, ObjectPlaces, Taught, shown
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX, N_TERMS

FIELD = math.radians(1.0)
STARS = np.radians([[80.0, 40.0], [170.0, 45.0]])
OBJECTS = np.radians([[230.0, 50.0], [20.0, 35.0]])


def asked() -> Asked:
    sigma = np.zeros(N_TERMS)
    told = {"altitude_zero": 1.0, "lean_north": 1.0, "lean_west": 1.0, "squareness": 0.2}
    for name, deg in {**told, "cone": 0.3}.items():
        sigma[INDEX[name]] = math.radians(deg)
    none = np.zeros((0, 2))
    return Asked(
        *(Taught(STARS, STARS, STARS), math.radians(0.7), ObjectPlaces(none, none), none),
        *(Priors(np.zeros(N_TERMS), sigma), math.radians(0.1), math.radians(0.1), True),
    )


@pytest.mark.parametrize("fields", [1, 3])
def test_it_agrees_with_weighing_every_mount(fields: int) -> None:
    a = asked()
    h = outlook(a).hypotheses[0]
    at = ObjectPlaces(OBJECTS[:1], OBJECTS[:1])
    _, push = shown(h.mean[None, :N_SHOWN], a.taught, at, True)
    beside = np.radians([[0.0, 0.0], [1.1, 0.0], [0.0, 0.9]])[:fields]
    vain = Searched(at, push[0] + beside, FIELD / 2, 0)
    mean, cov, log = past(h.mean, h.cov, [vain], a.taught, True, None, 1e-12)

    rng = np.random.default_rng(3)
    x = rng.multivariate_normal(h.mean, h.cov, 40_000)[:, :N_SHOWN]
    _, there = shown(x, a.taught, ObjectPlaces(OBJECTS, OBJECTS), True)
    scale = np.array([math.cos(OBJECTS[0, 1]), 1.0])
    off = (there[:, 0, None] - vain.looked) * scale
    inside = (np.hypot(*np.moveaxis(off, -1, 0)) < FIELD / 2).any(axis=1)
    w = np.where(inside, 1.0 - SEEN_IF_THERE, 1.0)
    assert log == pytest.approx(math.log(w.mean()), abs=0.03)
    # The other object: where it is now, and how well that is known, by every mount and by ours.
    true_mean = w @ there[:, 1] / w.sum()
    d = there[:, 1] - true_mean
    true_cov = (d.T * w) @ d / w.sum()
    y = rng.multivariate_normal(mean, cov, 40_000)[:, :N_SHOWN]
    _, ours = shown(y, a.taught, ObjectPlaces(OBJECTS[1:], OBJECTS[1:]), True)
    np.testing.assert_allclose(ours[:, 0].mean(axis=0), true_mean, atol=math.radians(0.04))
    np.testing.assert_allclose(np.cov(ours[:, 0].T), true_cov, atol=0.06 * np.trace(true_cov))
    before = there[:, 1].var(axis=0).sum()
    assert np.trace(true_cov) > 1.1 * before


def test_a_slip_before_it_explains_it() -> None:
    a = asked()
    at = ObjectPlaces(OBJECTS[:1], OBJECTS[:1])
    seen = outlook(a)
    push = seen.lies(at, 1.0)[0].push
    vain = Searched(at, push[None], FIELD / 2, 0)
    later = outlook(Asked(**{**vars(a), "searched": (vain,)}))

    def slipped(o):
        return sum(p for m, p in o.mistakes() if m.kind == "slip")

    assert slipped(seen) == 0.0
    assert 0.01 < slipped(later) < 0.1
    assert later.lies(at, 1.0)[0].hit_chance < seen.lies(at, 1.0)[0].hit_chance


def test_a_mean_over_the_sky_needs_few_starts() -> None:
    a = asked()
    at = ObjectPlaces(OBJECTS[:1], OBJECTS[:1])
    push = outlook(a).lies(at, 1.0)[0].push
    vain = Searched(at, push + np.radians([[0.0, 0.0], [1.1, 0.0]]), FIELD / 2, 0)
    later = outlook(Asked(**{**vars(a), "searched": (vain,)}))
    sky = over_the_sky()[::6]
    assert later.lies(ObjectPlaces(sky, sky), 1.0)[0].cloud is not None
    few, many = (
        np.mean([x.hit_chance for x in later.lies(ObjectPlaces(sky, sky), 1.0, n)])
        for n in (FEW_STARTS, STARTS)
    )
    assert few == pytest.approx(many, abs=0.015)  # one draw of points: eight were within 0.011
