"""Drawing and words agree with the verdict: what will hardly show is not a pale patch."""

from __future__ import annotations

from plumbstar import kit as kits
from plumbstar.eyeview import eye_view, say, svg
from plumbstar.simulate import scenario
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.times import Instant

NIGHT = Instant.parse("2027-01-28T20:00:00Z")


def test_only_where_it_lies() -> None:
    kit, site = kits.example(), scenario.thornback_ridge().site
    horse = find_target("IC 434")
    seen, unlikely = (
        eye_view(horse, NIGHT, site, kit, kit.eyepiece[0], shows=shows) for shows in (True, False)
    )
    assert 'fill-opacity="0.18"' in svg(seen)
    assert 'fill-opacity="0"' in svg(unlikely)
    assert "hardly" not in say.sentence(seen)
    assert say.sentence(unlikely).startswith("It will hardly show now: ")
