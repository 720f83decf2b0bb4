"""A whole server in this process, with a clock that stands until told to go on."""

import asyncio
import concurrent.futures
import contextlib
import functools
import json

import httpx
import msgspec
import numpy as np

import patience
from plumbstar import kit as kits
from plumbstar.clock.clock import EveningClock
from plumbstar.logbook import Logbook
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.simulate.telescope import SimulatedTelescope
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant
from plumbstar.web.app import make_app
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.door.sessions import Sessions
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.timekeeping import Timekeeping
from plumbstar.web.live.readings import REST_DEG
from plumbstar.web.live.station import Station

SCENE = thornback_ridge()
NIGHT = Instant.parse("2027-01-28T18:30:00Z")
DAY = Instant.parse("2027-01-28T12:00:00Z")
HOST = "127.0.0.1:8273"


def asynchronous(test):
    """Run a coroutine as a test, on a thread of its own: the tests with a browser leave an event
    loop running on pytest's."""

    @functools.wraps(test)
    def run(*args, **kwargs):
        def alone():
            asyncio.run(asyncio.wait_for(test(*args, **kwargs), 4 * patience.SECONDS))

        with concurrent.futures.ThreadPoolExecutor(1) as pool:
            pool.submit(alone).result()

    return run


class Standing:
    """Clocks that stand still; ``go`` moves both."""

    def __init__(self, start):
        self.t = start.to_unix()
        self.m = 1000.0
        self.boot = "boot-1"

    def go(self, seconds):
        self.t += seconds
        self.m += seconds

    def clock(self):
        return EveningClock(unix=lambda: self.t, monotonic=lambda: self.m, boot=self.boot)


class Rig:
    """The server, a client, and the hidden mount of the demo's evening."""

    def __init__(self, station, client, app, pairing, times, book):
        self.station, self.client, self.app = station, client, app
        self.book = book
        self.pairing, self.times = pairing, times
        self.presses = 0

    async def do(self, name, /, status=200, **body):
        r = await self.client.post(f"/do/{name}", json=body)
        assert r.status_code == status, (name, r.status_code, r.text)
        return r.json()

    async def get(self, path, status=200):
        r = await self.client.get(path)
        assert r.status_code == status, (path, r.status_code, r.text)
        return r.json()

    async def state(self):
        return await self.get("/data/state")

    async def quiet(self):
        """Wait until the jobs beside the evening are done."""
        while self.station.jobs.running:
            await asyncio.gather(*self.station.jobs.running, return_exceptions=True)

    def press(self):
        self.presses += 1
        return f"press-{self.presses:04d}"

    def truth(self, name, ahead=0.0):
        """Where it stands now, and what the hidden mount's circles show when it is centred."""
        now = Instant.from_unix(self.times.t + ahead)
        az, alt = place_of(lookup.find_target(name), now, SCENE.site)
        d = kinematics.unit(np.radians(az), np.radians(alt))
        reading = np.degrees(kinematics.reading_of(d, SCENE.hidden))
        return (az, alt), (float(reading[0]), float(reading[1]))

    async def sight(self, name, off=(0.0, 0.0), *, sure=False, **more):
        """Centre a star with typed circles, off by so many degrees of reading. ``sure``: if it is
        asked whether that can be, the answer is yes."""
        _, (az, alt) = self.truth(name)
        press = more.pop("id", None) or self.press()
        said = await self.do(
            "sight",
            star=name,
            id=press,
            reading={"az_deg": round(az + off[0], 2), "alt_deg": round(alt + off[1], 2)},
            **more,
        )
        if said["asked"] and sure:
            return await self.do("answer_doubt", id=press, save=True)
        return said


@contextlib.asynccontextmanager
async def rig(
    tmp_path, start=NIGHT, *, kit_text=None, site=SCENE.site, host="127.0.0.1", peer="127.0.0.1",
    names=(), times=None, headers=None, code="ABCDEFGH", encoders=True, recorder=None,
):  # fmt: skip
    """Everything up; a client that calls it as ``host`` from ``peer``."""
    times = times or Standing(start)
    clock = times.clock() if isinstance(times, Standing) else times
    book = Logbook.open(tmp_path / "logbook.sqlite3", clock=clock.unix)
    text = kit_text or kits.example_text()
    station = Station(
        lambda: Evening(
            book,
            clock.now,
            site=site,
            kit_text=text,
            encoders=encoders,
            timekeeping=Timekeeping(book, clock),
        ),
        clock,
        recorder=recorder,
    )
    pairing = Pairing(code, clock.monotonic)
    names = frozenset({"127.0.0.1", "localhost", "::1", *names})
    gate = Gate(names, 8273, False, Sessions(b"k" * 32, clock.unix))
    app = make_app(station, gate, pairing)
    await station.start()
    await station.evening_ready()
    transport = httpx.ASGITransport(app, client=(peer, 50000), raise_app_exceptions=False)
    async with httpx.AsyncClient(
        transport=transport,
        base_url=f"http://{host}:8273",
        headers={"X-Plumbstar": "1"} if headers is None else headers,
    ) as client:
        r = Rig(station, client, app, pairing, times, book)
        try:
            await r.quiet()
            yield r
        finally:
            await station.stop()


