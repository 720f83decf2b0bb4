"""The device within this process: the standard's forms to the letter, the door, sync and target."""

from __future__ import annotations

import asyncio
import contextlib
import inspect
import re
from dataclasses import replace
from types import SimpleNamespace
from urllib.parse import quote

import alpaca.device
import alpaca.telescope
import httpx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.logbook.records import NotSaved
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.sky import ofdate
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve
from plumbstar.web.alpaca import device, parameters
from plumbstar.web.alpaca.app import make_alpaca
from plumbstar.web.alpaca.discovery import QUESTION, Discovery
from plumbstar.web.alpaca.errors import Malformed, numbered
from plumbstar.web.alpaca.identity import unique_id
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.sessions import Sessions
from plumbstar.web.programs import pointing
from plumbstar.web.programs.allowed import Allowed
from plumbstar.web.programs.refused import Refused
from samples import tries

from .server_rig import DAY, NIGHT, SCENE, asynchronous, rig

ARCSEC = 1.0 / 3600.0
PORT = 11111


class Chart:
    """A charting program: GET and PUT, and what came back."""

    def __init__(self, client, r):
        self.client, self.r = client, r

    async def get(self, member, status=200, **query):
        got = await self.client.get(f"/api/v1/telescope/0/{member}", params=query)
        assert got.status_code == status, (member, got.status_code, got.text)
        return got.json() if status == 200 else got.text

    async def put(self, member, status=200, **form):
        got = await self.client.put(f"/api/v1/telescope/0/{member}", data=form)
        assert got.status_code == status, (member, got.status_code, got.text)
        return got.json() if status == 200 else got.text

    async def value(self, member):
        answer = await self.get(member)
        assert answer["ErrorNumber"] == 0, answer
        return answer["Value"]

    async def of_date(self, name):
        """Right ascension in hours and declination in degrees, seen from the ridge now."""
        now = Instant.from_unix(self.r.times.t)
        az, alt = place_of(lookup.find_target(name), now, SCENE.site)
        ra, dec = ofdate.from_horizon(az, alt, now, SCENE.site)
        return {"RightAscension": np.degrees(ra) / 15.0, "Declination": np.degrees(dec)}

    async def point(self, name):
        """The circles show what they would if that were centred."""
        _, (az, alt) = self.r.truth(name)
        await self.r.do("typed_reading", az_deg=az, alt_deg=alt)


@contextlib.asynccontextmanager
async def chart(tmp_path, *, peer="127.0.0.1", host="127.0.0.1", allow=(), names=(), slews=False,
                connect=True, headers=None, **more):  # fmt: skip
    """The rig with a device beside it, and a program that speaks to that."""
    async with rig(tmp_path, **more) as r:
        names = frozenset({"127.0.0.1", "localhost", "::1", *names})
        gate = Gate(names, PORT, False, Sessions(b"k" * 32))
        app = make_alpaca(
            r.station, gate, Allowed.parse(allow, "--alpaca-allow"), "an-id", slew_sets_target=slews
        )
        transport = httpx.ASGITransport(app, client=(peer, 40000), raise_app_exceptions=False)
        async with httpx.AsyncClient(
            transport=transport, base_url=f"http://{host}:{PORT}", headers=headers
        ) as client:
            c = Chart(client, r)
            if connect:
                await c.put("connected", Connected="True", ClientID="7")
            yield c


# ---- forms -------------------------------------------------------------------------------------


def test_every_member_of_the_interface_is_there():
    """The list is the standard's own client's: each route that it calls for a telescope."""
    source = inspect.getsource(alpaca.telescope) + inspect.getsource(alpaca.device)
    gets = set(re.findall(r'_get\(\s*f?"(\w+)"', source))
    puts = set(re.findall(r'_put\(\s*f?"(\w+)"', source))
    version_4 = {"connecting", "connect", "disconnect", "devicestate"}
    assert len(gets) > 50
    assert gets - version_4 == set(device.GETS) | set(device.COMMON)
    # The three slews that wait are in the standard, but that client leaves them out.
    waiting = {"slewtocoordinates", "slewtotarget", "slewtoaltaz"}
    assert puts - version_4 == set(device.PUTS) - waiting


