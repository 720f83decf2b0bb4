"""The night in words: its times are those of rising, setting and twilight (sky/events.py)."""

from __future__ import annotations

import re

import pytest

from plumbstar.simulate import scenario
from plumbstar.sky.bodies import Body
from plumbstar.sky.events import rise_and_set, sun_crossings
from plumbstar.sky.local_time import local
from plumbstar.sky.times import Instant
from plumbstar.targets import say
from plumbstar.targets.light import NightLight
from plumbstar.targets.model import Conditions

SITE = scenario.thornback_ridge().site


def night(start: str, hours: float) -> NightLight:
    t = Instant.parse(start)
    return NightLight.of(t, t.plus_seconds(3600.0 * hours), SITE, Conditions())


def minutes(clock: str) -> int:
    hours, rest = clock.split(":")
    return int(hours) * 60 + int(rest)


@pytest.mark.parametrize("start", ["2027-01-28T16:33:00Z", "2027-01-15T16:33:00Z"])
def test_the_times_are_those_of_the_almanac(start: str) -> None:
    light = night(start, 13.5)
    dusk, dawn = (e.instant for e in sun_crossings(light.instants[0], SITE, -18.0))
    rising, setting = (e.instant for e in rise_and_set(Body("Moon"), light.instants[0], SITE))
    moon = [t for t in (rising, setting) if t is not None and t < light.instants[-1]]
    assert len(moon) == 1
    for said, truth in ((say.darkness(light), (dusk, dawn)), (say.moon(light), moon)):
        shown = re.findall(r"\d\d:\d\d", said)
        assert len(shown) == len(truth)
        for clock, t in zip(shown, truth, strict=True):
            assert t is not None
            assert abs(minutes(clock) - minutes(local(t, SITE.time_zone))) <= 1


@pytest.mark.parametrize(
    ("start", "hours", "dark", "moon"),
    [
        ("2027-01-28T20:00:00Z", 2.0, "Dark all the time.", "stays down."),
        ("2027-01-29T02:00:00Z", 1.0, "Dark all the time.", "is up all the time."),
        ("2027-01-28T16:30:00Z", 0.5, "the Sun is 10° down at its lowest.", "stays down."),
        ("2027-01-29T04:00:00Z", 2.0, "Dark until ", "is up all the time."),
        ("2027-01-28T17:00:00Z", 2.0, "Dark from ", "stays down."),
    ],
)
def test_hours_without_a_change(start: str, hours: float, dark: str, moon: str) -> None:
    light = night(start, hours)
    assert dark in say.darkness(light)
    assert say.moon(light).endswith(moon)
