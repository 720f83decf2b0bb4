"""One night of the demo's site, surveyed once."""

from __future__ import annotations

import pytest

from plumbstar.simulate import scenario
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.times import Instant
from plumbstar.targets.model import Conditions, Prospect
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import Survey, survey

START = Instant.parse("2027-01-28T16:30:00Z")
END = Instant.parse("2027-01-29T06:00:00Z")


def night_under(zenith_mag: float) -> Survey:
    s = scenario.thornback_ridge()
    return survey(
        deepsky.load(), doubles.load(), START, END, s.site, s.kit,
        Conditions(zenith_mag=zenith_mag), s.skyline,
    )  # fmt: skip


@pytest.fixture(scope="session")
def dark_night() -> Survey:
    return night_under(21.5)


@pytest.fixture(scope="session")
def city_night() -> Survey:
    return night_under(18.0)


@pytest.fixture(scope="session")
def dark_prospects(dark_night: Survey) -> list[Prospect]:
    return prospects(dark_night, 0.0)