@asynchronous
async def test_the_envelope(tmp_path):
    async with chart(tmp_path) as c:
        first = await c.get("canslew", clientid="3", CLIENTTRANSACTIONID="4294967295")
        assert first == {
            "Value": False,
            "ClientTransactionID": 4294967295,
            "ServerTransactionID": first["ServerTransactionID"],
            "ErrorNumber": 0,
            "ErrorMessage": "",
        }
        second = await c.put("abortslew", ClientID="3", clienttransactionid="12")
        assert second == {
            "ClientTransactionID": 12,
            "ServerTransactionID": first["ServerTransactionID"] + 1,
            "ErrorNumber": 0,
            "ErrorMessage": "",
        }
        refused = await c.put("park", ClientTransactionID="13")
        assert (refused["ErrorNumber"], refused["ClientTransactionID"]) == (0x400, 13)
        assert "by hand" in refused["ErrorMessage"]
        assert "Value" not in await c.get("sideofpier")
        plain = await c.get("canslew")
        assert plain["ClientTransactionID"] == 0
        asked_axis = await c.get("CANMOVEAXIS".lower(), aXiS="1")
        assert asked_axis["Value"] is False
        assert (await c.get("canmoveaxis", Axis="3"))["ErrorNumber"] == 0x401
        management = (await c.client.get("/management/apiversions?ClientTransactionID=5")).json()
        assert (management["Value"], management["ClientTransactionID"]) == ([1], 5)


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("GET", "/api/v1/telescope/0/nothing", None),
        ("GET", "/api/v1/telescope/0/CanSlew", None),
        ("GET", "/api/v1/telescope/1/canslew", None),
        ("GET", "/api/v1/telescope/A/canslew", None),
        ("GET", "/api/v1/Telescope/0/canslew", None),
        ("GET", "/api/v1/camera/0/canslew", None),
        ("GET", "/api/v2/telescope/0/canslew", None),
        ("GET", "/api/v1/telescope/0", None),
        ("GET", "/api/v1/telescope/0/synctotarget", None),
        ("PUT", "/api/v1/telescope/0/altitude", b""),
        ("GET", "/api/v1/telescope/0/canslew?ClientID=x", None),
        ("GET", "/api/v1/telescope/0/canslew?ClientTransactionID=-1", None),
        ("GET", "/api/v1/telescope/0/canslew?ClientTransactionID=4294967296", None),
        ("GET", "/api/v1/telescope/0/canslew?ClientTransactionID=1.5", None),
        ("GET", "/api/v1/telescope/0/canslew?x=%FF", None),
        ("GET", "/api/v1/telescope/0/canmoveaxis", None),
        ("GET", "/api/v1/telescope/0/canmoveaxis?Axis=", None),
        ("GET", "/api/v1/telescope/0/canmoveaxis?Axis=one", None),
        ("PUT", "/api/v1/telescope/0/connected", b""),
        ("PUT", "/api/v1/telescope/0/connected", b"connected=True"),
        ("PUT", "/api/v1/telescope/0/connected", b"Connected=yes"),
        ("PUT", "/api/v1/telescope/0/connected?Connected=True", b""),
        ("PUT", "/api/v1/telescope/0/targetdeclination", b"TargetDeclination=north"),
        ("PUT", "/api/v1/telescope/0/targetdeclination", b"TargetDeclination=nan"),
        ("PUT", "/api/v1/telescope/0/targetdeclination", b"TargetDeclination=1,5"),
        ("PUT", "/api/v1/telescope/0/targetdeclination", b"TargetDeclination=1_0"),
        ("PUT", "/api/v1/telescope/0/targetdeclination", b"TargetDeclination=1&" * 2),
        ("PUT", "/api/v1/telescope/0/synctocoordinates", b"RightAscension=1"),
        ("PUT", "/api/v1/telescope/0/synctocoordinates", b"a=1&" * 60),
    ],
)  # fmt: skip
@asynchronous
async def test_a_malformed_request_is_400_with_a_sentence(tmp_path, method, path, body):
    async with chart(tmp_path) as c:
        form = {"content-type": "application/x-www-form-urlencoded"} if body is not None else {}
        got = await c.client.request(method, path, content=body, headers=form)
        assert got.status_code == 400
        assert got.headers["content-type"].startswith("text/plain")
        assert got.text.endswith(".")
        assert "Traceback" not in got.text
        with_json = await c.client.put("/api/v1/telescope/0/connected", json={"Connected": True})
        assert with_json.status_code == 400


