"""The way to a star as the pages are given it."""

from plumbstar.sky.times import Instant

from .server_rig import DAY, asynchronous, rig


@asynchronous
async def test_the_way_by_night_and_as_it_will_be_at_dusk(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        w = await r.get("/data/way?star=Betelgeuse&dress=day")
        assert w["way"].startswith("From the three in a row go up and left, one hand")
        assert not w["later"]
        assert w["svg"].startswith("<svg")
        assert "#fff" in w["svg"]
        assert "hand" in w["hand"]
        down = await r.get("/data/way?star=Spica")
        assert (down["svg"], down["way"], down["place"]) == ("", "", "")
    async with rig(tmp_path, DAY, encoders=False) as r:
        w = await r.get("/data/way?star=Capella")
        assert w["later"]
        assert w["at_utc"] > "2027-01-28T16"
        assert w["way"]


@asynchronous
async def test_what_stands_beside_the_sun_now_is_not_led_to(tmp_path):
    """Early June by day: Aldebaran stands 7 degrees from the Sun."""
    async with rig(tmp_path, Instant.parse("2027-06-02T10:00:00Z"), encoders=False) as r:
        w = await r.get("/data/way?star=Aldebaran")
        assert (w["svg"], w["way"], w["place"]) == ("", "", "")
