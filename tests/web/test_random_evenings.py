"""Random evenings in virtual time, a few: the long form is tools/evenings.py."""

import sys
from pathlib import Path

import pytest

from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

sys.path.append(str(Path(__file__).parents[2] / "tools"))
from nights import night, sky
from nights.mount import apart_deg, direction

from .server_rig import asynchronous


@pytest.mark.parametrize("name", ["Capella", "Polaris", "Rigel", "M 31", "Sirius"])
def test_the_hidden_sky_is_the_true_one(name):
    """Worked out twice, by other formulas: within an arcminute, a sixth of what a hand can do."""
    t = Instant.parse("2027-01-28T19:00:00Z")
    ours = place_of(lookup.find_target(name), t, Site(sky.LAT_DEG, sky.LON_DEG, 940.0))
    theirs = sky.place(name, t.to_unix())
    assert apart_deg(direction(*ours), direction(*theirs)) < 1 / 60


@asynchronous
async def test_an_evening_without_faults_keeps_what_it_states():
    claims = [c for s in range(6) for c in (await night.one(s, ())).claims]
    sure = [c for c in claims if c.in_field and c.stated > 0.8]
    assert len(sure) >= 15
    assert sum(c.outside for c in sure) <= 1
    assert not any(c.far for c in sure)
    assert sum(bool(c.warned) for c in claims) <= 2  # a hint that a count stands still


@asynchronous
async def test_a_seed_is_the_same_evening_again():
    first, second = [(await night.one(12)).events for _ in range(2)]
    assert first == second
    assert len(first) > 5


@pytest.mark.parametrize("fault", ["restart still", "power lost", "server restarted"])
def test_what_the_bytes_show_is_never_far_off_unwarned(fault):
    @asynchronous
    async def run():
        done = [await night.one(s, (fault,)) for s in range(4)]
        claims = [c for n in done for c in n.claims]
        assert any(c.faults for c in claims)
        assert not [c for c in claims if c.silent and c.far]

    run()
