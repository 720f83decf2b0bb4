"""The evening with encoders: live readings, the press's own instant, stale, slip, two clients.

A simulated board over TCP, the demo's hidden faults, the real clocks.
"""

import asyncio
import math

import pytest

import patience
from plumbstar.web.evening.evening import Evening
from plumbstar.web.live import watch

from .conftest import any_hand
from .server_rig import (
    Listener,
    asynchronous,
    board,
    centre,
    evening_clock,
    live,
    rig,
    toml_for,
)


@asynchronous
async def test_readings_push_and_field(tmp_path, quick_hands):
    async with (
        board() as sim,
        rig(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as r,
        Listener(r.app) as a,
        Listener(r.app) as b,
    ):
        await live(r)
        for name in ("Capella", "Rigel", "Pollux", "Alpheratz"):
            where = await centre(r, sim, name)
            done = await r.do("sight", star=name, id=r.press(), ago_ms=20)
            assert done["residual_arcmin"] < 10
        state = await b.until(lambda n, d: n == "state" and len(d["sightings"]) == 4)
        last = state["sightings"][-1]
        assert last["origin"] == "encoders"
        # Within a tick and a half: 360 / 9216 deg each.
        assert last["alt_reading_deg"] == pytest.approx(where["alt_reading_deg"], abs=0.06)
        await r.do("set_target", name="M42")
        # Two clients see the same version with the same words.
        one = await a.until(lambda n, d: n == "state" and d["target"])
        two = await b.until(lambda n, d: n == "state" and d["version"] == one["version"])
        assert one == two
        await centre(r, sim, "Betelgeuse")
        away = await a.until(lambda n, d: n == "reading" and d["push"] and not d["in_field"])
        assert away["offset"] is not None
        assert away["state"] == "live"
        await centre(r, sim, "M42")
        here = await a.until(lambda n, d: n == "reading" and d["in_field"])
        assert math.hypot(here["offset"]["right_deg"], here["offset"]["up_deg"]) < 0.75
        await asyncio.sleep(0.2)
        close = a.last("reading")
        # The fix may be off by its own sigma, no more than a few tenths of a degree here.
        assert math.hypot(close["offset"]["right_deg"], close["offset"]["up_deg"]) < 0.4
        assert close["beep"] > away["beep"]
        assert close["push"]["seconds"] < 2.0
        done = await r.do("here_centred", id=r.press(), ago_ms=0)
        assert done["residual_arcmin"] < 15


@asynchronous
async def test_the_reading_is_that_of_the_press_not_of_its_arrival(tmp_path, quick_hands):
    async with (
        board() as sim,
        rig(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as r,
    ):
        await live(r)
        where = await centre(r, sim, "Capella")
        began = r.station.clock.monotonic()
        await asyncio.sleep(0.15)
        sim.push(az_deg=25.0, alt_deg=-10.0)  # the observer moves on before the phone is heard
        await sim.settled()
        await asyncio.sleep(0.2)
        ago = (r.station.clock.monotonic() - began - 0.1) * 1000.0
        await r.do("sight", star="Capella", id=r.press(), ago_ms=ago)
        s = (await r.state())["sightings"][0]
        assert s["az_reading_deg"] == pytest.approx(where["az_reading_deg"], abs=0.06)
        assert s["alt_reading_deg"] == pytest.approx(where["alt_reading_deg"], abs=0.06)
        error = await r.do("sight", status=400, star="Rigel", id=r.press(), ago_ms=500_000)
        assert "moment you pressed" in error["error"]


@asynchronous
async def test_the_time_that_a_press_is_under_way_is_not_counted(tmp_path, quick_hands):
    """The page tells when it sent; what no page can tell is told by nobody's header."""
    async with (
        board() as sim,
        rig(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as r,
    ):
        await live(r)
        where = await centre(r, sim, "Capella")
        r.client.headers["X-Plumbstar-Sent"] = f"{r.station.clock.monotonic() * 1000.0:.0f}"
        await asyncio.sleep(0.15)
        sim.push(az_deg=25.0, alt_deg=-10.0)
        await sim.settled()
        await asyncio.sleep(0.2)
        await r.do("sight", star="Capella", id=r.press(), ago_ms=20)
        s = (await r.state())["sightings"][0]
        assert s["az_reading_deg"] == pytest.approx(where["az_reading_deg"], abs=0.06)
        where = await centre(r, sim, "Rigel")
        for sent in ("60000", "-60000", "x", "9" * 400, "1e5"):
            if sent.endswith("60000"):
                sent = f"{r.station.clock.monotonic() * 1000.0 + int(sent):.0f}"
            r.client.headers["X-Plumbstar-Sent"] = sent
            await r.do("sight", star="Rigel", id=r.press(), ago_ms=0)
            s = (await r.state())["sightings"][-1]
            assert s["star"] == "Rigel"
            assert s["az_reading_deg"] == pytest.approx(where["az_reading_deg"], abs=0.06), sent


@asynchronous
async def test_stale_blocks_a_sighting_and_says_why(tmp_path, quick_hands):
    async with (
        board() as sim,
        rig(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as r,
        Listener(r.app) as a,
    ):
        await live(r)
        await centre(r, sim, "Capella")
        sim.command({"unplug": 2.6})
        stale = await a.until(lambda n, d: n == "reading" and d["state"] == "stale")
        assert stale["problem"]
        assert stale["az_reading_deg"] is not None  # the last one heard stays on show, marked
        await asyncio.sleep(1.3)
        error = await r.do("sight", status=400, star="Capella", id=r.press())
        assert "Nothing was recorded" in error["remedy"]
        assert (await r.state())["sightings"] == []
        back = len(a.events)
        async with asyncio.timeout(patience.SECONDS):
            while r.station.readings.latest.state != "live":
                await asyncio.sleep(0.05)
        assert len(a.events) > back


@asynchronous
async def test_a_slip_is_shown_and_one_sighting_settles_it(tmp_path):
    async with (
        board(55.0) as sim,
        rig(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as r,
        Listener(r.app) as a,
    ):
        await live(r)
        for name in ("Capella", "Aldebaran", "Rigel"):
            await centre(r, sim, name)
            await r.do("sight", star=name, id=r.press())
        before = await r.state()
        assert before["slip"] is None
        zero = {t["name"]: t for t in before["fix"]["terms"]}
        sim.command({"slip_deg": [30.0, 0.0]})
        state = await a.until(lambda n, d: n == "state" and d["slip"])
        assert "azimuth" in state["slip"]["sentence"]
        assert "Doubtful" in state["fix"]["sentence"]
        assert a.last("reading")["slip"] is True
        # It blocks nothing.
        await r.do("set_target", name="M42")
        where = sim.where()
        assert where["moving"] is False
        await asyncio.sleep(0.1)
        await centre(r, sim, "Betelgeuse")
        done = await r.do("sight", star="Betelgeuse", id=r.press())
        after = await r.state()
        assert after["slip"] is None
        assert done["residual_arcmin"] < 15
        # All four are in: the old ones taught the mount, the new one the zero.
        assert len(after["sightings"]) == 4
        assert all(s["residual_arcmin"] < 30 for s in after["sightings"])
        assert not any(s["set_aside"] for s in after["sightings"])
        terms = {t["name"]: t for t in after["fix"]["terms"]}
        for kept in ("lean_north", "lean_west", "cone", "altitude_zero"):
            assert terms[kept]["value_deg"] == pytest.approx(zero[kept]["value_deg"], abs=0.15)
        assert after["fix"]["mean_hit_chance"] > 0.85
        # And the push is right again: the tube lands on M42.
        await centre(r, sim, "M42")
        await asyncio.sleep(0.2)
        close = a.last("reading")
        assert math.hypot(close["offset"]["right_deg"], close["offset"]["up_deg"]) < 0.5
        assert close["slip"] is False
        # Undone, the slip is open again.
        await r.do("undo")
        assert (await r.state())["slip"] is not None
        await r.do("acknowledge_slip")
        s = await r.state()
        assert s["slip"] is None
        assert {t["name"]: t["value_deg"] for t in s["fix"]["terms"]}["azimuth_zero"] == (
            pytest.approx(zero["azimuth_zero"]["value_deg"], abs=0.01)
        )


@asynchronous
async def test_no_encoders_means_typed(tmp_path):
    async with (
        board() as sim,
        rig(tmp_path, kit_text=toml_for(sim), encoders=False) as r,
    ):
        assert r.station.readings.latest.state == "absent"
        await r.sight("Capella")
        assert (await r.state())["sightings"][0]["origin"] == "typed"


@asynchronous
async def test_over_a_restart_the_counts_go_on(tmp_path, quick_hands):
    async with board() as sim:
        kit_text = toml_for(sim)
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            await live(r)
            sim.push(az_deg=400.0)  # more than one turn: the reading runs past 360
            await sim.settled()
            await centre(r, sim, "Capella")
            await r.do("sight", star="Capella", id=r.press())
            before = r.station.readings.latest
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            await live(r)
            again = r.station.readings.latest
            assert again.az_deg == pytest.approx(before.az_deg, abs=1e-6)
            assert again.alt_deg == pytest.approx(before.alt_deg, abs=1e-6)
            s = await r.state()
            assert s["slip"] is None
            assert len(s["sightings"]) == 1
        # Moved while nobody listened: followed, but asked about.
        sim.push(az_deg=30.0)
        await sim.settled()
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            async with asyncio.timeout(patience.SECONDS):
                while (await r.state())["slip"] is None:
                    await asyncio.sleep(0.05)
            assert r.station.readings.latest.az_deg == pytest.approx(before.az_deg + 30, abs=0.1)
            await r.do("acknowledge_slip")
            assert (await r.state())["slip"] is None
            await asyncio.sleep(0.1)
            assert r.station.readings.latest.slip is False


@asynchronous
async def test_a_power_cut_right_after_a_sighting_is_no_slip(tmp_path, quick_hands, monkeypatch):
    """Cut off in the very act of saving: the counts are on disk before the sighting is."""
    monkeypatch.setattr(watch, "COUNTS_S", 1e9)  # only what is kept with the sighting itself
    async with board() as sim:
        kit_text = toml_for(sim)
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            await live(r)
            await centre(r, sim, "Aldebaran")
            await r.do("sight", star="Aldebaran", id=r.press())
            await centre(r, sim, "Capella")
            add = r.book.add_sighting

            def cut_off(*args, **kwargs):
                add(*args, **kwargs)
                # From here on the dead process writes nothing more.
                monkeypatch.setattr(Evening, "keep_counts", lambda *_: None)
                raise RuntimeError("the plug is pulled")

            monkeypatch.setattr(r.book, "add_sighting", cut_off)
            await r.do("sight", status=500, star="Capella", id=r.press())
        monkeypatch.undo()
        any_hand(monkeypatch)
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            await live(r)
            await asyncio.sleep(0.3)
            s = await r.state()
            assert [x["star"] for x in s["sightings"]] == ["Aldebaran", "Capella"]
            assert s["slip"] is None


@asynchronous
@pytest.mark.parametrize("answer", ["sight", "nothing moved"])
async def test_a_power_cut_right_after_a_settled_slip_does_not_claim_it_anew(
    tmp_path, monkeypatch, answer
):
    monkeypatch.setattr(watch, "COUNTS_S", 1e9)
    async with board(55.0) as sim:
        kit_text = toml_for(sim)
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            await live(r)
            await centre(r, sim, "Capella")
            await r.do("sight", star="Capella", id=r.press())
            sim.command({"slip_deg": [30.0, 0.0]})
            async with asyncio.timeout(patience.SECONDS):
                while (await r.state())["slip"] is None:
                    await asyncio.sleep(0.02)
            if answer == "sight":
                await r.do("sight", star="Capella", id=r.press())
            else:
                await r.do("acknowledge_slip")
            assert (await r.state())["slip"] is None
            r.station.readings.counts = lambda: None  # cut off: nothing is kept on the way out
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            await live(r)
            await asyncio.sleep(0.3)
            assert (await r.state())["slip"] is None
            assert r.station.readings.latest.slip is False


@asynchronous
async def test_a_board_without_power_is_noticed_after_the_restart(tmp_path, quick_hands):
    async with board() as sim:
        kit_text = toml_for(sim)
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            await live(r)
            await centre(r, sim, "Capella")
            await r.do("sight", star="Capella", id=r.press())
        sim.command({"reset_counter": True})
        async with rig(tmp_path, kit_text=kit_text, times=evening_clock()) as r:
            async with asyncio.timeout(patience.SECONDS):
                while (await r.state())["slip"] is None:
                    await asyncio.sleep(0.05)
            assert "again from zero" in (await r.state())["slip"]["sentence"]


@asynchronous
async def test_another_kit_means_another_board(tmp_path, quick_hands):
    async with (
        board() as sim,
        rig(tmp_path, times=evening_clock()) as r,
    ):
        assert r.station.readings.typed
        await r.do("set_kit", toml=toml_for(sim))
        await live(r)
        assert (await r.state())["kit"]["connection"] == "tcp"
        await r.do("set_kit", toml=toml_for(sim).replace("push_seconds = 20.0", "push_seconds = 9"))
        assert r.station.readings.latest.state == "live"  # the same line was not hung up