@asynchronous
async def test_a_body_too_large_is_413_whether_announced_or_not(tmp_path):
    async def pieces():
        for _ in range(7):
            yield b"&" * 10_000

    async with chart(tmp_path) as c:
        form = {"content-type": "application/x-www-form-urlencoded"}
        for body in (b"&" * 70_000, pieces()):
            got = await c.client.put(
                "/api/v1/telescope/0/synctocoordinates", content=body, headers=form
            )
            assert (got.status_code, got.text) == (413, "Send at most 64 kB.")
            assert got.headers["connection"] == "close"


@given(st.binary(max_size=60), st.booleans())
@settings(max_examples=tries(50, 150), deadline=None)
def test_any_bytes_are_read_or_refused(raw, quoted):
    text = quote(raw).encode() if quoted else raw
    for read in (parameters.read_query, lambda b: parameters.read_form(b, parameters.FORM)):
        try:
            a = read(b"ClientID=5&Axis=" + text)
        except Malformed:
            continue
        assert 0 <= a.client <= 0xFFFFFFFF
        for take in (a.integer, a.number, a.flag, a.text):
            with contextlib.suppress(Malformed):
                take("Axis")


@asynchronous
async def test_connected_is_per_program(tmp_path):
    async with chart(tmp_path, connect=False) as c:
        assert not await c.value("connected")
        assert await c.value("interfaceversion") == 3
        assert (await c.get("rightascension"))["ErrorNumber"] == 0x407
        assert (await c.put("synctotarget"))["ErrorNumber"] == 0x407
        await c.put("connected", Connected="true", ClientID="1")
        await c.put("connected", Connected="TRUE", ClientID="2")
        await c.put("connected", Connected="False", ClientID="1")
        assert await c.value("connected")  # the other one still is
        await c.put("connected", Connected="False", ClientID="2")
        assert not await c.value("connected")
        for client in range(device.MOST_CLIENTS + 50):
            await c.put("connected", Connected="True", ClientID=str(client))
        assert len(c.r.station.hub) == 0


# ---- where it points ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Capella", "Rigel", "M 31", "Deneb", "Polaris"])
def test_the_place_told_is_that_of_the_star(name):
    """With the mount known, the place of date is the star's to the arcsecond.

    The way there goes by the horizon and the circles; the way back from the catalogue does not.
    """
    t = lookup.find_target(name)
    az, alt = place_of(t, NIGHT, SCENE.site)
    d = kinematics.unit(np.radians(az), np.radians(alt))
    reading = np.degrees(kinematics.reading_of(d, SCENE.hidden))
    r = Reading(float(reading[0]), float(reading[1]), state="live")
    seen = Sighting(name, az, alt, float(reading[0]), float(reading[1]), NIGHT)
    fix = replace(solve([seen], Priors.from_kit(SCENE.kit), Noise()), mean=SCENE.hidden)
    assert pointing.horizontal(r, fix) == pytest.approx((az, alt), abs=1e-6)
    ra, dec = pointing.equatorial(r, fix, SCENE.site, NIGHT)
    years = NIGHT.minus(Instant.parse("2000-01-01T12:00:00Z")) / 86400.0 / 365.25
    pm = np.array([getattr(t, "pm_ra_mas", 0.0), getattr(t, "pm_dec_mas", 0.0)]) * years / 3.6e6
    there = (
        t.ra_deg + pm[0] / np.cos(np.radians(t.dec_deg)),
        t.dec_deg + pm[1],
    )
    wanted = np.degrees(ofdate.from_icrs(*np.radians(there), NIGHT, SCENE.site))
    assert abs(ra * 15.0 - wanted[0]) * np.cos(np.radians(dec)) < 0.2 * ARCSEC
    assert abs(dec - wanted[1]) < 0.2 * ARCSEC


