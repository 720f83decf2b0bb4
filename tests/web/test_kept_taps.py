"""Taps kept: how late one may come; and what was centred before the stop was ever told."""

import json
import re

import msgspec
import numpy as np
import pytest

from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.mount import kinematics
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening
from plumbstar.web.live.bodies import LONGEST_AGO_MS
from plumbstar.web.live.virtual import VirtualClock, VirtualStation

from .server_rig import NIGHT, SCENE, asynchronous, toml_for

TICKS = 9216 / 360.0
ON_THE_STOP = (0.0, 90.0)  # a board that begins at zero there
TEN_MINUTES, TWELVE_HOURS = 600.0, 12 * 3600.0


class Board:
    """One line a second, of a tube that stands where it was put; the counts begin at ``zero``."""

    def __init__(self, tmp_path, encoders=True, zero=(0.0, 0.0)):
        self.clock = VirtualClock(1000.0, NIGHT.to_unix())
        self.book = Logbook.open(tmp_path / "logbook.sqlite3", clock=self.clock.real_unix)
        text = toml_for(self)
        self.zero, self.at, self.presses = np.array(zero), np.array([0.0, 90.0]), 0
        self.station = VirtualStation(
            lambda: Evening(
                self.book, self.clock.now, site=SCENE.site, kit_text=text, encoders=encoders
            ),
            self.clock,
        )

    def connection(self, _):
        return msgspec.structs.replace(SCENE.kit.connection, kind="tcp", host="127.0.0.1", port=9)

    async def __aenter__(self):
        await self.station.start()
        if not self.station.readings.typed:
            self.station.source.opened()
            self.line()
        return self

    async def __aexit__(self, *_):
        await self.station.readings.stop()
        self.book.close()

    def line(self):
        az, alt = np.round((self.at - self.zero) * TICKS).astype(int)
        self.station.source.heard(b"%+06d\t%+06d\r\n" % (az, alt))

    async def stand(self, seconds):
        for _ in range(round(seconds)):
            await self.station.go_to(self.clock.steady_s + 1.0)
            self.line()

    def truth(self, name, ahead=0.0):
        now = Instant.from_unix(self.clock.real_unix() + ahead)
        az, alt = np.radians(place_of(lookup.find_target(name), now, SCENE.site))
        d = kinematics.unit(float(az), float(alt))
        return np.degrees(kinematics.reading_of(d, SCENE.hidden))

    async def push_to(self, name):
        goal = self.truth(name, 22.0)
        goal[0] = self.at[0] + (goal[0] - self.at[0] + 180.0) % 360.0 - 180.0
        await self.push(goal)

    async def push(self, goal):
        """As a hand does, in 20 seconds, and lets go."""
        here = self.at
        for k in range(1, 21):
            self.at = here + (goal - here) * k / 20.0
            await self.stand(1)
        await self.stand(2)

    async def do(self, name, /, **body):
        return await self.station.act(name, json.dumps(body).encode())

    async def tap(self, star, ago_s=0.0, **more):
        self.presses += 1
        press = f"press-{self.presses:04d}"
        return await self.do("sight", star=star, id=press, ago_ms=1000.0 * ago_s, **more)

    async def state(self):
        return json.loads(await self.station.snapshot())


@asynchronous
async def test_with_encoders_a_tap_is_read_as_of_its_moment_for_ten_minutes(tmp_path):
    async with Board(tmp_path) as b:
        assert (await b.state())["kit"]["presses_kept_s"] == TEN_MINUTES
        await b.push_to("Capella")
        tapped, stood = b.clock.now(), b.station.readings.latest
        await b.push_to("Rigel")  # the tube has gone on meanwhile
        await b.stand(TEN_MINUTES - 22 - 2)
        done = await b.tap("Capella", TEN_MINUTES - 2)
        (one,) = b.station.evening.sightings.all
        assert one.id == done.sighting_id
        assert abs(one.sighting.utc.minus(tapped)) < 0.01
        assert one.sighting.az_reading_deg == pytest.approx(stood.az_deg, abs=0.05)
        assert one.sighting.alt_reading_deg == pytest.approx(stood.alt_deg, abs=0.05)
        with pytest.raises(UserError, match="10 minutes old, and readings are kept for 10"):
            await b.tap("Capella", TEN_MINUTES + 5)
        assert len(b.station.evening.sightings.all) == 1


@asynchronous
async def test_with_typed_readings_a_tap_may_come_half_a_night_late(tmp_path):
    assert LONGEST_AGO_MS == 1000 * TWELVE_HOURS
    async with Board(tmp_path, encoders=False) as b:
        assert (await b.state())["kit"]["presses_kept_s"] == TWELVE_HOURS
        az, alt = (round(float(x), 2) for x in b.truth("Capella"))
        tapped = b.clock.now()
        await b.station.go_to(b.clock.steady_s + TWELVE_HOURS)
        reading = {"az_deg": az, "alt_deg": alt}
        done = await b.tap("Capella", TWELVE_HOURS - 1, reading=reading)
        assert done.sighting_id is not None
        (one,) = b.station.evening.sightings.all
        assert one.sighting.utc.minus(tapped) == pytest.approx(1.0, abs=0.01)
        with pytest.raises(UserError, match="ago_ms"):
            await b.tap("Rigel", TWELVE_HOURS + 1, reading=reading)
        assert len(b.station.evening.sightings.all) == 1


