"""Clocks or places that disagree whether the Sun is up: guidance waits for one plain question."""

import asyncio

import pytest

import patience
from plumbstar.clock.gps import GpsFix
from plumbstar.sky.bodies import Body
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant
from plumbstar.web.evening.gps import take_gps
from plumbstar.web.evening.ranking import NextToSight
from plumbstar.web.programs import sending
from plumbstar.web.programs.refused import Refused
from plumbstar.web.programs.telescope import ProgramTelescope

from .server_rig import DAY, NIGHT, SCENE, Standing, asynchronous, rig
from .test_alpaca_sending import of_date

QUESTION = "Is the Sun below the horizon where you stand?"
HOUR = 3600.0


async def phone_says(r, ahead_s, phone="4f2a"):
    at = (r.times.t + ahead_s) * 1000.0
    return await r.get(f"/data/clock?phone_ms={at}&round_trip_ms=0&phone={phone}")


async def use_phone(r, ahead_s, phone="4f2a"):
    at = (r.times.t + ahead_s) * 1000.0
    await r.do("use_phone_time", phone_ms=at, round_trip_ms=0, phone=phone)


async def guided(r):
    """Whether anything leads anywhere: the target, the stream's aim, the stars chosen."""
    await r.station.ask(lambda e: e.targeting.look_at_sun())  # as the watch does each second
    s = await r.state()
    aim = r.station._evening.guidance.aim
    ways = (
        s["target"]["az_reading_deg"] is not None,
        not aim.refused,
        any(p["az_deg"] is not None for p in s["plan"]),
    )
    assert len(set(ways)) == 1, ways
    assert (s["sun_question"] is None) == ways[0] or s["sun"]["up"]
    return ways[0]


async def begin(r):
    for name in ("Capella", "Rigel", "Pollux"):
        await r.sight(name)
        r.times.go(30)
    await r.do("pick", stars=["Procyon"])
    await r.do("set_target", name="M 42")
    assert await guided(r)


