"""The protocol's port within this process, with a client library of the protocol that others wrote
(indipyclient), and with bare sockets for what no library would send."""

from __future__ import annotations

import asyncio
import contextlib
import re
import socket

import numpy as np
import pytest
from indipyclient import IPyClient

import patience
from plumbstar.sky import ofdate
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.web.door import connections
from plumbstar.web.indi import serving
from plumbstar.web.indi.serving import IndiServer
from plumbstar.web.programs.allowed import Allowed

from .server_rig import DAY, SCENE, asynchronous, board, centre, evening_clock, live, rig, toml_for

EQUATORIAL, ON_COORD = "EQUATORIAL_EOD_COORD", "ON_COORD_SET"


@pytest.fixture(autouse=True)
def told_quickly(monkeypatch):
    monkeypatch.setattr(serving, "TELL_S", 0.05)


class Charting(IPyClient):
    """A planetarium program. It keeps each sentence and each state that it was told."""

    def __init__(self, port):
        super().__init__("127.0.0.1", port)
        self.enable_reports = False
        self.heard = []

    async def rxevent(self, event):
        v = getattr(event, "vectorname", None)
        state = self[event.devicename][v].state if v and v in self.get("Plumbstar", {}) else None
        said = event.root.get("message") if getattr(event, "root", None) is not None else None
        self.heard.append((event.eventtype, v, state, said))

    async def until(self, wanted):
        async with asyncio.timeout(patience.SECONDS):
            while not (got := wanted()):
                await asyncio.sleep(0.01)
        return got

    def has(self, name):
        return name in self.get("Plumbstar", {})

    async def write(self, name, **members):
        """Write it; the first answer in words, or the state told next: (state, sentence)."""
        before, quiet = len(self.heard), ("CONNECTION", ON_COORD)
        await self.send_newVector("Plumbstar", name, members=members)

        def answered():
            return [
                (state, said)
                for kind, v, state, said in self.heard[before:]
                if v == name and kind.startswith("Set") and (said or name in quiet)
            ]

        return (await self.until(answered))[0]

    async def connect(self):
        await self.until(lambda: self.has("CONNECTION"))
        await self.write("CONNECTION", CONNECT="On")
        await self.until(lambda: self.has(ON_COORD))

    def place(self):
        v = self["Plumbstar"][EQUATORIAL]
        return v.getfloatvalue("RA"), v.getfloatvalue("DEC")


class Rigged:
    """The rig, the port beside it, and what speaks to that."""

    def __init__(self, r, server):
        self.r, self.server = r, server

    @contextlib.asynccontextmanager
    async def program(self, connect=True):
        c = Charting(self.server.port)
        running = asyncio.create_task(c.asyncrun())
        try:
            if connect:
                await c.connect()
            yield c
        finally:
            c.shutdown()
            await running

    def of_date(self, name):
        """Hours and degrees of date, by another way than the server's."""
        now = self.r.station.clock.now()
        az, alt = place_of(lookup.find_target(name), now, SCENE.site)
        ra, dec = np.degrees(ofdate.from_horizon(az, alt, now, SCENE.site))
        return {"RA": float(ra) / 15.0 % 24.0, "DEC": float(dec)}

    async def raw(self, sent, *, answer=b""):
        """Send bytes on a bare line, and read until the answer came or it was closed."""
        reader, writer = await asyncio.open_connection("127.0.0.1", self.server.port)
        got = b""
        with contextlib.closing(writer):
            writer.write(sent)
            async with asyncio.timeout(patience.SECONDS):
                while not (answer and answer in got):
                    try:
                        more = await reader.read(65536)
                    except ConnectionError:
                        break
                    if not more:
                        break
                    got += more
        return got.decode()


@contextlib.asynccontextmanager
async def indi(tmp_path, *args, slews=False, allow=(), **more):
    async with rig(tmp_path, *args, **more) as r:
        sock = socket.create_server(("127.0.0.1", 0))
        server = IndiServer(sock, Allowed.parse(allow, "--indi-allow"), slews)
        await server.start(r.station, None)
        try:
            yield Rigged(r, server)
        finally:
            await server.stop()


