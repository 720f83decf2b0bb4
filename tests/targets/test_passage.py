"""A night in single precision, against the same one step, one direction, one formula at a time."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar.kit import Filter
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.extinction import air_mass
from plumbstar.sky.lists import deepsky
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets.light import NightLight
from plumbstar.targets.looks import looks_of
from plumbstar.targets.model import Conditions
from plumbstar.targets.passage import HeightTable, Passage
from plumbstar.targets.verdict import TelescopeAndEye

# A Moon nearly full, dusk and dawn, north and south.
NIGHTS = [
    ("2027-01-24T15:30:00Z", Site(47.2, 11.6, 940.0)),
    ("2027-07-19T21:00:00Z", Site(-31.5, -70.8, 2100.0)),
]


def passage(start: str, site: Site) -> Passage:
    """Of 400 directions all over the sky, the Moon's own and its neighbourhood among them."""
    t = Instant.parse(start)
    light = NightLight.of(t, t.plus_seconds(14 * 3600.0), site, Conditions(zenith_mag=21.3))
    d = np.random.default_rng(7).normal(size=(3, 400))
    moon = light.toward_moon(slice(80, 81)).T
    d[:, :40] = moon + d[:, :40] * np.linspace(0.0, 0.15, 40)
    return Passage.of(light, HeightTable(light), d / np.linalg.norm(d, axis=0))


@pytest.mark.parametrize(("start", "site"), NIGHTS)
def test_places_and_the_sky_there_are_those_of_the_formulas(start: str, site: Site) -> None:
    p = passage(start, site)
    south, east, up = np.einsum("tij,jn->itn", p.light.turns, p.directions.astype(np.float64))
    alt = p.light.middle.air.apparent_altitude(np.arctan2(up, np.hypot(south, east)))
    az = np.arctan2(east, -south)
    arcsec = math.radians(1.0 / 3600.0)
    seen = alt > math.radians(10.0)
    assert np.abs(p.alt - alt)[seen].max() < 0.5 * arcsec
    assert np.abs(p.alt - alt).max() < 20.0 * arcsec
    assert (np.abs(np.angle(np.exp(1j * (p.az - az)))) * np.cos(alt))[seen].max() < 0.2 * arcsec

    step, row = np.nonzero((alt > math.radians(12.0)) & (p.light.sun_alt < -0.07)[:, None])
    cosine = p.light.moon_cosines_at(p.directions[:, row].astype(np.float64), step)
    exact = p.light.sky_mag(step, alt[step, row], cosine, az[step, row])
    sky = np.concatenate([p.sky_mag(s) for s in p.blocks()])[step, row]
    assert np.ptp(exact) > 5.0
    # Within a degree of the Moon its halo is steep; the paper's two laws do not meet at ten.
    apart = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    plain = np.abs(apart - 10.0) > 0.01
    assert (apart < 1.0).sum() > 10
    assert np.abs(sky - exact)[plain & (apart > 1.0)].max() < 0.005
    assert np.abs(sky - exact)[plain].max() < 0.02
    air = np.concatenate([p.air_mass(s) for s in p.blocks()])[step, row]
    assert air == pytest.approx(air_mass(alt[step, row]), abs=0.005)


@pytest.mark.parametrize("filters", [(), ("narrow band", "broadband")])
def test_margins_of_many_cases_are_those_of_one(filters: tuple[Filter, ...]) -> None:
    """Every object in every eyepiece and behind every filter, under skies from day to beyond."""
    objects = deepsky.load()
    rows = np.random.default_rng(3).permutation(len(objects))[:600]
    kit = thornback_ridge().kit
    eye = TelescopeAndEye(kit, Conditions(), 0.2)
    eye.filters = ("", *filters)
    looks = looks_of(objects).take(rows)
    n = np.arange(len(rows))
    seen = eye.through(looks, n % len(eye.eyepieces), n % len(eye.filters))
    sky, air = np.random.default_rng(4).uniform([[1.0], [1.0]], [[25.0], [5.0]], (2, 40 * len(n)))
    exact = eye.margins(seen, np.tile(n, 40), sky, air).reshape(40, -1)
    got = eye.follow(seen)(*(x.reshape(40, -1).astype(np.float32) for x in (sky, air)))
    assert got.dtype == np.float32
    assert np.array_equal(np.isfinite(got), np.isfinite(exact))
    known = np.isfinite(exact)
    assert known.any(axis=0).mean() > 0.8
    assert got[known] == pytest.approx(exact[known], abs=0.001)
