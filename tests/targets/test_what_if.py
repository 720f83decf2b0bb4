"""The night as it would be: the short list is judged as the whole sky is, to the same values."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbstar.errors import UserError
from plumbstar.simulate import scenario
from plumbstar.sky.skyline import Skyline
from plumbstar.targets.model import Conditions, Prospect
from plumbstar.targets.order import plan
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import Survey
from plumbstar.targets.what_if import SHORT, Shortlist, Supposed, quarter_named, under_cloud

from .conftest import END, START

RIDGE = scenario.thornback_ridge()
SKY = Conditions(zenith_mag=21.5)
HOURS = (START, START.plus_seconds(3 * 3600.0))


@pytest.fixture(scope="module")
def short(dark_night: Survey, dark_prospects: list[Prospect]) -> Shortlist:
    return Shortlist.of(dark_night.light, dark_prospects, HOURS)


def judged(short: Shortlist, what: Supposed) -> Survey:
    return short.judged(what, RIDGE.kit, SKY, RIDGE.skyline)


def test_as_it_is_each_has_the_same_values(short: Shortlist, dark_night: Survey) -> None:
    again = judged(short, Supposed())
    assert 0.9 * SHORT < len(again) <= SHORT
    rows = [dark_night.index_of(t.key) for t in again.targets]
    assert np.allclose(again.margin, dark_night.margin[:, rows], atol=2e-3)
    assert np.allclose(again.parts, dark_night.parts[:, rows], atol=2e-3)
    assert again.setting == tuple(dark_night.setting[i] for i in rows)


def test_under_a_city_sky_the_order_is_worth_as_much_as_one_of_the_whole_sky(
    short: Shortlist, city_night: Survey
) -> None:
    whole = plan(city_night, prospects(city_night), *HOURS)
    night = judged(short, Supposed(zenith_mag=18.0))
    assert plan(night, prospects(night), *HOURS).worth > 0.98 * whole.worth


def test_seeing_parts_no_close_pair(short: Shortlist) -> None:
    calm, boiling = (judged(short, Supposed(seeing_arcsec=s)) for s in (1.0, 6.0))
    pair = min(short.doubles, key=lambda d: d.separation_arcsec)
    both = [s.chances[s.index_of(pair.key)] for s in (calm, boiling)]
    assert both[0] > both[1] + 0.1


def test_one_eyepiece_alone(short: Shortlist) -> None:
    name = RIDGE.kit.eyepiece[-1].name
    night = judged(short, Supposed(eyepiece=name))
    assert {x.name for x in night.eyepiece} == {name}
    with pytest.raises(UserError, match="an eyepiece"):
        judged(short, Supposed(eyepiece="none such"))


@pytest.mark.parametrize("quarter", ["north", "east", "south", "west"])
def test_nothing_is_seen_through_a_cloud(short: Shortlist, quarter: str) -> None:
    night = judged(short, Supposed(cloudy=quarter_named(quarter)))
    middle = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}[quarter]
    off = np.abs((night.az_deg - middle + 180.0) % 360.0 - 180.0)
    assert not np.isfinite(night.margin[off < 45.0]).any()
    assert np.isfinite(night.margin[off > 46.0]).any()


def test_beside_a_cloud_the_skyline_stays() -> None:
    line = Skyline(((10.0, 20.0), (90.0, 30.0), (300.0, 5.0)))
    clouded = under_cloud(line, "east")
    for az in (44.9, 135.1, 200.0, 300.0, 359.0, 5.0):
        assert clouded.altitude_deg(az) == pytest.approx(line.altitude_deg(az), abs=0.02)
    assert clouded.altitude_deg(np.array([45.0, 90.0, 135.0])) == pytest.approx(90.0)
    assert under_cloud(Skyline(), "north").altitude_deg(np.array([350.0, 40.0, 46.0])) == (
        pytest.approx([90.0, 90.0, 0.0])
    )
    with pytest.raises(UserError, match="north, east, south or west"):
        quarter_named("up")


def test_the_light_of_the_night_is_kept(dark_night: Survey) -> None:
    light = dark_night.light
    brighter = light.under(18.0)
    assert brighter.held is light.held
    assert replace(brighter, zenith_mag=light.zenith_mag).instants is light.instants
    assert light.instants[-1].minus(END) >= 0.0