# ---- an evening ------------------------------------------------------------------------------


@asynchronous
async def test_an_evening_from_a_planetarium(tmp_path, quick_hands):
    async with (
        board() as sim,
        indi(tmp_path, slews=True, kit_text=toml_for(sim), times=evening_clock()) as i,
        i.program(connect=False) as c,
    ):
        r = i.r
        await live(r)
        await c.until(lambda: c.has("CONNECTION"))
        device = c["Plumbstar"]
        assert device["CONNECTION"]["DISCONNECT"] == "On"
        assert device["DRIVER_INFO"]["DRIVER_INTERFACE"] == "1"
        assert set(device) == {"CONNECTION", "DRIVER_INFO"}
        await c.connect()
        site = device["GEOGRAPHIC_COORD"]
        assert [site.getfloatvalue(x) for x in ("LAT", "LONG", "ELEV")] == [47.2, 11.6, 940.0]
        assert device["TELESCOPE_INFO"].getfloatvalue("TELESCOPE_APERTURE") == 280.0
        assert device["TIME_UTC"]["UTC"].startswith(r.station.clock.now().iso(0)[:13])
        # Nobody knows where it points: there is no place that a chart could draw.
        assert not c.has(EQUATORIAL)
        assert not c.has("HORIZONTAL_COORD")

        await centre(r, sim, "Capella")
        await r.do("sight", star="Capella", id=r.press())
        await c.until(lambda: c.has(EQUATORIAL))
        await c.write(ON_COORD, SYNC="On")
        for name in ("Rigel", "Pollux", "Alpheratz"):
            await centre(r, sim, name)
            state, said = await c.write(EQUATORIAL, **i.of_date(name))
            assert (state, said) == ("Ok", "It is recorded as a sighting.")
        sightings = (await r.state())["sightings"]
        assert [s["star"] for s in sightings] == ["Capella", "Rigel", "Pollux", "Alpheratz"]
        assert {s["origin"] for s in sightings} == {"encoders"}

        # A slew is a push: under way until the tube is there.
        await c.write(ON_COORD, TRACK="On")
        state, said = await c.write(EQUATORIAL, **i.of_date("Betelgeuse"))
        assert state == "Busy"
        assert "push there by hand" in said
        assert (await r.state())["target"]["label"] == "Betelgeuse"
        await centre(r, sim, "Procyon")
        await c.until(lambda: abs(c.place()[0] - i.of_date("Procyon")["RA"]) < 0.05)
        assert device[EQUATORIAL].state == "Busy"
        await centre(r, sim, "Betelgeuse")
        await c.until(lambda: device[EQUATORIAL].state == "Ok")

        # Four sightings, one tick 0.04 deg: the place told is within the widest field's half.
        # (Ok comes as the field reaches it; the place at rest is told a moment later.)
        def off_deg():
            here, (ra, dec) = i.of_date("Betelgeuse"), c.place()
            return np.hypot((ra - here["RA"]) * 15.0 * np.cos(np.radians(dec)), dec - here["DEC"])

        await c.until(lambda: off_deg() < 0.3)
        az, alt = place_of(lookup.find_target("Betelgeuse"), r.station.clock.now(), SCENE.site)
        told = device["HORIZONTAL_COORD"]
        assert abs(told.getfloatvalue("ALT") - alt) < 0.3
        assert abs(told.getfloatvalue("AZ") - az) * np.cos(np.radians(alt)) < 0.3

        # Another one, given up: the target stays on the phone.
        assert (await c.write(EQUATORIAL, **i.of_date("Sirius")))[0] == "Busy"
        _, said = await c.write("TELESCOPE_ABORT_MOTION", ABORT="On")
        assert said == "The target stays on the phone."
        await c.until(lambda: device[EQUATORIAL].state == "Ok")
        assert (await r.state())["target"]["label"] == "Sirius"
        sent = device["TARGET_EOD_COORD"].getfloatvalue("DEC")
        assert abs(sent - i.of_date("Sirius")["DEC"]) < 1e-4

        # A board that falls silent: the last place, marked; then it is there again.
        sim.command({"silent": 2})
        await c.until(lambda: device[EQUATORIAL].state == "Alert")
        await c.until(lambda: device[EQUATORIAL].state == "Ok")

        # A new outing: nobody knows again.
        await r.do("end_outing")
        await r.do("start_outing")
        await c.until(lambda: EQUATORIAL not in [n for n, v in device.items() if v.enable])
        await c.write("CONNECTION", DISCONNECT="On")
        await c.until(lambda: not device[ON_COORD].enable)