@asynchronous
async def test_the_computer_says_night_and_a_phone_says_day(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        await phone_says(r, 600.0)  # ten minutes: night as well
        assert await guided(r)
        await phone_says(r, 15 * HOUR)
        assert not await guided(r)
        s = await r.state()
        assert s["sun_question"]["question"] == QUESTION
        assert "A phone's clock says" in s["sun_question"]["why"]
        assert "Sun is" in s["sun_question"]["why"]
        assert s["sun_question"]["told"] == ""
        assert "question about the Sun" in s["target"]["refused"]["caution"]
        assert s["plan"][0]["where"] == "not said until the time is settled"
        assert (await r.get("/data/search?q=M42"))["results"][0]["where"] == ""
        said = await r.get("/data/agenda", 400)
        assert "question about the Sun" in said["remedy"]
        # Another program is told so, too, and changes nothing.
        with pytest.raises(Refused, match="question about the Sun"):
            await sending.send_target(r.station, *of_date(r, "Procyon"))
        assert (await r.state())["target"]["label"].startswith("M 42")
        # What is centred is recorded all the same, with a caution.
        await r.sight("Procyon")
        assert any("never sweep toward it" in m["text"] for m in (await r.state())["messages"])
        # A filter does not answer it: within 20 degrees of the Sun is no place for a filter.
        await r.do("confirm_filter", confirmed=True)
        assert not await guided(r)
        await r.do("confirm_filter", confirmed=False)
        # No: nothing is pointed to, and it may be answered again.
        await r.do("answer_sun", below=False, screen="4f2a")
        assert not await guided(r)
        s = await r.state()
        assert "Nothing is pointed to" in s["sun_question"]["told"]
        assert (s["next"]["do"], s["next"]["settles"]) == ("answer", True)  # and no star
        assert s["next"]["sentence"].startswith("The Sun may be up.")
        await r.do("answer_sun", below=True, screen="4f2a")
        assert await guided(r)
        notes = [n["text"] for n in (await r.get("/data/log/1"))["notes"]]
        assert any("on screen 4f2a at 1" in n and "below the horizon" in n for n in notes)
        assert any("on screen 4f2a at 1" in n and "Nothing is pointed to" in n for n in notes)


@asynchronous
async def test_while_it_is_asked_no_next_star_is_named_with_its_place(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        async with asyncio.timeout(patience.SECONDS):  # the real one is worked out beside it
            while not await r.station.ask(lambda e: e.plan.next_star_known):
                await asyncio.sleep(0.01)
        found = NextToSight("Sirius", 0.7, 0.9, "Next, Sirius, low in the south-east: 90.", True)
        await r.station.do(lambda e: e.plan.take_next_star(found))
        assert (await r.state())["next_star"]["star"] == "Sirius"
        await phone_says(r, 15 * HOUR)
        assert not await guided(r)
        assert (await r.state())["next_star"] is None
        await r.do("answer_sun", below=False)
        s = await r.state()
        assert s["next_star"] is None
        assert "Sirius" not in str(s["next"])
        await r.do("answer_sun", below=True)
        assert (await r.state())["next_star"]["star"] == "Sirius"


@asynchronous
async def test_two_phones_that_say_the_same_are_told_of_once_and_only_the_last_answer(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        await phone_says(r, 15 * HOUR)
        await phone_says(r, 15 * HOUR, phone="77aa")
        assert not await guided(r)
        assert (await r.state())["sun_question"]["why"].count("A phone's clock says") == 1
        await r.do("answer_sun", below=False, screen="4f2a")
        await r.do("answer_sun", below=True, screen="4f2a")
        said = [m["text"] for m in (await r.state())["messages"] if "Answered" in m["text"]]
        assert len(said) == 1
        assert "According to a phone's clock, it was up." in said[0]


@asynchronous
async def test_at_noon_the_consent_to_a_phone_nine_hours_wrong_unlocks_nothing(tmp_path):
    async with rig(tmp_path, start=DAY) as r:
        await r.do("pick", stars=["Procyon"])
        await use_phone(r, 9 * HOUR)
        for name in ("Capella", "Rigel", "Pollux"):
            kept, r.times.t = r.times.t, r.times.t + 9 * HOUR
            _, (az, alt) = r.truth(name)
            r.times.t = kept
            shown = {"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
            await r.do("sight", star=name, id=r.press(), reading=shown)
        await r.do("set_target", name="M 42")
        s = await r.state()
        assert not s["sun"]["up"]
        assert not await guided(r)
        why = s["sun_question"]["why"]
        assert "This computer's clock says 12:0" in why


@asynchronous
async def test_an_answer_lapses_with_time_and_with_what_it_was_not_about(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        await phone_says(r, 15 * HOUR)
        await r.do("answer_sun", below=True, screen="a")
        r.times.go(59 * 60)
        await phone_says(r, 15 * HOUR)  # the same clock says the same
        assert await guided(r)
        r.times.go(2 * 60)
        assert not await guided(r)
        await r.do("answer_sun", below=True, screen="a")
        assert await guided(r)
        await phone_says(r, 15 * HOUR, phone="77aa")  # another one says so, too
        assert not await guided(r)
        await r.do("answer_sun", below=True, screen="a")
        assert await guided(r)
        await phone_says(r, 16 * HOUR, phone="77aa")  # it was set meanwhile
        assert not await guided(r)
        await phone_says(r, 0.0, phone="77aa")  # both right now: nothing is left to ask
        await phone_says(r, 0.0)
        assert await guided(r)


@asynchronous
async def test_a_clock_that_puts_the_sun_up_later_is_asked_about_then(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        await phone_says(r, 11.5 * HOUR)  # 6 in the morning: night there
        assert await guided(r)
        r.times.go(1.5 * HOUR)
        assert not await guided(r)


@asynchronous
async def test_the_wait_outlives_the_server_and_the_computer(tmp_path):
    times = Standing(NIGHT)
    async with rig(tmp_path, times=times) as r:
        await begin(r)
        await phone_says(r, 15 * HOUR)
        assert not await guided(r)
    times.go(60)
    async with rig(tmp_path, times=times) as r:  # the server again: the phone is asleep
        assert not await guided(r)
        assert "A phone's clock says" in (await r.state())["sun_question"]["why"]
    again = Standing(NIGHT.plus_seconds(600))
    again.boot = "boot-2"
    async with rig(tmp_path, times=again) as r:  # the computer again, and no phone has come yet
        assert not await guided(r)
        assert "restarted" in (await r.state())["sun_question"]["why"]
        await phone_says(r, 0.0, phone="other")
        assert not await guided(r)  # nobody has answered
        await r.do("answer_sun", below=True, screen="4f2a")
        assert await guided(r)
    async with rig(tmp_path, times=again) as r:  # an answer outlives the server
        assert await guided(r)
        r.times.go(2 * HOUR)
        assert await guided(r)  # and no clock speaks against it any more
    last = Standing(NIGHT.plus_seconds(1200))
    last.boot = "boot-3"
    async with rig(tmp_path, times=last) as r:
        assert await guided(r)


@asynchronous
async def test_a_question_of_yesterday_is_not_asked_tonight(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        await phone_says(r, 15 * HOUR)
        assert not await guided(r)
    times = Standing(NIGHT.plus_seconds(24 * HOUR))
    times.boot = "boot-2"
    async with rig(tmp_path, times=times) as r:
        assert (await r.state())["sun_question"] is None


@asynchronous
async def test_another_programs_clock_is_not_taken_but_counts(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        device = ProgramTelescope(r.station)
        with pytest.raises(Refused):
            await device.hear_time("not a time", "3", r.times.m)
        await device.hear_time(NIGHT.plus_seconds(15 * HOUR).iso(3), "3", r.times.m)
        assert not await guided(r)
        assert "Another program's clock" in (await r.state())["sun_question"]["why"]


@asynchronous
async def test_an_answer_that_nobody_asked_for_unlocks_nothing(tmp_path):
    """A page left open, or another program: it is about no clock that spoke up later."""
    async with rig(tmp_path) as r:
        await begin(r)
        await r.do("answer_sun", below=True, screen="4f2a")
        assert await guided(r)
        await phone_says(r, 15 * HOUR)
        assert not await guided(r)
        assert (await r.state())["sun_question"] is not None
        await r.do("answer_sun", below=True, screen="4f2a")
        assert await guided(r)


@asynchronous
async def test_a_logbook_written_later_than_now_counts(tmp_path):
    ahead = Standing(NIGHT.plus_seconds(15 * HOUR))
    async with rig(tmp_path, times=ahead) as r:
        await r.do("note", text="by day")
    async with rig(tmp_path, times=Standing(NIGHT)) as r:
        await r.do("clock_is_right")
        await begin_waiting(r)
        assert "The last entry in the logbook says" in (await r.state())["sun_question"]["why"]
        await r.do("answer_sun", below=True)
        assert await guided(r)


async def begin_waiting(r):
    for name in ("Capella", "Rigel", "Pollux"):
        await r.sight(name)
    await r.do("pick", stars=["Procyon"])
    await r.do("set_target", name="M 42")
    assert not await guided(r)


@asynchronous
async def test_a_site_that_the_receiver_does_not_agree_with_counts(tmp_path):
    """The longitude was typed with the wrong sign: there the Sun is up."""
    async with rig(tmp_path) as r:
        await begin(r)
        far = SCENE.site.lon_deg - 120.0
        zero = r.times.t - r.times.m
        fix = GpsFix(zero, SCENE.site.lat_deg, far, 900.0, 8, 0)
        elsewhere = type(SCENE.site)(SCENE.site.lat_deg, far)
        assert place_of(Body("Sun"), Instant.from_unix(r.times.t), elsewhere)[1] > 0.0
        await r.station.do(lambda e: take_gps(e, fix))
        assert not await guided(r)
        assert "where the GPS says you stand" in (await r.state())["sun_question"]["why"]
        await r.do("answer_sun", below=True)
        assert await guided(r)


@asynchronous
async def test_a_receiver_whose_time_is_not_believed_counts(tmp_path):
    async with rig(tmp_path) as r:
        await begin(r)
        zero = r.times.t - r.times.m + 15 * HOUR + 1024 * 7 * 24 * HOUR
        place = (SCENE.site.lat_deg, SCENE.site.lon_deg)
        await r.station.do(lambda e: take_gps(e, GpsFix(zero, *place, 900.0, 8, 1)))
        assert not await guided(r)
        assert "The GPS says" in (await r.state())["sun_question"]["why"]


@asynchronous
async def test_by_day_with_a_filter_every_clocks_sun_is_kept_away_from(tmp_path):
    may = Instant.parse("2027-05-12T11:00:00Z")
    async with rig(tmp_path, times=Standing(may)) as r:
        await r.sight("Alpheratz")
        await r.do("confirm_filter", confirmed=True)
        await r.do("set_target", name="Castor")  # 60 degrees from the Sun
        assert (await r.state())["target"]["refused"] is None
        await phone_says(r, -3.5 * HOUR)  # in the morning the Sun stood in the east, near there
        await r.station.do(lambda e: e.targeting.look_at_sun())
        assert "from the Sun" in (await r.state())["target"]["refused"]["more"]


# ---- one clock alone


async def sight_by_day(r, ahead_s=0.0, stars=("Altair", "Vega", "Deneb")):
    """Stars where they stand by a clock that is so far ahead of the computer's."""
    for name in stars:
        kept, r.times.t = r.times.t, r.times.t + ahead_s
        _, (az, alt) = r.truth(name)
        r.times.t = kept
        shown = {"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
        await r.do("sight", star=name, id=r.press(), reading=shown)
    await r.do("pick", stars=["Procyon"])
    await r.do("set_target", name="Capella")


@pytest.mark.parametrize("pressed", [False, True])
@asynchronous
async def test_at_noon_the_computers_clock_is_set_to_night(tmp_path, pressed):
    """No other clock is known, but this one's own time before it was set puts the Sun up."""
    times = Standing(DAY)
    async with rig(tmp_path, times=times) as r:
        await sight_by_day(r)
        await r.station.ask(lambda e: e.targeting.look_at_sun())
        times.t -= 9 * HOUR
        assert not (await r.state())["sun"]["up"]
        assert not await guided(r)
        if pressed:  # it takes the doubt of the clock away, not the Sun
            await r.do("clock_is_right")
            assert not await guided(r)
        why = (await r.state())["sun_question"]["why"]
        assert "as it was before it was set says 1" in why
    async with rig(tmp_path, times=times) as r:  # the server again
        assert not await guided(r)
        await r.do("clock_is_right")
        await r.do("answer_sun", below=False)
        assert not await guided(r)
        await r.do("answer_sun", below=True)
        assert (await r.state())["sun_question"] is None
        # Somebody has looked: that clock was wrong, and nobody goes by it any more.
        kept = await r.station.ask(lambda e: e.sun_question.claims())
        assert "before" not in {c.whose for c in kept}


@asynchronous
async def test_the_computers_clock_is_set_while_the_server_is_down(tmp_path):
    times = Standing(DAY)
    async with rig(tmp_path, times=times) as r:
        await sight_by_day(r)
        await r.station.ask(lambda e: e.targeting.look_at_sun())
    times.t -= 9 * HOUR
    async with rig(tmp_path, times=times) as r:
        await r.do("clock_is_right")
        assert not await guided(r)


@asynchronous
async def test_a_clock_that_was_put_right_by_night_is_asked_about_once_at_most(tmp_path):
    times = Standing(NIGHT.plus_seconds(-900))
    async with rig(tmp_path, times=times) as r:
        await r.station.ask(lambda e: e.targeting.look_at_sun())
        times.t += 900  # by night before and after
        await begin(r)


@pytest.mark.parametrize("between", ["nothing", "server", "computer"])
@asynchronous
async def test_the_consent_to_a_wrong_phone_at_noon_and_a_restart_between(tmp_path, between):
    times = Standing(DAY)
    async with rig(tmp_path, times=times) as r:
        await use_phone(r, 9 * HOUR)
        await sight_by_day(r, 9 * HOUR, ("Capella", "Rigel", "Pollux"))
        assert not await guided(r)
    if between == "computer":
        times = Standing(DAY.plus_seconds(300))
        times.boot = "boot-2"
    async with rig(tmp_path, times=times) as r:
        s = await r.state()
        if between == "computer":  # its own clock is followed again, and the day's rules hold
            assert s["sun"]["up"]
        else:
            assert not s["sun"]["up"]
            assert s["sun_question"]["question"] == QUESTION
        assert s["target"] is None or s["target"]["az_reading_deg"] is None


@asynchronous
async def test_at_noon_a_receiver_nine_hours_wrong_unlocks_nothing(tmp_path):
    async with rig(tmp_path, start=DAY) as r:
        await sight_by_day(r)
        zero = r.times.t - r.times.m - 9 * HOUR
        place = (SCENE.site.lat_deg, SCENE.site.lon_deg)
        await r.station.do(lambda e: take_gps(e, GpsFix(zero, *place, 900.0, 8, 0)))
        assert not (await r.state())["sun"]["up"]
        assert not await guided(r)
        assert "This computer's clock says 1" in (await r.state())["sun_question"]["why"]


@asynchronous
async def test_a_computer_nine_hours_wrong_and_the_phone_or_receiver_that_is_right(tmp_path):
    async with rig(tmp_path, start=DAY.plus_seconds(-9 * HOUR)) as r:
        await begin_at(r)
        await phone_says(r, 9 * HOUR)
        assert not await guided(r)
        zero = r.times.t - r.times.m + 9 * HOUR
        place = (SCENE.site.lat_deg, SCENE.site.lon_deg)
        await r.station.do(lambda e: take_gps(e, GpsFix(zero, *place, 900.0, 8, 0)))
        s = await r.state()
        assert s["sun"]["up"]  # the receiver is followed, and the day's rules hold
        assert s["target"]["az_reading_deg"] is None


async def begin_at(r):
    for name in ("Capella", "Regulus", "Pollux"):
        await r.sight(name)
    await r.do("pick", stars=["Procyon"])
    await r.do("set_target", name="M 81")
    assert await guided(r)
