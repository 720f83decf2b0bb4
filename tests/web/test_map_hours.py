"""The map of the sky: at the hour to sight, with figures, and the Sun's rules at every hour."""

import pytest

from plumbstar.sky.bodies import sun_altitude
from plumbstar.sky.lists import asterisms
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.views.chart import figures_of, hours_of

from .server_rig import DAY, NIGHT, asynchronous, rig

RIDGE = Site(47.2, 11.6, 940.0)


def sun_deg(t: Instant) -> float:
    return float(sun_altitude(t, RIDGE)) * 57.29578


def test_by_day_the_hours_begin_at_dusk_and_end_at_dawn():
    found = hours_of(DAY, RIDGE)
    assert found is not None
    for t in found:
        assert sun_deg(t) == pytest.approx(-6.0, abs=0.1)
    assert 11 < found[1].minus(found[0]) / 3600.0 < 15


def test_where_the_sun_does_not_set_there_are_none():
    assert hours_of(Instant.parse("2027-06-21T12:00:00Z"), Site(78.0, 15.0)) is None


def test_a_line_of_a_figure_has_both_ends_up():
    for figure in figures_of(NIGHT, RIDGE):
        assert all(line[1] > 0 and line[3] > 0 for line in figure.lines_deg)
    south = figures_of(Instant.parse("2027-05-01T20:00:00Z"), Site(-31.5, 21.0))
    assert "the Southern Cross" in [f.name for f in south]
    assert len({a.name for a in asterisms.load()}) == len(asterisms.load()) > 10


@asynchronous
async def test_by_day_the_map_is_of_the_hour_to_sight(tmp_path):
    async with rig(tmp_path, start=DAY) as r:
        await r.do("pick", stars=["Capella", "Rigel"])
        m = await r.get("/data/map")
        assert m["later"]
        assert m["at_utc"] == m["hours"]["from_utc"]
        assert m["sun"]["alt_deg"] == pytest.approx(-6.0, abs=0.6)
        assert [s["name"] for s in m["chosen"]] == ["Capella", "Rigel"]
        at = await r.get(f"/data/map?utc={m['hours']['until_utc']}")
        assert at["at_utc"] == m["hours"]["until_utc"]


@asynchronous
async def test_while_something_may_have_moved_the_map_tells_no_chance(tmp_path):
    async with rig(tmp_path) as r:
        for star in ("Capella", "Rigel", "Alpheratz"):
            await r.sight(star)
        assert "all over the sky" in (await r.get("/data/map"))["words"]
        await r.do("base_moved")
        m = await r.get("/data/map")
        assert (m["cells"], m["words"]) == ([], "Map of the sky; no hit chances yet.")
        assert not m["predicted"]
