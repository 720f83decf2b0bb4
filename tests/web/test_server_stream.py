"""The stream: latest wins, and nobody holds up another."""

import asyncio
import json

import pytest

import patience
from plumbstar.web.live import stream
from plumbstar.web.live.stream import EventStream, Hub

from .server_rig import Listener, asynchronous, rig


def an_app(hub):
    async def app(scope, receive, send):
        await EventStream(hub)(scope, receive, send)

    return app


def number(n):
    return json.dumps({"n": n}).encode()


@asynchronous
async def test_a_newcomer_gets_the_whole_present(tmp_path):
    hub = Hub()
    hub.publish_state(number(1))
    hub.publish_state(number(2))
    hub.publish_reading(number(3), 0.0)
    async with Listener(an_app(hub)) as a:
        await a.until(lambda n, d: n == "reading")
        assert a.events == [("state", {"n": 2}), ("reading", {"n": 3})]
        assert len(hub) == 1
    assert len(hub) == 0


@asynchronous
async def test_a_stuck_client_holds_up_nobody_and_catches_up_with_the_latest(tmp_path):
    hub = Hub()
    async with Listener(an_app(hub)) as slow, Listener(an_app(hub)) as quick:
        hub.publish_reading(number(-1), 0.0)
        await quick.until(lambda n, d: d["n"] == -1)
        await slow.until(lambda n, d: d["n"] == -1)
        slow.stuck = True
        for n in range(200):
            hub.publish_reading(number(n), 0.0)
            await quick.until(lambda _, d, n=n: d["n"] == n)
        slow.stuck = False
        await slow.until(lambda n, d: d["n"] == 199)
        # At most the one it was stuck in, and the newest.
        assert len(slow.events) <= 3


@asynchronous
async def test_a_client_that_takes_nothing_is_dropped(tmp_path, monkeypatch):
    monkeypatch.setattr(stream, "GIVEN_UP_S", 0.1)
    hub = Hub()
    async with Listener(an_app(hub)) as a:
        hub.publish_reading(number(0), 0.0)
        await a.until(lambda n, d: True)
        a.stuck = True
        hub.publish_reading(number(1), 0.0)
        async with asyncio.timeout(patience.SECONDS):
            while len(hub):
                await asyncio.sleep(0.02)


@asynchronous
async def test_closing_ends_every_stream(tmp_path):
    hub = Hub()
    async with Listener(an_app(hub)) as a:
        hub.publish_reading(number(0), 0.0)
        await a.until(lambda n, d: True)
        hub.close()
        await asyncio.wait_for(a.task, patience.SECONDS)
        assert hub.full()


@asynchronous
async def test_too_many_are_told_so(tmp_path, monkeypatch):
    monkeypatch.setattr(stream, "MOST_CLIENTS", 1)
    async with rig(tmp_path) as r, Listener(r.app) as a:
        await a.until(lambda n, d: n == "state")
        async with Listener(r.app) as b:
            await asyncio.wait_for(b.task, patience.SECONDS)
            assert b.status == 503


@asynchronous
async def test_a_heartbeat_and_nothing_more_while_nothing_moves(tmp_path):
    async with rig(tmp_path) as r, Listener(r.app) as a:
        await r.do("typed_reading", az_deg=10, alt_deg=20)
        await a.until(lambda n, d: n == "reading" and d["az_reading_deg"] == 10)
        before = sum(n == "reading" for n, _ in a.events)
        # The standing clock: no second passes, so nothing is due however long we wait.
        await asyncio.sleep(0.5)
        assert sum(n == "reading" for n, _ in a.events) <= before + 1
        for _ in range(3):
            r.times.go(1.05)
            n = len(a.events)
            r.station.readings.news.set()
            async with asyncio.timeout(patience.SECONDS):
                while len(a.events) == n:
                    await asyncio.sleep(0.02)
        assert a.last("reading")["age_s"] == pytest.approx(3.15, abs=0.1)


@asynchronous
async def test_each_version_is_serialised_once_for_all(tmp_path):
    async with (
        rig(tmp_path) as r,
        Listener(r.app) as a,
        Listener(r.app) as b,
        Listener(r.app) as c,
    ):
        for x in (a, b, c):
            await x.until(lambda n, d: n == "state")
        first = [len(x.events) for x in (a, b, c)]
        start = r.station.version
        reply = await r.do("set_eyepiece", name="9 mm")
        for x in (a, b, c):
            await x.until(lambda n, d: n == "state" and d["version"] == reply["version"])
        assert reply["version"] == start + 1
        assert len(first) == 3
        assert all(x.last("state")["kit"]["eyepiece"] == "9 mm" for x in (a, b, c))