def test_a_silent_encoder_points_nowhere():
    fix = None
    for r in (Reading(), Reading(10.0, 20.0, state="stale", problem="no answer for 4 s")):
        with pytest.raises(Refused, match="No reading now") as e:
            pointing.horizontal(r, fix)
        assert numbered(e.value).number == 0x40B


@asynchronous
async def test_without_a_site(tmp_path):
    async with chart(tmp_path, site=None) as c:
        for member in ("siteelevation", "siderealtime"):
            assert (await c.get(member))["ErrorNumber"] == 0x40B
        got = await c.put("synctocoordinates", RightAscension="5", Declination="40")
        assert "Set the site first" in got["ErrorMessage"]


# ---- sync --------------------------------------------------------------------------------------


@asynchronous
async def test_a_sync_is_a_sighting(tmp_path):
    async with chart(tmp_path) as c:
        for name in ("Capella", "Rigel", "Alpheratz"):
            await c.point(name)
            got = await c.put("synctocoordinates", **await c.of_date(name))
            assert got["ErrorNumber"] == 0, got
        s = await c.r.state()
        assert [x["star"] for x in s["sightings"]] == ["Capella", "Rigel", "Alpheratz"]
        assert any("sighted from another program" in m["text"] for m in s["messages"])
        # The same one again is another sighting: nothing is taken for a repetition and lost.
        await c.point("Rigel")
        again = {"ClientID": "7", "ClientTransactionID": "1"}
        await c.put("synctocoordinates", **await c.of_date("Rigel"), **again)
        await c.point("Rigel")
        await c.put("synctocoordinates", **await c.of_date("Rigel"), **again)
        assert len((await c.r.state())["sightings"]) == 5


@asynchronous
async def test_a_sync_a_little_off_is_a_sighting_of_the_star_that_plainly_fits(tmp_path):
    async with chart(tmp_path) as c:
        await c.point("Capella")
        place = await c.of_date("Capella")
        place["Declination"] += 0.25
        assert (await c.put("synctocoordinates", **place))["ErrorNumber"] == 0
        # A program that sends J2000 as if it were of date: 0.2 to 0.4 degrees off.
        for name in ("Rigel", "Aldebaran", "Alpheratz"):
            star = lookup.find_target(name)
            await c.point(name)
            got = await c.put(
                "synctocoordinates", RightAscension=star.ra_deg / 15.0, Declination=star.dec_deg
            )
            assert got["ErrorNumber"] == 0, got
        s = await c.r.state()
        names = [x["star"] for x in s["sightings"]]
        assert names == ["Capella", "Rigel", "Aldebaran", "Alpheratz"]
        assert any("coordinates of date instead of J2000" in m["text"] for m in s["messages"])
        assert any("0.25° off" in m["text"] for m in s["messages"])


@asynchronous
async def test_a_sync_that_fits_no_star_records_nothing_and_says_who_is_near(tmp_path):
    async with chart(tmp_path) as c:
        await c.point("Mintaka")
        place = await c.of_date("Mintaka")
        place["Declination"] -= 0.5  # half way to the belt's next star, which is as bright
        got = await c.put("synctocoordinates", **place)
        assert got["ErrorNumber"] == 0x500
        assert "Mintaka 0.5° off" in got["ErrorMessage"]
        assert "Nothing was recorded" in got["ErrorMessage"]
        assert (await c.r.state())["sightings"] == []
        # The reading typed for it was not used up: the star itself, and it is a sighting.
        got = await c.put("synctocoordinates", **await c.of_date("Mintaka"))
        assert got["ErrorNumber"] == 0, got


@asynchronous
async def test_a_sync_on_a_target_without_a_name_is_a_find(tmp_path):
    async with chart(tmp_path, slews=True) as c:
        for name in ("Capella", "Rigel", "Alpheratz"):
            await c.r.sight(name)
        place = await c.of_date("Aldebaran")
        place["Declination"] += 3.0
        assert (await c.put("slewtocoordinatesasync", **place))["ErrorNumber"] == 0
        await c.point(await c.r.station.ask(lambda e: e.target.key))
        c.r.times.go(60.0)
        assert (await c.put("synctotarget"))["ErrorNumber"] == 0
        finds = await c.r.station.ask(lambda e: e.book.finds(e.outing.id))
        assert [f.found for f in finds] == [True]