@asynchronous
async def test_where_something_may_have_slipped_or_moved_the_place_is_marked(tmp_path):
    """The last one that was known, and in alarm; never one by a fix that may not hold."""
    async with (
        board(55.0) as sim,
        indi(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as i,
        i.program() as c,
    ):
        r, device = i.r, c["Plumbstar"]
        await live(r)
        await c.write(ON_COORD, SYNC="On")

        async def sync(name):
            await centre(r, sim, name)
            assert (await c.write(EQUATORIAL, **i.of_date(name)))[0] == "Ok"

        def states():
            return device[EQUATORIAL].state, device["HORIZONTAL_COORD"].state

        async def told(name):
            await c.until(lambda: states() == ("Ok", "Ok"))
            await c.until(lambda: abs(c.place()[1] - i.of_date(name)["DEC"]) < 0.3)

        async def marked():
            await c.until(lambda: states() == ("Alert", "Alert"))
            before = c.place()
            await centre(r, sim, "Sirius")
            await asyncio.sleep(5 * serving.TELL_S)
            assert states() == ("Alert", "Alert")
            assert c.place() == before

        await centre(r, sim, "Capella")
        await r.do("sight", star="Capella", id=r.press())
        await c.until(lambda: c.has(EQUATORIAL))
        for name in ("Rigel", "Alpheratz"):
            await sync(name)
        await told("Alpheratz")
        await r.do("base_moved")
        await marked()
        # To a program that comes only now as well.
        async with i.program() as other:
            await other.until(lambda: other.has(EQUATORIAL))
            assert other["Plumbstar"][EQUATORIAL].state == "Alert"
        for name in ("Capella", "Pollux"):
            await sync(name)
        await told("Pollux")
        sim.command({"slip_deg": [30.0, 0.0]})
        await marked()
        await sync("Rigel")
        await told("Rigel")


@asynchronous
async def test_a_refused_slew_is_never_a_sighting(tmp_path):
    """It would be one if the switch stayed at SYNC and the coordinates came all the same."""
    async with indi(tmp_path) as i, i.program() as c:
        for name in ("Capella", "Rigel"):
            await i.r.sight(name)
        await c.until(lambda: c.has(EQUATORIAL))
        assert set(c["Plumbstar"][ON_COORD]) == {"SYNC"}
        assert "TELESCOPE_ABORT_MOTION" not in c["Plumbstar"]
        # Nothing chosen yet.
        _, (az, alt) = i.r.truth("Pollux")
        await i.r.do("typed_reading", az_deg=az, alt_deg=alt)
        state, said = await c.write(EQUATORIAL, **i.of_date("Pollux"))
        assert state == "Alert"
        assert "Nothing was done" in said
        await c.write(ON_COORD, SYNC="On")
        place = i.of_date("Pollux")
        coordinates = (
            f'<newNumberVector device="Plumbstar" name="{EQUATORIAL}"><oneNumber name="RA">'
            f'{place["RA"]}</oneNumber><oneNumber name="DEC">{place["DEC"]}</oneNumber>'
            "</newNumberVector>"
        )
        switch = (
            '<newSwitchVector device="Plumbstar" name="{}"><oneSwitch name="{}">On</oneSwitch>'
            "</newSwitchVector>"
        )
        hello = '<getProperties version="1.7"/>' + switch.format("CONNECTION", "CONNECT")
        for slew in ("TRACK", "SLEW", "PARK"):
            # On a line of its own: what one program chose is not the other's.
            sent = hello + switch.format(ON_COORD, "SYNC") + switch.format(ON_COORD, slew)
            got = await i.raw((sent + coordinates).encode(), answer=b"Nothing was done")
            assert "Nothing was done" in got
            assert ("--indi-slew-sets-target" in got) == (slew != "PARK")
        assert [s["star"] for s in (await i.r.state())["sightings"]] == ["Capella", "Rigel"]
        assert (await i.r.state())["target"] is None
        # The first program's own choice still holds.
        assert (await c.write(EQUATORIAL, **i.of_date("Pollux")))[0] == "Ok"
        assert (await i.r.state())["sightings"][-1]["star"] == "Pollux"


@asynchronous
async def test_the_suns_rules_are_those_of_every_program(tmp_path):
    async with indi(tmp_path, DAY, slews=True) as i:
        await i.r.do("set_target", name="M 42")
        # There is no fix, so no property; a program may write without looking.
        hello = (
            '<getProperties version="1.7"/><newSwitchVector device="Plumbstar" name="CONNECTION">'
            '<oneSwitch name="CONNECT">On</oneSwitch></newSwitchVector>'
        )

        async def send(mode, name):
            place = i.of_date(name)
            text = (
                f'{hello}<newSwitchVector device="Plumbstar" name="{ON_COORD}"><oneSwitch '
                f'name="{mode}">On</oneSwitch></newSwitchVector><newNumberVector '
                f'device="Plumbstar" name="{EQUATORIAL}"><oneNumber name="RA">{place["RA"]}'
                f'</oneNumber><oneNumber name="DEC">{place["DEC"]}</oneNumber></newNumberVector>'
            )
            got = await i.raw(text.encode(), answer=b"<message ")
            return re.search('<message .*message="([^"]*)"', got)[1]

        for mode in ("SLEW", "TRACK"):
            for name in ("Sun", "Venus", "Vega"):
                assert "Sun" in await send(mode, name)
        assert "Cap the tube" in await send("SYNC", "Sun")
        s = await i.r.state()
        assert s["target"]["label"].startswith("M 42")
        assert not s["sightings"]
        # It was the Sun, and not the asking: with the filter on, the same target is taken.
        await i.r.do("confirm_filter", confirmed=True)
        assert "push there by hand" in await send("SLEW", "Vega")
        assert (await i.r.state())["target"]["label"] == "Vega"


@asynchronous
async def test_what_cannot_be_written_is_refused_in_words(tmp_path):
    async with indi(tmp_path) as i, i.program() as c:
        state, said = await c.write("TIME_UTC", UTC="2027-01-28T03:00:00", OFFSET="0")
        assert (state, said) == ("Alert", "The time is that of the computer that runs Plumbstar.")
        state, said = await c.write("TIME_UTC", UTC="yesterday", OFFSET="0")
        assert state == "Alert"
        assert "yesterday" in said
        head = '<getProperties version="1.7"/><newNumberVector device="Plumbstar" name="'
        assert "Not connected" in await i.raw(
            f'{head}{EQUATORIAL}"/>'.encode(), answer=b"Not connected"
        )
        connect = (
            '<newSwitchVector device="Plumbstar" name="CONNECTION"><oneSwitch name="CONNECT">On'
            "</oneSwitch></newSwitchVector>"
        )
        for sent, wanted in (
            ('<newNumberVector device="Plumbstar" name="GEOGRAPHIC_COORD"/>', "Prepare page"),
            ('<newSwitchVector device="Plumbstar" name="TELESCOPE_PARK"/>', "TELESCOPE_PARK"),
            (
                f'<newSwitchVector device="Plumbstar" name="{ON_COORD}"><oneSwitch name="SYNC">On'
                f'</oneSwitch></newSwitchVector><newNumberVector device="Plumbstar" '
                f'name="{EQUATORIAL}"><oneNumber name="RA">24.1</oneNumber></newNumberVector>',
                "RA &apos;24.1&apos;, DEC &apos;&apos;",
            ),
        ):
            got = await i.raw((connect + sent).encode(), answer=wanted.encode())
            assert wanted in got


# ---- the line --------------------------------------------------------------------------------


@asynchronous
async def test_what_is_no_protocol_is_cut_and_does_nothing(tmp_path):
    async with indi(tmp_path, slews=True) as i:
        order = b'<newSwitchVector device="Plumbstar" name="CONNECTION"/>'
        for sent in (
            # What a browser can be made to send by a page of another site.
            b"POST / HTTP/1.1\r\nHost: 127.0.0.1:7624\r\n\r\n" + order,
            b"\x16\x03\x01\x02\x00\x01",
            b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>',
            b"<getProperties>&lol;</getProperties>",
            b'<newBLOBVector device="Plumbstar" name="CCD1"><oneBLOB name="a" size="9">',
            b"<getProperties " + b"x" * 20_000,
            b"<newTextVector>" + b"<oneText>" * 3000,
        ):
            got = await i.raw(sent)
            assert "The line is closed: " in got, sent[:40]
            assert "defSwitchVector" not in got


@asynchronous
async def test_slow_silent_and_broken_programs_hold_up_nobody(tmp_path, monkeypatch):
    monkeypatch.setattr(connections, "HEAD_S", 0.2)
    monkeypatch.setattr(connections, "BODY_S", 0.2)
    monkeypatch.setattr(connections, "ANSWER_S", 0.5)
    async with indi(tmp_path) as i, i.program() as c:
        assert await i.raw(b"") == ""  # asks nothing
        hello = b'<getProperties version="1.7"/>'
        assert "defTextVector" in await i.raw(hello + b"<newNumberVector device=")  # never ends

        # One that asks and asks, and reads nothing: its line is cut, and memory is bounded.
        greedy = socket.create_connection(("127.0.0.1", i.server.port))
        greedy.setblocking(False)
        sent = 0
        with contextlib.closing(greedy):
            async with asyncio.timeout(patience.SECONDS):
                while True:
                    try:
                        sent += greedy.send(hello * 100)
                    except BlockingIOError:
                        await asyncio.sleep(0.01)
                    except ConnectionError:
                        break
                    await asyncio.sleep(0)
        # Meanwhile and after it the others are told as before.
        first = c["Plumbstar"]["TIME_UTC"]["UTC"]
        i.r.times.go(60.0)
        await c.until(lambda: c["Plumbstar"]["TIME_UTC"]["UTC"] != first)
        await c.until(lambda: len(i.server._sessions) == 1)


@asynchronous
async def test_many_programs_at_a_time(tmp_path):
    async with indi(tmp_path) as i:
        for name in ("Capella", "Rigel"):
            await i.r.sight(name)
        async with contextlib.AsyncExitStack() as all_of_them:
            programs = [await all_of_them.enter_async_context(i.program()) for _ in range(6)]
            _, (az, alt) = i.r.truth("Pollux")
            await i.r.do("typed_reading", az_deg=az, alt_deg=alt)
            wanted = i.of_date("Pollux")
            for c in programs:
                await c.until(lambda c=c: abs(c.place()[1] - wanted["DEC"]) < 0.5)
            # Lines that ask nothing take no places of those that do.
            idle = [
                socket.create_connection(("127.0.0.1", i.server.port))
                for _ in range(serving.MOST + 5)
            ]
            await programs[0].until(lambda: len(i.server._sessions) >= serving.MOST - 1)
            async with i.program() as late:
                await late.until(lambda: late.has(EQUATORIAL))
            assert all(c.connected for c in programs)
            for line in idle:
                line.close()
            await programs[0].until(lambda: len(i.server._sessions) == 6)


@asynchronous
async def test_a_computer_that_was_not_allowed_is_told_how(tmp_path, monkeypatch):
    from plumbstar.web.programs import allowed

    async with indi(tmp_path, allow=["192.168.7.0/24"]) as i:
        monkeypatch.setattr(allowed, "is_loopback", lambda address: False)
        got = await i.raw(b'<getProperties version="1.7"/>')
        assert "--indi-allow 127.0.0.1" in got
        assert "defTextVector" not in got