class Listener:
    """One open stream, fed by the application straight: events as (name, object)."""

    def __init__(self, app, peer="127.0.0.1", host=HOST):
        self.app = app
        self.scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET",
            "scheme": "http", "path": "/stream", "raw_path": b"/stream", "query_string": b"",
            "root_path": "", "headers": [(b"host", host.encode())], "client": (peer, 1),
            "server": ("127.0.0.1", 8273),
        }  # fmt: skip
        self.events = []
        self.came = asyncio.Event()
        self.gone = asyncio.Event()
        self.stuck = False
        self.status = None
        self._text = ""

    async def __aenter__(self):
        self.task = asyncio.create_task(self.app(self.scope, self._receive, self._send))
        return self

    async def __aexit__(self, *_):
        self.gone.set()
        await asyncio.wait_for(self.task, patience.SECONDS)

    async def _receive(self):
        await self.gone.wait()
        return {"type": "http.disconnect"}

    async def _send(self, message):
        if message["type"] == "http.response.start":
            self.status = message["status"]
            return
        while self.stuck:
            await asyncio.sleep(0.01)
        self._text += message.get("body", b"").decode()
        *whole, self._text = self._text.split("\n\n")
        for block in whole:
            lines = dict(line.split(": ", 1) for line in block.split("\n"))
            if "event" in lines:
                self.events.append((lines["event"], json.loads(lines["data"])))
        self.came.set()

    def last(self, name):
        return next((d for n, d in reversed(self.events) if n == name), None)

    async def until(self, wanted, seconds=patience.SECONDS):
        """The first event (name, data), old or new, that is as wanted."""
        seen = 0
        async with asyncio.timeout(seconds):
            while True:
                while seen < len(self.events):
                    name, data = self.events[seen]
                    seen += 1
                    if wanted(name, data):
                        return data
                self.came.clear()
                await self.came.wait()


def toml_for(sim, centring=None):
    """The example kit's text with its connection set to a simulated telescope."""
    c = sim.connection("tcp")
    head = kits.example_text().split("[connection]")
    tail = head[1].split("[stop]", 1)[1]
    return (
        f'{head[0]}[connection]\nkind = "tcp"\nhost = "{c.host}"\nport = {c.port}\n'
        f'poll = "?\\r"\ninterval_ms = 20\n\n[stop]{tail}'
    )


def encoder_kit():
    c = msgspec.structs.replace(kits.example().connection, poll="?\r", interval_ms=20)
    return msgspec.structs.replace(kits.example(), connection=c)


def board(hand_deg_s=400.0, **options):
    """A simulated telescope with the demo's hidden faults and very good centring.

    Its hands are quicker than any: the tests that use them lift the limit on a hand's speed.
    """
    return SimulatedTelescope(
        encoder_kit(), SCENE.hidden, hand_deg_s=hand_deg_s, centring_arcmin=0.5, **options
    )


NOISE = Noise.from_kit(SCENE.kit)


async def centre(r, sim, name):
    """Point the simulated telescope at it, as an observer would, and wait for rest. A tap may
    follow in the same moment: it is not asked about."""
    r.station.readings.rest_deg = 1e9
    sim.point(*place_of(lookup.find_target(name), r.station.clock.now(), SCENE.site))
    await sim.settled()
    where = sim.where()
    async with asyncio.timeout(patience.SECONDS):
        while r.station.readings.latest.az_count != where["az_count"] or (
            r.station.readings.latest.alt_count != where["alt_count"]
        ):
            await asyncio.sleep(0.02)
    return where


async def at_rest(r, sim, name):
    """The same, and the readings: from now on a tap is asked about while the tube moves."""
    await centre(r, sim, name)
    r.station.readings.rest_deg = REST_DEG
    return r.station.readings


async def live(r):
    async with asyncio.timeout(patience.SECONDS):
        while r.station.readings.latest.state != "live":
            await asyncio.sleep(0.02)


def evening_clock():
    return EveningClock(NIGHT)