@asynchronous
async def test_a_sync_on_the_present_target_is_a_find(tmp_path):
    async with chart(tmp_path) as c:
        for name in ("Capella", "Rigel", "Alpheratz"):
            await c.r.sight(name)
        await c.r.do("set_target", name="M 42")
        await c.point("M 42")
        assert (await c.put("synctocoordinates", **await c.of_date("M 42")))["ErrorNumber"] == 0
        book = await c.r.station.ask(lambda e: (e.book.finds(e.outing.id), e.sightings.all))
        assert [f.found for f in book[0]] == [True]
        assert len(book[1]) == 4


@asynchronous
async def test_a_sync_that_is_not_saved_says_so(tmp_path, monkeypatch):
    def full(*args, **more):
        raise NotSaved("the logbook, whose disk is full", "room", "Make room")

    async with chart(tmp_path) as c:
        await c.point("Capella")
        monkeypatch.setattr(c.r.book, "add_sighting", full)
        got = await c.put("synctocoordinates", **await c.of_date("Capella"))
        assert got["ErrorNumber"] == 0x500
        assert "disk is full" in got["ErrorMessage"]
        monkeypatch.undo()
        assert (await c.r.state())["sightings"] == []


@asynchronous
async def test_what_is_below_the_horizon_was_not_sighted(tmp_path):
    async with chart(tmp_path) as c:
        await c.point("Capella")
        got = await c.put("synctocoordinates", **await c.of_date("Antares"))
        assert got["ErrorNumber"] == 0x500
        assert "below the horizon" in got["ErrorMessage"]


# ---- a target ----------------------------------------------------------------------------------


async def _three(c):
    for name in ("Capella", "Rigel", "Alpheratz"):
        await c.r.sight(name)


@asynchronous
async def test_a_slew_that_waits_ends_when_it_was_pushed_there(tmp_path, monkeypatch):
    monkeypatch.setattr(device, "LOOK_S", 0.01)
    async with chart(tmp_path, slews=True) as c:
        await _three(c)
        waiting = asyncio.create_task(c.put("slewtocoordinates", **await c.of_date("Aldebaran")))
        while not await c.value("slewing"):
            await asyncio.sleep(0.01)
        assert (await c.r.state())["target"]["label"] == "Aldebaran"
        assert not waiting.done()
        await c.point("Aldebaran")
        assert (await waiting)["ErrorNumber"] == 0
        # Called off, taken over, and never pushed.
        for how in ("abort", "other", "late"):
            waiting = asyncio.create_task(c.put("slewtotarget" if how == "other" else
                                                "slewtocoordinates", **await c.of_date("Capella")
                                                if how != "other" else {}))  # fmt: skip
            while not await c.value("slewing"):
                await asyncio.sleep(0.01)
            if how == "abort":
                await c.put("abortslew")
            elif how == "other":
                await c.r.do("set_target", name="M 42")
            else:
                c.r.times.go(device.LONGEST_SLEW_S + 1.0)
            got = await waiting
            assert got["ErrorNumber"] == 0x40E, (how, got)
            assert not await c.value("slewing")


@asynchronous
async def test_by_day_a_target_is_refused_and_slewing_is_false(tmp_path):
    async with chart(tmp_path, start=DAY, slews=True) as c:
        got = await c.put("slewtocoordinatesasync", **await c.of_date("Vega"))
        assert got["ErrorNumber"] == 0x40B
        assert "Sun" in got["ErrorMessage"]
        assert not await c.value("slewing")
        got = await c.put("slewtocoordinatesasync", **await c.of_date("Sun"))
        assert got["ErrorNumber"] == 0x40B
        assert "never guides to the Sun" in got["ErrorMessage"]


@asynchronous
async def test_a_refused_slew_leaves_the_target_alone(tmp_path):
    async with chart(tmp_path) as c:
        await c.r.do("set_target", name="M 42")
        for member in ("slewtocoordinates", "slewtocoordinatesasync"):
            got = await c.put(member, **await c.of_date("Aldebaran"))
            assert got["ErrorNumber"] == 0x400
            assert "--alpaca-slew-sets-target" in got["ErrorMessage"]
        assert (await c.r.state())["target"]["label"].startswith("M 42")
        assert (await c.get("targetdeclination"))["ErrorNumber"] == 0x40B


