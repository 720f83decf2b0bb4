"""A disk that refuses while nobody presses: what is said, what holds, and what is kept later."""

import asyncio
import logging

from plumbstar.mount.slips import CountSlip, SlipCause
from plumbstar.sky.times import Instant

from .server_rig import NIGHT, Listener, Standing, asynchronous, rig

SLIP = CountSlip(1, (SlipCause("jump", ("azimuth",), 50.0),), 0.0)


async def refuses(r, so=True):
    """Every write fails from now on, or no longer: SQLite's own refusal, as of a failed card."""
    await r.station.ask(lambda e: r.book.file.db.execute(f"PRAGMA query_only = {int(so)}"))


async def look(r):
    """As the server does once a second."""
    counts = r.station.readings.counts()
    return await r.station.ask(lambda e: e.keep(counts))


def of_the_disk(s):
    return [m["text"] for m in s["messages"] if "Nothing can be saved now" in m["text"]]


async def three_stars(r):
    for star in ("Capella", "Rigel", "Alpheratz"):
        await r.sight(star)


@asynchronous
async def test_what_is_refused_is_not_done_either(tmp_path):
    """Answered with "nothing was saved" it must not stand on the page, and be lost by a restart."""
    async with rig(tmp_path) as r:
        await three_stars(r)
        await r.do("set_target", name="M 42")
        await refuses(r)
        before = await r.state()
        for name, body in (
            ("base_moved", {}),
            ("set_target", {"name": "M 31"}),
            ("clear_target", {}),
            ("set_eyepiece", {"name": "9 mm"}),
            ("confirm_filter", {"confirmed": True}),
            ("not_in_field", {}),
            ("pick", {"stars": ["Castor"]}),
            ("end_outing", {}),
        ):
            said = await r.do(name, 507, **body)
            assert said["error"].startswith("Nothing was saved")
            s = await r.state()
            for key in ("slip", "target", "plan", "kit", "outing"):
                assert s[key] == before[key], (name, key)
        await refuses(r, False)
        await r.do("base_moved")
        assert "base" in (await r.state())["slip"]["sentence"]


@asynchronous
async def test_a_slip_that_cannot_be_saved_is_one_all_the_same_and_is_saved_later(tmp_path):
    times = Standing(NIGHT)
    async with rig(tmp_path, times=times) as r:
        await three_stars(r)
        await r.do("set_target", name="M 42")
        assert (await r.state())["target"]["hit_chance"] > 0.9
        await refuses(r)
        await r.station.do(lambda e: e.observing.slipped((SLIP,)))
        s = await r.state()
        assert "jumped by 50.0°" in s["slip"]["sentence"]
        assert s["target"]["hit_chance"] is None
        await r.station.ask(lambda e: e.reload())  # another program wrote, or a press was refused
        assert (await r.state())["slip"] is not None
        assert r.book.state(s["outing"]["id"])["desk"]["slips"] == []
        await refuses(r, False)
        await look(r)
        assert len(r.book.state(s["outing"]["id"])["desk"]["slips"]) == 1
    async with rig(tmp_path, times=times) as r:  # the server again
        assert "jumped by 50.0°" in (await r.state())["slip"]["sentence"]


@asynchronous
async def test_it_is_said_once_and_taken_off_when_there_is_room_again(tmp_path):
    async with rig(tmp_path) as r:
        await three_stars(r)
        await refuses(r)
        await r.station.do(lambda e: e.observing.slipped((SLIP,)))
        assert await look(r)
        (text,) = of_the_disk(await r.state())
        assert "read-only" in text
        assert not await look(r)
        (message,) = [m for m in (await r.state())["messages"] if m["text"] == text]
        await r.do("dismiss", id=message["id"])
        assert not await look(r)  # dismissed it is not said anew each second
        assert not of_the_disk(await r.state())
        await refuses(r, False)
        await look(r)
        await refuses(r)
        await r.station.ask(lambda e: e.since.went_unseen(12.0))
        assert await look(r)
        assert of_the_disk(await r.state())
        await refuses(r, False)
        assert await look(r)
        assert not of_the_disk(await r.state())


@asynchronous
async def test_the_sun_is_looked_at_and_the_page_told_though_nothing_can_be_saved(
    tmp_path, monkeypatch, caplog
):
    """The look at the Sun and at the clock was lost with what the disk refused after it."""
    monkeypatch.setattr("plumbstar.web.live.watch.LOOK_S", 0.05)
    times = Standing(Instant.parse("2027-01-29T05:50:00Z"))  # the Sun is 9 degrees down
    async with rig(tmp_path, times=times) as r:
        for star in ("Vega", "Arcturus", "Regulus"):
            await r.sight(star)
        await r.do("set_target", name="M 13")
        assert (await r.state())["target"]["refused"] is None
        await refuses(r)
        await r.station.do(lambda e: e.since.went_unseen(12.0))  # something to be saved
        await r.quiet()
        async with Listener(r.app) as phone:
            times.go(2 * 3600)
            await phone.until(lambda n, d: n == "state" and d["target"]["refused"] is not None)
        for _ in range(3):
            times.go(10)
            await asyncio.sleep(0.2)
    said = [x for x in caplog.records if x.levelno >= logging.WARNING]
    assert not [x for x in said if x.exc_info], [x.getMessage() for x in said]


@asynchronous
async def test_a_job_that_the_disk_refuses_is_told_of_in_one_line(tmp_path, caplog):
    async with rig(tmp_path) as r:
        await three_stars(r)
        await refuses(r)

        async def refused():
            await r.do("note", 507, text="seeing good")
            await r.station.do(lambda e: e.outings.note("seeing good"))

        for _ in range(2):
            r.station.jobs.start(refused())
            await r.quiet()
    said = [x for x in caplog.records if x.name == "plumbstar.web"]
    assert [x.exc_info for x in said] == [None]
    assert "read-only" in said[0].getMessage()
