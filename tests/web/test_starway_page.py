"""The way to a star as the pages are given it."""

from plumbstar.sky.times import Instant

from .server_rig import asynchronous, rig


@asynchronous
async def test_the_way_by_night(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        w = await r.get("/data/way?star=Betelgeuse&dress=day")
        assert w["way"].startswith("From the three in a row go up and left, one hand")
        assert not w["later"]
        assert w["svg"].startswith("<svg")
        assert "#fff" in w["svg"]
        assert "hand" in w["hand"]
        down = await r.get("/data/way?star=Spica")
        assert (down["svg"], down["way"], down["place"]) == ("", "", "")


@asynchronous
async def test_by_day_it_is_as_at_dusk_but_not_to_what_stands_beside_the_sun(tmp_path):
    """Early June by day: Aldebaran stands 7 degrees from the Sun."""
    async with rig(tmp_path, Instant.parse("2027-06-02T10:00:00Z"), encoders=False) as r:
        w = await r.get("/data/way?star=Aldebaran")
        assert (w["svg"], w["way"], w["place"]) == ("", "", "")
        w = await r.get("/data/way?star=Arcturus")
        assert w["later"]
        assert w["at_utc"] > "2027-06-02T19"
        assert "hands above the horizon" in w["place"]