# ---- the door ----------------------------------------------------------------------------------

LAN, OTHER = "192.168.7.20", "192.168.7.33"


@pytest.mark.parametrize(
    ("allow", "peer", "host", "status"),
    [
        ((), "127.0.0.1", "127.0.0.1", 200),
        ((), OTHER, LAN, 403),
        ((OTHER,), OTHER, LAN, 200),
        (("192.168.7.0/24",), OTHER, LAN, 200),
        (("192.168.8.0/24",), OTHER, LAN, 403),
        (("local",), OTHER, LAN, 200),
        (("local",), "8.8.4.4", LAN, 403),
        (("local",), "::ffff:192.168.7.33", LAN, 200),
        (("local",), OTHER, "evil.example", 421),  # a rebound name
        (("local",), "127.0.0.1", LAN, 403),  # a relay on this computer
        ((), "127.0.0.1", "evil.example", 421),
    ],
)
@asynchronous
async def test_who_is_let_in(tmp_path, allow, peer, host, status):
    async with chart(tmp_path, allow=allow, peer=peer, host=LAN, names=(LAN,), connect=False) as c:
        for method, path in (("GET", "/management/apiversions"), ("GET", "/setup"),
                             ("GET", "/api/v1/telescope/0/canslew")):  # fmt: skip
            at = {"host": f"{host}:{PORT}"}
            got = await c.client.request(method, path, headers=at)
            if path.startswith("/api") and status == 200:
                assert got.json()["ErrorNumber"] == 0x407
            assert got.status_code == status, (path, got.text)
            if status == 403 and peer == OTHER:
                assert f"--alpaca-allow {OTHER}" in got.text


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
@asynchronous
async def test_a_page_of_another_site_gets_nothing(tmp_path, headers):
    async with chart(tmp_path) as c:
        for method in ("GET", "PUT"):
            got = await c.client.request(
                method, "/api/v1/telescope/0/connected", headers=headers, data={"Connected": "True"}
            )
            assert got.status_code == 403
        # A browser asks this first, and is not told that it may.
        ask = {**headers, "Access-Control-Request-Method": "PUT"}
        got = await c.client.options("/api/v1/telescope/0/connected", headers=ask)
        assert got.status_code in (403, 405)
        assert not any(h.startswith("access-control") for h in got.headers)


def test_words_for_who_may():
    assert Allowed.parse(["10.0.0.5"], "--alpaca-allow").peer("10.0.0.5")
    assert not Allowed.parse(["10.0.0.5"], "--alpaca-allow").peer("10.0.0.6")
    assert Allowed.parse(["fe80::/10"], "--alpaca-allow").peer("fe80::1%eth0")
    assert not Allowed.parse(["local"], "--alpaca-allow").peer("nobody")
    with pytest.raises(UserError, match="alpaca-allow 'everybody'"):
        Allowed.parse(["everybody"], "--alpaca-allow")


def test_discovery_answers_only_who_may_and_only_its_question():
    sent = []
    transport = SimpleNamespace(sendto=lambda data, to: sent.append((data, to)))
    d = Discovery(11111, Allowed.parse(["192.168.7.0/24"], "--alpaca-allow"))
    d.connection_made(transport)
    for data, who in (
        (QUESTION, "127.0.0.1"), (QUESTION, OTHER), (QUESTION, "8.8.4.4"),
        (b"alpacadiscovery2", OTHER), (b"", OTHER), (b"\xff" * 1000, OTHER),
    ):  # fmt: skip
        d.datagram_received(data, (who, 5000))
    assert sent == [
        (b'{"AlpacaPort":11111}', ("127.0.0.1", 5000)), (b'{"AlpacaPort":11111}', (OTHER, 5000)),
    ]  # fmt: skip


def test_the_id_is_kept_and_a_broken_one_does_no_harm(tmp_path):
    first = unique_id(tmp_path)
    assert unique_id(tmp_path) == first
    (tmp_path / "alpaca-id").write_text("nonsense")
    assert unique_id(tmp_path) not in (first, "nonsense")
