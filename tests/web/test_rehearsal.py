"""A rehearsal: begun by one press, it says that it is one and shows at its end what was hidden."""

import json

import numpy as np

from plumbstar import kit as kits
from plumbstar.commands import closed
from plumbstar.simulate.closed_page import ControllerPage
from plumbstar.simulate.hidden import to_mapping
from plumbstar.web.live import rehearsing
from plumbstar.web.views.hidden import HiddenTelescope

from .server_rig import SCENE, asynchronous, rig


def hidden(tmp_path, **more):
    path = tmp_path / "rehearsal.json"
    said = {"hidden": to_mapping(SCENE.hidden), "own_kit": True, "back_port": 8273, **more}
    path.write_text(json.dumps(said))
    return HiddenTelescope.load(path)


@asynchronous
async def test_at_its_end_it_shows_what_was_hidden(tmp_path):
    told = hidden(tmp_path)
    np.testing.assert_allclose(told.terms, SCENE.hidden, atol=1e-12)
    async with rig(tmp_path, encoders=False) as r:
        await r.get("/data/hidden", status=400)  # a real telescope hides nothing that is known
        assert (await r.state())["rehearsal"] is None
        r.station.hidden = told
        before = await r.get("/data/hidden")
        assert all(row["solved"] == "" for row in before["rows"])
        for name in ("Capella", "Rigel", "Pollux", "Alpheratz"):
            await r.sight(name)
        said = await r.get("/data/hidden")
        assert said["sentence"].startswith("The stop reads 0.90° low and was solved as ")
        stop = next(row for row in said["rows"] if "stop" in row["label"])
        assert stop["hidden"] == "+0.90°"
        assert abs(float(stop["solved"].split("°")[0]) - 0.9) < 0.3


@asynchronous
async def test_it_is_begun_with_the_observers_own_kit_site_and_skyline(tmp_path, monkeypatch):
    begun = []

    async def begin(self, what):
        begun.append(what)
        return 4321

    async def end(self):
        begun.append("ended")

    monkeypatch.setattr(rehearsing.Rehearsing, "begin", begin)
    monkeypatch.setattr(rehearsing.Rehearsing, "end", end)
    async with rig(tmp_path, encoders=False) as r:
        await r.do("rehearse", status=400)
        r.station.rehearsing = rehearsing.Rehearsing((), 8273)
        await r.do("set_skyline", text="0:8 90:10")
        assert (await r.do("rehearse"))["port"] == 4321
        await r.do("end_rehearsal")
        state = await r.state()
    assert begun[0].kit_text == state["kit"]["toml"]
    assert begun[0].place == "47.2,11.6,940.0"
    assert begun[0].skyline == "0:8 90:10"
    assert begun[1:] == ["ended", "ended"]  # by the press, and with the server


@asynchronous
async def test_beside_a_controller_its_display_and_the_hands_are_on_the_pages(tmp_path):
    """The whole of it: stop, two stars, the number, an object; what was hidden at the end."""
    page = ControllerPage(closed.telescope(SCENE.site, SCENE.start, SCENE.hidden, SCENE.kit, 3))
    page.start()
    kit_text = closed.kit_beside(kits.example_text(), page.telescope)
    told = hidden(
        tmp_path, controller_port=page.port, controller_words="the controller has no clock."
    )
    try:
        async with rig(tmp_path, kit_text=kit_text, encoders=False) as r:
            await r.do("controller_hand", status=400, orders=[{"do": "look"}])
            r.station.hidden = told
            shown = await r.do("controller_hand", orders=[{"do": "upright"}])
            assert shown["top"] == "star 1 of 2"
            for star in ("Capella", "Rigel"):
                orders = [{"do": "centre", "name": star}, {"do": "star", "name": star}]
                shown = await r.do("controller_hand", orders=orders)
            assert shown["bottom"].startswith("differs ")
            wrong = await r.do("controller_hand", orders=[{"do": "object", "name": "nonsense"}])
            assert "nonsense" in wrong["error"]
            shown = await r.do(
                "controller_hand",
                orders=[{"do": "object", "name": "M 42"}, {"do": "centre", "name": "M 42"}],
            )
            assert "M 42, 0." in shown["eye"]
            shown = await r.do(
                "controller_hand", orders=[{"do": "push", "right_deg": 5.0, "look_for": "M 43"}]
            )
            assert shown["eye"].endswith("no M 43.")
            said = await r.get("/data/hidden")
            assert said["sentence"] == "The controller has no clock."
    finally:
        page.close()


@asynchronous
async def test_a_rehearsal_beside_a_controller_needs_its_list(tmp_path, monkeypatch):
    begun = []

    async def begin(self, what):
        begun.append(what)
        return 4321

    monkeypatch.setattr(rehearsing.Rehearsing, "begin", begin)
    async with rig(tmp_path, encoders=False) as r:
        r.station.rehearsing = rehearsing.Rehearsing((), 8273)
        await r.do("set_controller", stars=["Capella", "Rigel"])
        await r.do("rehearse")
        assert begun[0].controller
