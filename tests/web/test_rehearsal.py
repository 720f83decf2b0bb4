"""A rehearsal: begun by one press, it says that it is one and shows at its end what was hidden."""

import asyncio
import json
import os
import sys
import urllib.request

import numpy as np
import pytest

import patience
import ready
from plumbstar import kit as kits
from plumbstar.commands import closed
from plumbstar.errors import UserError
from plumbstar.simulate.closed_page import ControllerPage
from plumbstar.simulate.hidden import to_mapping
from plumbstar.simulate.telescope import SimulatedTelescope
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
        assert said["sentence"].endswith(", from 4 sightings.")
        # Nought has no sign.
        assert not any(row["hidden"].startswith(("−0.00", "+0.00")) for row in said["rows"])
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


BY_EYE = """
name = "Shed box"
[telescope]
aperture_mm = 254.0
focal_length_mm = 1200.0
[[eyepiece]]
focal_length_mm = 28.0
apparent_field_deg = 68.0
[azimuth]
reversed = true
read_to_deg = 0.5
"""


@asynchronous
async def test_circles_read_by_eye_are_shown_on_the_pages(tmp_path):
    """As finely as they are read, and numbered as the kit says; then what the eyepiece shows."""
    sim = SimulatedTelescope(
        kits.loads(BY_EYE), SCENE.hidden, control_port=0, hand_deg_s=400.0, centring_arcmin=0.5
    )
    async with sim, rig(tmp_path, kit_text=BY_EYE, encoders=False) as r:
        await r.get("/data/circles", status=400)  # real circles are read on the mount
        r.station.hidden = hidden(tmp_path, tube_port=sim.control_port)
        assert (await r.state())["rehearsal"] is None  # told when the pages come up
        await r.do("pick", stars=["Capella", "Rigel"])
        (_, _), (az, alt) = r.truth("Rigel")
        sim.point(*r.truth("Rigel")[0])
        await sim.settled()
        shown = await r.get("/data/circles")
        assert shown["eye"] == "In the eyepiece: Rigel, in the middle."
        assert shown["az_deg"] % 0.5 == 0.0
        assert abs(shown["az_deg"] - (360.0 - az % 360.0)) < 0.3
        assert abs(shown["alt_deg"] - alt) < 0.08
        # What they show, typed in as it stands, is the sighting of that star.
        reading = {"az_deg": shown["az_deg"], "alt_deg": shown["alt_deg"]}
        await r.do("sight", star="Rigel", id="by-eye-0001", reading=reading)
        kept = (await r.state())["sightings"][0]
        assert abs(kept["az_reading_deg"] - az % 360.0) < 0.3
        sim.push(az_deg=3.0)
        await sim.settled()
        assert (await r.get("/data/circles"))["eye"] == "In the eyepiece: no star to sight."
        await r.do("set_target", name="M 42")
        sim.point(*r.truth("M 42")[0])
        await sim.settled()
        assert "M 42" in (await r.get("/data/circles"))["eye"]
        # Any bright star: its name is what the readings are to tell.
        await r.do("aim_at", star="?")
        sim.point(*r.truth("Aldebaran")[0])
        await sim.settled()
        eye = (await r.get("/data/circles"))["eye"]
        assert eye == "In the eyepiece: a bright star, in the middle."


def test_a_rehearsal_of_circles_read_by_eye_begins(tmp_path):
    """Their kit has no counts a turn, and for want of them it never began."""
    kit = tmp_path / "own.toml"
    kit.write_text(BY_EYE)
    env = {**os.environ, "XDG_DATA_HOME": str(tmp_path / "data")}
    demo = ready.Program(
        ready.PROGRAM, "demo", "--serve", "--json", "--kit", str(kit), "--site", "47.2,11.6,940",
        "--port", "0", "--host", "127.0.0.1", "--back-port", "8273", "--zone", "Europe/Rome",
        "--skyline", "0:8 90:10", "--zenith-mag", "21.3", env=env, cwd=tmp_path,
    )  # fmt: skip
    try:
        url = json.loads(demo.stdout.readline())["url"]
        with urllib.request.urlopen(url + "data/circles", timeout=patience.SECONDS) as answer:
            assert json.load(answer)["alt_deg"] == 90.0  # on the stop
        with urllib.request.urlopen(url + "data/state", timeout=patience.SECONDS) as answer:
            state = json.load(answer)
        assert state["rehearsal"] == {
            "own_kit": True, "back_port": 8273, "controller": False, "circles": True,
            "eyepiece": True,
        }  # fmt: skip
        assert state["kit"]["connection"] == "typed"
        site = state["site"]
        assert (site["time_zone"], site["zenith_mag"]) == ("Europe/Rome", 21.3)
        assert state["skyline"]["text"] == "0:8 90:10"
    finally:
        demo.terminate()
        demo.wait(patience.SECONDS)


@asynchronous
async def test_why_a_rehearsal_did_not_start_is_told():
    said = {"error": "that kit has no eyepiece. Add one", "remedy": "Add one"}
    line = f"import json; print(json.dumps({said!r}))"
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-S", "-c", line, stdout=asyncio.subprocess.PIPE
    )
    with pytest.raises(UserError) as e:
        await rehearsing.Rehearsing._told(process)
    assert str(e.value) == "The rehearsal did not start: that kit has no eyepiece. Add one"
    await process.wait()


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
            assert all(row["solved"] == "" for row in said["rows"])
            # Once the pages were told of its two stars: beside it what they tell of the mount.
            for k, star in enumerate(("Capella", "Rigel")):
                await r.do("controller_entry", id=f"told-000{k}", event="star", star=star)
            said = await r.get("/data/hidden")
            words = said["sentence"].split(". ")
            assert words[0] == "The controller has no clock"
            assert words[1].startswith("It was worked out as ")
            rows = {row["label"]: row["solved"] for row in said["rows"]}
            assert "±" in rows["upright stop"]
            assert "azimuth zero" not in rows  # the controller has its own
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
