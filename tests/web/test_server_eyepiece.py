"""The picture of the field, as the Find page asks for it."""

from __future__ import annotations

from xml.etree import ElementTree

from .server_rig import asynchronous, rig


@asynchronous
async def test_the_picture_and_its_words(tmp_path):
    async with rig(tmp_path) as r:
        assert (await r.client.get("/data/eyepiece")).status_code == 400
        await r.do("set_target", name="M 37")
        night = await r.get("/data/eyepiece")
        day = await r.get("/data/eyepiece?dress=day")
        assert night["label"] == "M 37"
        assert night["eyepiece"] == "32 mm"
        assert night["sentence"].startswith("A scatter of stars")
        assert night["ways"].startswith("North is at the ")
        for answer, ink in ((night, "#f00"), (day, "#000")):
            picture = ElementTree.fromstring(answer["svg"])
            stars = picture.iter("{http://www.w3.org/2000/svg}circle")
            assert sum(c.get("class") == "eye-star" and c.get("fill") == ink for c in stars) > 5
        await r.do("set_eyepiece", name="9 mm")
        assert (await r.get("/data/eyepiece"))["eyepiece"] == "9 mm"
