"""The evening as a page to keep, and what is told of an object when it is found."""

import re

import pytest

from plumbstar.simulate.scenario import saltpan_flat
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.times import Instant
from plumbstar.targets.light_age import OldLight, old_light, sentence

from .server_rig import NIGHT, SCENE, asynchronous, rig


@asynchronous
async def test_it_holds_the_finds_in_their_order_and_opens_without_a_server(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        for name in ("Capella", "Rigel", "Pollux"):
            await r.sight(name)
        for name in ("M 42", "M 37"):
            await r.do("set_target", name=name)
            assert "light-years away" in (await r.state())["target"]["story"]
            _, (az, alt) = r.truth(name)
            await r.do(
                "here_centred", id=r.press(), target=name,
                reading={"az_deg": round(az, 2), "alt_deg": round(alt, 2)},
            )  # fmt: skip
        await r.do("note", text="<b>frost</b> & an owl")
        number = (await r.state())["outing"]["id"]
        await r.do("end_outing")
        got = await r.client.get(f"/data/log/{number}.html")
    assert got.status_code == 200
    assert "evening-" in got.headers["content-disposition"]
    page = got.text
    assert "<h1>2 objects found, Thornback Ridge</h1>" in page
    assert page.index("<li>1. <b>M 42 (Orion Nebula)") < page.index("<li>2. <b>M 37")
    assert "Stars sighted: Capella, Rigel and Pollux." in page
    assert "&lt;b&gt;frost&lt;/b&gt; &amp; an owl" in page
    assert len(re.findall(r'class="f"', page)) == 2
    assert 'class="p"' in page  # the path from the one to the other
    # Nothing is fetched, and where the telescope stands is told by its name alone.
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)|<script|<img|47\.2|11\.6", page)


@asynchronous
async def test_it_holds_what_was_told_and_drawn_of_each(tmp_path):
    """How it was seen, the words and the sketch; of what was never found, too; by day in black on
    white."""
    async with rig(tmp_path, encoders=False) as r:
        for name in ("Capella", "Rigel", "Pollux"):
            await r.sight(name)
        await r.do("set_target", name="M 42")
        _, (az, alt) = r.truth("M 42")
        await r.do(
            "here_centred", id=r.press(), target="M 42",
            reading={"az_deg": round(az, 2), "alt_deg": round(alt, 2)},
        )  # fmt: skip
        await r.do("look", id=r.press(), target="M 42", seen="clearly", words="Like <i>wings</i>.")
        strokes = "[[[0,0],[90,40]],[[400,-300]]]"
        await r.do("sketch", id=r.press(), target="M 42", kind="strokes", body=strokes)
        await r.do("look", id=r.press(), target="M 33", seen="not")
        number = (await r.state())["outing"]["id"]
        page = (await r.client.get(f"/data/log/{number}.html")).text
        day = (await r.client.get(f"/data/log/{number}.html?dress=day")).text
    assert "<h1>1 object found, Thornback Ridge</h1>" in page
    assert "<div>Clearly seen. Like &lt;i&gt;wings&lt;/i&gt;.</div>" in page
    assert 'd="M0 0L90 40M400 -300m-10 0a' in page
    assert page.index("Clearly seen") < page.index("In the field, not seen") < page.index("Stars s")
    assert len(re.findall(r'class="f"', page)) == 1
    assert "@media print" in page
    assert "@media print" not in day
    assert "background: #fff" in day


@asynchronous
async def test_a_row_of_tonight_has_a_small_drawing(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        got = await r.client.get("/data/thumbnail?name=M 42&eyepiece=32 mm&dress=day")
        assert got.headers["content-type"].startswith("image/svg+xml")
        assert got.text.startswith("<svg")
        assert "<text" not in got.text
        assert len(got.content) < 20_000
        assert (await r.client.get("/data/thumbnail?name=nothing")).status_code == 400


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Aldebaran", "A star in Taurus, about 67 light-years away: its light set out about the "
         "year 1960."),
        ("M 31", "A galaxy in Andromeda, about 2.5 million light-years away: its light set out "
         "2.5 million years ago."),
        ("NGC 7662", "A planetary nebula in Andromeda."),  # nothing is said that is not known
    ],
)  # fmt: skip
def test_how_far_and_how_old(name, said):
    assert sentence(old_light(find_target(name), NIGHT, SCENE.site), NIGHT) == said


def test_the_light_of_the_planets_took_minutes_or_hours():
    now = Instant.parse("2027-01-28T18:30:00Z")
    for name, least, most in (("Saturn", 66.0, 93.0), ("Jupiter", 32.0, 54.0)):
        told = old_light(find_target(name), now, SCENE.site)
        assert told.light_minutes is not None
        assert least < told.light_minutes < most
    assert sentence(OldLight("Moon", "moon", "", light_minutes=1.28 / 60), now) == (
        "Our own moon, 384,000 km away: its light took 1.3 seconds to your eye."
    )
    # 252 minutes at 299,792.458 km a second are 4,533 million km.
    assert sentence(OldLight("Neptune", "planet", "", light_minutes=252.0), now) == (
        "A planet, 4,500 million km away: its light took 4.2 hours to your eye."
    )


@asynchronous
async def test_the_sky_is_drawn_as_one_stands_in_the_south_too(tmp_path):
    """Facing the noon side of the sky, as on the pages' map: it stood on its head."""
    foot = {}
    for site in (SCENE.site, saltpan_flat().site):
        async with rig(tmp_path / site.name, site=site, encoders=False) as r:
            await r.do("start_outing")
            number = (await r.state())["outing"]["id"]
            await r.do("end_outing")
            page = (await r.client.get(f"/data/log/{number}.html")).text
        down = {n: float(y) for y, n in re.findall(r'y="([-\d.]+)">([NS])</text>', page)}
        foot[site.lat_deg > 0] = max(down, key=down.get)
    assert foot == {True: "S", False: "N"}
