"""A board without a clock: doubts, a phone's time by consent, restarts, and times put right."""

import httpx
import numpy as np
import pytest

from plumbstar.clock.clock import EveningClock, boot_name, steady
from plumbstar.clock.gps import GpsFix
from plumbstar.logbook import Logbook
from plumbstar.sky.times import Instant
from plumbstar.web.evening.gps import take_gps
from plumbstar.web.evening.timekeeping import Timekeeping, not_before
from plumbstar.web.live import gps_listener
from receiver import sentence

from .server_rig import NIGHT, Standing, asynchronous, rig

SLOW = 743.0


class Wrong(Standing):
    """A computer whose clock is wrong; ``true`` is what a right one shows."""

    def __init__(self, slow=SLOW, boot="boot-1"):
        super().__init__(NIGHT.plus_seconds(-slow))
        self.slow, self.boot = slow, boot

    @property
    def true(self):
        return self.t + self.slow

    def set_system(self, by):
        self.t += by
        self.slow -= by


async def phone_says(r, times, trip_s=0.2, off=0.0):
    return await r.get(
        f"/data/clock?phone_ms={(times.true - trip_s / 2 + off) * 1000}"
        f"&round_trip_ms={trip_s * 1000}"
    )


async def use_phone(r, times, status=200, trip_s=0.2, off=0.0):
    return await r.do(
        "use_phone_time", status=status,
        phone_ms=(times.true - trip_s / 2 + off) * 1000, round_trip_ms=trip_s * 1000,
    )  # fmt: skip