@asynchronous
async def test_what_was_centred_before_the_stop_was_told_is_kept_and_read_by_it(tmp_path):
    async with Board(tmp_path, zero=ON_THE_STOP) as b:
        await b.push_to("Capella")
        tapped = b.clock.now()
        assert (await b.tap("Capella")).asked
        (asked,) = (await b.state())["doubts"]
        assert (asked["stop_untold"], asked["yes"], asked["typed"]) == (True, "", False)
        assert re.match(
            r"By the encoders the tube was \d\d° below level, and Capella stood 74° up: it was "
            "another star, or the encoders do not know where the upright stop is. The tap is kept",
            asked["sentence"],
        )
        with pytest.raises(UserError, match="do not know where the upright stop is"):
            await b.do("answer_doubt", id="press-0001", save=True)
        await b.push_to("Rigel")
        assert (await b.tap("?")).asked  # a star that nobody knows, too
        second = (await b.state())["doubts"][1]
        assert "below level, where no star is: they do not know" in second["sentence"]
        assert b.station.evening.sightings.all == ()

        await b.push(np.array([b.at[0], 90.0]))
        await b.do("tube_on_stop")
        s = await b.state()
        assert s["doubts"] == []
        assert [m["text"] for m in s["messages"]] == [
            "Saved as of the tap: Capella, a bright star."
        ]
        one = b.station.evening.sightings.all[0].sighting
        assert one.star == "Capella"
        assert abs(one.utc.minus(tapped)) < 0.01
        assert one.alt_reading_deg == pytest.approx(74.0, abs=3.0)

        # And one that was on its way all the time: it is read by the stop as well.
        assert (await b.tap("Capella", b.clock.now().minus(tapped))).sighting_id is not None
        *_, late = b.station.evening.sightings.all
        assert late.sighting.alt_reading_deg == pytest.approx(one.alt_reading_deg, abs=1e-9)


@asynchronous
async def test_a_count_that_was_lost_after_such_a_tap_takes_it_along(tmp_path):
    async with Board(tmp_path, zero=ON_THE_STOP) as b:
        await b.push_to("Capella")
        await b.tap("Capella")
        b.station.source.lost("the cable is out.")
        await b.station.go_to(b.clock.steady_s + 5.0)
        b.station.source.opened()
        b.zero = b.at.copy()  # power lost: it begins where the tube is
        await b.stand(4)
        assert b.station.readings.latest.slips_before
        await b.do("tube_on_stop")
        s = await b.state()
        assert (s["doubts"], s["sightings"]) == ([], [])
        assert "Capella: not saved. The encoders lost their place" in s["messages"][-1]["text"]


@asynchronous
async def test_the_stop_is_told_though_a_tap_kept_for_it_is_refused(tmp_path):
    """The site was put right meanwhile, and there the star was down."""
    async with Board(tmp_path, zero=ON_THE_STOP) as b:
        await b.push_to("Rigel")
        assert (await b.tap("Rigel")).asked
        await b.do("set_site", lat_deg=47.2, lon_deg=-150.0)
        await b.push(np.array([b.at[0], 90.0]))
        await b.do("tube_on_stop")
        s = await b.state()
        assert (s["doubts"], s["sightings"]) == ([], [])
        assert s["stop"]["sentence"].startswith("The tube was on the upright stop at ")
        assert [m["text"] for m in s["messages"]] == [
            "The stop is told, but the tap on Rigel is not saved. Rigel is 51 degrees below the "
            "horizon. Check which star it was, the site, and the computer's clock (UTC)."
        ]
        await b.stand(1)
        assert b.station.readings.latest.alt_deg == pytest.approx(90.0, abs=0.1)
        kept = b.station.evening.counts.kept()
        assert kept.zero_deg == b.station.readings.counts().zero_deg
        again = await b.do("sight", star="Rigel", id="press-0001", ago_ms=25_000.0)
        assert (again.again, again.sighting_id) == (True, None)  # sent once more


@asynchronous
async def test_a_refused_tap_begins_no_outing(tmp_path):
    """Straight up nothing is centred: the tube is on its stop still."""
    async with Board(tmp_path) as b:
        await b.stand(3)
        with pytest.raises(UserError, match="straight up"):
            await b.tap("?")
        assert not b.book.outings()
        await b.push_to("Capella")
        assert (await b.tap("Capella")).sighting_id is not None
        assert len(b.book.outings()) == 1