async def sight_truly(r, times, name):
    """Centre a star under the true sky, whatever the server's clock says."""
    kept, times.t = times.t, times.true
    _, (az, alt) = r.truth(name)
    times.t = kept
    return await r.do(
        "sight", star=name, id=r.press(), reading={"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
    )


@asynchronous
async def test_stars_being_ranked_for_the_wrong_hour_are_not_shown(tmp_path):
    times = Wrong()
    async with rig(tmp_path, times=times) as r:
        await r.do("choose", stars=2)
        await use_phone(r, times)
        await r.quiet()
        assert (await r.state())["choice"] is None


@asynchronous
async def test_a_phones_time_by_consent_and_the_times_put_right(tmp_path):
    times, right = Wrong(), Wrong(0.0)
    async with rig(tmp_path / "right", times=right) as r:
        for name in ("Capella", "Rigel", "Pollux"):
            await sight_truly(r, right, name)
            right.go(60)
        wanted = await r.station.ask(lambda e: e.fix.mean)

    async with rig(tmp_path / "wrong", times=times) as r:
        said = await phone_says(r, times)
        assert said["finding"]["kind"] == "differs"
        assert said["finding"]["off_s"] == pytest.approx(SLOW, abs=0.01)
        for name in ("Capella", "Rigel"):
            await sight_truly(r, times, name)
            times.go(60)
        assert (await r.state())["timing"]["offer"] is None  # nothing better is known yet
        await use_phone(r, times)
        s = await r.state()
        assert s["now_utc"] == Instant.from_unix(times.true).iso()
        assert s["timing"]["source"] == "phone"
        assert "+0:12:23 from this computer's clock" in s["timing"]["sentence"]
        assert (await phone_says(r, times))["finding"] is None
        # Not rewritten silently: asked, with what is to be consented to.
        offer = s["timing"]["offer"]
        assert offer["sentence"] == (
            "These 2 sightings were timed by the wrong clock: correct them by +0:12:23?"
        )
        assert s["sightings"][0]["corrected_by"] == ""
        await sight_truly(r, times, "Pollux")  # by the right clock: not among those asked about
        assert (await r.state())["timing"]["offer"]["count"] == 2
        before = await r.station.ask(lambda e: e.fix.mean)
        assert np.max(np.abs(before - wanted)) > np.radians(0.5)
        await r.do("correct_times", status=400, count=3, by=offer["by"])  # not what was asked
        await r.do("correct_times", count=2, by=offer["by"])
        s = await r.state()
        assert [x["corrected_by"] for x in s["sightings"]] == ["+0:12:23", "+0:12:23", ""]
        assert s["timing"]["offer"] is None
        mended = await r.station.ask(lambda e: e.fix.mean)
        np.testing.assert_allclose(mended, wanted, atol=np.radians(1e-5))
        assert s["undo"]["words"] == "the correction of outing 1's times by +0:12:23"
        log = await r.get("/data/log/1")
        assert log["started_utc"] == NIGHT.iso()
        assert any("The clock was moved by +0:12:23" in n["text"] for n in log["notes"])
        await r.do("undo")
        assert (await r.state())["timing"]["offer"]["count"] == 2
        after = await r.station.ask(lambda e: e.fix.mean)
        np.testing.assert_allclose(after, before, atol=1e-9)
        await r.do("leave_times")
        assert (await r.state())["timing"]["offer"] is None


@asynchronous
async def test_what_was_told_outlives_the_server_but_not_the_computer(tmp_path):
    times = Wrong()
    async with rig(tmp_path, times=times) as r:
        await sight_truly(r, times, "Capella")
        await use_phone(r, times)
    times.go(300)
    async with rig(tmp_path, times=times) as r:  # the server again, the same run of the computer
        s = await r.state()
        assert s["timing"]["source"] == "phone"
        assert s["now_utc"] == Instant.from_unix(times.true).iso()
        assert s["outing"]["id"] == 1
        assert s["timing"]["offer"]["count"] == 1
    times.set_system(SLOW)  # the network came: the system's clock is right now, and follows itself
    async with rig(tmp_path, times=times) as r:
        s = await r.state()
        assert s["timing"]["source"] == "computer"
        assert s["timing"]["offer"]["count"] == 1  # the first star is still to be put right
    again = Wrong(0.0, boot="boot-2")  # after a power cut, the clock right: no stale offset
    again.go(900)
    async with rig(tmp_path, times=again) as r:
        s = await r.state()
        assert s["timing"]["source"] == "computer"
        assert s["now_utc"] == Instant.from_unix(again.true).iso()
        assert s["timing"]["offer"] is None  # of another run of the computer: cannot be known
        assert s["outing"]["id"] == 1


@asynchronous
async def test_once_told_the_systems_jumps_move_nothing(tmp_path):
    times = Wrong()
    async with rig(tmp_path, times=times) as r:
        await use_phone(r, times)
        times.set_system(-5000.0)
        s = await r.state()
        assert s["now_utc"] == Instant.from_unix(times.true).iso()
        assert s["timing"]["findings"] == []


@asynchronous
async def test_a_clock_set_in_mid_evening_is_seen_and_asked_about(tmp_path):
    times = Wrong()
    async with rig(tmp_path, times=times) as r:
        await sight_truly(r, times, "Capella")
        times.set_system(SLOW)
        assert await r.station.ask(lambda e: e.clock_setting.look())
        assert not await r.station.ask(lambda e: e.clock_setting.look())
        s = await r.state()
        (doubt,) = s["timing"]["findings"]
        assert doubt["kind"] == "jumped"
        assert "forward by 12 min 23 s" in doubt["sentence"]
        assert s["timing"]["offer"]["by"] == "+0:12:23"
        await r.do("clock_is_right")
        s = await r.state()
        assert s["timing"]["findings"] == []
        assert s["timing"]["offer"]["count"] == 1
        times.go(1.0)
        times.set_system(2.0)  # below what matters
        assert (await r.state())["timing"]["findings"] == []


@asynchronous
async def test_a_clock_behind_the_logbook_ends_no_outing_and_leads_nowhere(tmp_path):
    times = Wrong(0.0)
    async with rig(tmp_path, times=times) as r:
        for name in ("Capella", "Rigel"):
            await sight_truly(r, times, name)
        await r.do("set_target", name="M 42")
        assert (await r.state())["target"]["refused"] is None
    # After a power cut a board goes on from the time it last wrote down: days ago.
    late = Wrong(3 * 86400.0, boot="boot-2")
    async with rig(tmp_path, times=late) as r:
        s = await r.state()
        assert [f["kind"] for f in s["timing"]["findings"]] == ["behind"]
        assert s["outing"]["id"] == 1  # not taken for another evening's
        # Nobody knows where the Sun stands: no push is shown.
        assert s["target"]["refused"]["answer"] == "Where the Sun stands is not known."
        await use_phone(r, late)
        s = await r.state()
        assert s["timing"]["findings"] == []
        assert s["outing"]["id"] == 1
        assert s["target"]["refused"] is None
    # The observer may know better; that is remembered.
    other = Wrong(3 * 86400.0, boot="boot-3")
    async with rig(tmp_path, times=other) as r:
        await r.do("clock_is_right")
        assert (await r.state())["timing"]["findings"] == []


@asynchronous
async def test_an_outing_begun_in_1970_goes_on_and_is_dated(tmp_path):
    times = Wrong(NIGHT.to_unix() - 600.0)
    async with rig(tmp_path, times=times) as r:
        assert (await r.state())["timing"]["findings"][0]["kind"] == "unset"
        await r.do("start_outing")
        await use_phone(r, times)
        s = await r.state()
        assert s["outing"]["id"] == 1
        assert s["timing"]["offer"]["sentence"].startswith("The outing's start was timed by")
        await r.do("correct_times", count=0, by=s["timing"]["offer"]["by"])
        assert (await r.state())["outing"]["started_utc"] == NIGHT.iso()
    async with rig(tmp_path, times=times) as r:
        assert (await r.state())["outing"]["id"] == 1


@asynchronous
async def test_times_that_cannot_be_are_refused(tmp_path):
    times = Wrong()
    async with rig(tmp_path, times=times) as r:
        r1 = await use_phone(r, times, status=400, trip_s=9.0)
        assert "half of that wrong" in r1["error"]
        r2 = await use_phone(r, times, status=400, off=-1.8e9)  # a phone that is unset itself
        assert "from a phone" in r2["error"]
        await use_phone(r, times, status=400, off=9e10)
        for body in (
            {},
            {"phone_ms": "x", "round_trip_ms": 1},
            {"phone_ms": 1, "round_trip_ms": -1},
        ):
            await r.do("use_phone_time", status=400, **body)
        await r.do("correct_times", status=400, count=1, by="+0:12:23")  # no outing
        assert (await r.state())["timing"]["source"] == "computer"
        for query in ("", "?phone_ms=x&round_trip_ms=1", "?phone_ms=nan&round_trip_ms=1"):
            assert (await r.get(f"/data/clock{query}"))["finding"] is None


@asynchronous
async def test_a_rehearsal_knows_no_other_time(tmp_path):
    clock = EveningClock(NIGHT, unix=lambda: 1e9, monotonic=lambda: 50.0, boot="b")
    async with rig(tmp_path, times=clock) as r:
        s = await r.state()
        assert s["timing"]["compare"] is False
        assert s["timing"]["findings"] == []
        said = await r.do("use_phone_time", status=400, phone_ms=2e12, round_trip_ms=1)
        assert "start time that the server was given" in said["error"]
        assert (await r.get("/data/clock?phone_ms=2e12&round_trip_ms=1"))["finding"] is None
        await r.do("start_outing")
        assert await r.station.ask(lambda e: e.outing.clock) is None


@asynchronous
async def test_a_guest_learns_nothing_of_the_clock(tmp_path):
    async with rig(tmp_path, times=Wrong(), host="scope.test", peer="10.0.0.9",
                   names=("scope.test",)) as r:  # fmt: skip
        reply: httpx.Response = await r.client.get("/data/clock")
        assert reply.status_code == 401


def test_a_damaged_note_of_the_told_time_is_passed_over(tmp_path):
    with Logbook.open(tmp_path / "l.sqlite3") as book:
        book.set_setting("clock_told", {"boot": 5})
        times = Wrong()
        clock = times.clock()
        Timekeeping(book, clock)
        assert clock.source == ""
        book.set_setting("clock_told", {"boot": "boot-1", "zero": 1.0, "source": "a rumour"})
        Timekeeping(book, clock)
        assert clock.source == ""


def test_the_systems_own_steady_clock_and_boot():
    assert steady() <= steady()
    assert boot_name()
    assert not_before() >= Instant.parse("2026-11-01").to_unix()


def gps_fix(times, off=0.0, turns=0, lat=47.2):
    return GpsFix(times.true + off - times.m, lat, 11.6, 940.0, 7, turns)


@asynchronous
async def test_a_gps_sets_the_time_and_an_unknown_site(tmp_path):
    times = Wrong()
    async with rig(tmp_path, times=times, site=None) as r:
        await r.station.do(lambda e: take_gps(e, gps_fix(times)))
        s = await r.state()
        assert s["now_utc"] == Instant.from_unix(times.true).iso()
        assert s["timing"]["source"] == "gps"
        assert (s["site"]["lat_deg"], s["site"]["elevation_m"]) == (47.2, 940)
        assert s["site"]["time_zone"] == "Europe/Vienna"


@asynchronous
async def test_a_gps_elsewhere_or_of_another_day_changes_nothing(tmp_path):
    times = Wrong(0.0)
    async with rig(tmp_path, times=times) as r:
        await r.station.do(lambda e: take_gps(e, gps_fix(times, off=1.0, lat=46.0)))
        s = await r.state()
        assert s["site"]["lat_deg"] == 47.2
        assert s["timing"]["source"] == "computer"  # a second is within its lag
        assert any("not the site in use" in m["text"] for m in s["messages"])
        await r.station.do(lambda e: take_gps(e, gps_fix(times, off=9e6, turns=1)))
        s = await r.state()
        assert s["timing"]["source"] == "computer"
        assert any("begun its count of weeks anew" in m["text"] for m in s["messages"])


@asynchronous
async def test_the_receiver_beside_the_server_is_heard_and_missed(tmp_path, monkeypatch):
    monkeypatch.setattr(gps_listener, "RETRY_S", 0.05)
    times = Wrong()
    clock = times.clock()

    class Port:
        """A receiver that is pulled out once and then gives lines, each a second later."""

        in_waiting = 0
        told = 0

        def read(self, n):
            if Port.told == 0:
                Port.told = 1
                raise OSError("pulled")
            if n == 0:
                return b""
            Port.told += 1
            times.go(1.0)
            t = Instant.from_unix(times.true).iso()
            day = f"{t[8:10]}{t[5:7]}{t[2:4]}"
            hour = t[11:19].replace(":", "")
            return sentence(f"GNRMC,{hour}.00,A,4712.0000,N,01136.0000,E,0.0,,{day},,,A")

        def close(self):
            pass

    async with rig(tmp_path, times=times) as r:
        await gps_listener.GpsListener(Port(), Port, clock).run(r.station)
        s = await r.state()
        assert any("stopped answering" in m["text"] for m in s["messages"])
        assert s["timing"]["source"] == "gps"
        off = Instant.parse(s["now_utc"]).to_unix() - times.true
        assert abs(off) <= 1.0
