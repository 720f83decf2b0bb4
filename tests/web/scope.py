"""A simulated telescope and a real server process, pushed and asked as by an observer.

Used by the page tests, by bench/pixel.py and by tools/screenshots.py.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

import needs
import patience
import ready
from ports import free_port

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM_ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # Each server is another site: one process draws them all, or each would begin its own.
    "--renderer-process-limit=1",
    "--disable-site-isolation-trials",
    # A name that is not loopback, though the address is: shows what a phone on Wi-Fi would have.
    "--host-resolver-rules=MAP scope.test 127.0.0.1",
]
#: The one without a window of its own takes three quarters of the other's processor time.
CHROMIUM = ("chromium-headless-shell", "chromium", "chromium-browser")


def chromium() -> str | None:
    """Where a Chromium is, None without one."""
    return next(filter(None, map(shutil.which, CHROMIUM)), None)


def until(page: Any, true: str) -> None:
    """Wait until an expression is true on the page. Asked anew from here each time: the browser's
    own waiting evaluates a text there, which the pages' Content-Security-Policy forbids unless it
    is true at once. Where it never is, what the page says is told."""
    error = needs.module("playwright.sync_api").Error
    end = time.monotonic() + patience.SECONDS
    while time.monotonic() < end:
        try:
            if page.evaluate(true):
                return
        except error as e:  # it went to another address while it was asked
            if "context was destroyed" not in str(e):
                raise
        time.sleep(0.03)
    said = " | ".join(page.evaluate("document.body.innerText").split("\n"))
    raise AssertionError(f"{true}, scrolled to {page.evaluate('scrollY')}, of: {said[:1500]}")


#: Where and when the invented evening begins (design.md, the demo's scenario).
SITE, START = "47.2,11.6,940", "2027-01-28T17:05:00Z"


class Scope:
    """The simulated telescope and the server, as two processes; the tests push the one by hand.

    A hand faster than 60 degrees a second would be taken for a slip, and on a busy machine the
    counts come by fits and starts: so it is pushed at 40 at most. ``quick`` lifts that limit in the
    server and pushes at 360, for tests that are about something else.
    """

    def __init__(
        self,
        place: Path,
        *,
        serve_args: tuple[str, ...] = (),
        simulate_args: tuple[str, ...] = (),
        typed: bool = False,
        quick: bool = False,
        fresh: bool = False,
    ) -> None:
        self.place = place
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._serve_args = serve_args
        self._env = {
            **os.environ,
            "XDG_DATA_HOME": str(place / "data"),
            "PYTHONPATH": str(ROOT / "src"),
        }
        self._server: ready.Program | subprocess.Popen[str] | None = None
        self.told: dict[str, Any] = {}
        self._sim = ready.Program(
            ready.PROGRAM, "simulate", "--json", "--no-serial",
            "--hand-speed", "360" if quick else "40", "--write-kit", str(place / "kit.toml"),
            *simulate_args, env=self._env, cwd=place,
        )  # fmt: skip
        board = json.loads(self._sim.stdout.readline())
        self._control = socket.create_connection(
            ("127.0.0.1", board["control_port"]), timeout=patience.SECONDS
        )
        self._lines = self._control.makefile("rw", encoding="utf-8")
        self._quick = quick
        self._fresh = fresh  # starts from nothing: what stands before its imports reaches them
        self._typed = typed  # the example kit, whose circles are read by eye

    def serve(self, utc: str = START) -> None:
        """Start the server, or start it again on the same port, logbook and telescope."""
        args = [
            "serve", "--json", "--site", SITE,
            *(() if self._typed else ("--kit", str(self.place / "kit.toml"))),
            "--port", str(self.port), "--logbook", str(self.place / "log.sqlite"),
            *(("--utc", utc) if utc else ()),
            *self._serve_args,
        ]  # fmt: skip
        first = QUICK if self._quick else ""
        code = first + ready.PROGRAM
        if self._fresh:
            self._server = subprocess.Popen(
                [sys.executable, "-c", code, *args],
                stdout=subprocess.PIPE, text=True, env=self._env, cwd=self.place,
            )  # fmt: skip
        else:
            self._server = ready.Program(code, *args, env=self._env, cwd=self.place)
        assert self._server.stdout is not None
        self.told = json.loads(self._server.stdout.readline())
        until = time.monotonic() + patience.SECONDS
        while time.monotonic() < until:
            with (
                contextlib.suppress(OSError),
                urllib.request.urlopen(self.url + "/data/state") as r,
            ):
                if not json.load(r).get("loading"):
                    return
            time.sleep(0.1)
        raise TimeoutError(f"the server did not come up in {patience.SECONDS:.0f} s")

    def kill(self) -> None:
        """Pull the server's plug: no farewell."""
        assert self._server is not None
        self._server.send_signal(signal.SIGKILL)
        self._server.wait(patience.SECONDS)

    def state(self) -> dict[str, Any]:
        """The whole state, as the pages get it."""
        with urllib.request.urlopen(self.url + "/data/state") as r:
            return dict(json.load(r))

    def log(self, outing_id: int) -> dict[str, Any]:
        """One outing as the Log shows it."""
        with urllib.request.urlopen(f"{self.url}/data/log/{outing_id}") as r:
            return dict(json.load(r))

    def reading(self) -> dict[str, Any]:
        """The present reading, from the stream."""
        with urllib.request.urlopen(self.url + "/stream") as r:
            for line in r:
                if line.startswith(b"data:") and b'"push"' in line:
                    return dict(json.loads(line[5:]))
        raise AssertionError("no reading came")

    def do(self, name: str, /, **body: Any) -> None:
        """An action, as a second phone would do it."""
        headers = {"X-Plumbstar": "1", "Content-Type": "application/json"}
        data = json.dumps(body).encode()
        urllib.request.urlopen(
            urllib.request.Request(f"{self.url}/do/{name}", data, headers)
        ).close()

    def order(self, **order: Any) -> dict[str, Any]:
        """One control command to the simulated telescope."""
        self._lines.write(json.dumps(order) + "\n")
        self._lines.flush()
        return dict(json.loads(self._lines.readline()))

    def point(self, az_deg: float, alt_deg: float) -> None:
        """Push the tube to a true direction, as an observer who has the thing in the eyepiece."""
        self.order(point_az_deg=az_deg, point_alt_deg=alt_deg)
        until = time.monotonic() + patience.SECONDS
        while True:
            at = self.order(where=True)["where"]
            if not at["moving"]:
                if self._typed:  # circles read by eye: the server hears nothing
                    return
                heard = self.reading()
                off_az = (heard["az_reading_deg"] - at["az_reading_deg"] + 180) % 360 - 180
                # One tick of the demo's encoders is 0.039 degrees.
                if (
                    abs(off_az) < 0.06
                    and abs(heard["alt_reading_deg"] - at["alt_reading_deg"]) < 0.06
                ):
                    if not self._quick:
                        time.sleep(0.5)  # the hand lets go before the tap, else it is asked about
                    return
            assert time.monotonic() < until, f"the server hears {self.reading()}, not {at}"
            time.sleep(0.05)

    def point_at_star(self, name: str) -> None:
        """Centre a planned star."""
        star = next(p for p in self.state()["plan"] if p["star"] == name)
        self.point(star["az_deg"], star["alt_deg"])

    def sight_two(self) -> None:
        """An outing with two stars chosen and sighted."""
        stars = ["Capella", "Rigel"]
        self.do("pick", stars=stars)
        self.do("start_outing")
        for k, star in enumerate(stars):
            self.point_at_star(star)
            self.do("sight", star=star, id=f"sight-{k}-0000")

    def point_at_target(self) -> None:
        """Centre the target, wherever it truly is."""
        t = self.state()["target"]
        self.point(t["az_deg"], t["alt_deg"])

    def point_at_field(self) -> None:
        """On to the next field of the search, as the circles go."""
        at, sweep = self.order(where=True)["where"], self.state()["target"]["sweep"]
        right = (sweep["az_reading_deg"] - at["az_reading_deg"] + 180) % 360 - 180
        up = sweep["alt_reading_deg"] - at["alt_reading_deg"]
        self.point(at["true_az_deg"] + right, at["true_alt_deg"] + up)

    def close(self) -> None:
        """End both processes that this object started."""
        self._control.close()
        time.sleep(0.1)  # the telescope sees the line go, and does not complain of it
        for p in (self._server, self._sim):
            if p is not None and p.poll() is None:
                p.terminate()
                try:
                    p.wait(10)
                except subprocess.TimeoutExpired:
                    p.kill()
                    p.wait(10)


#: What the server runs first, for hands that no observer has.
QUICK = (
    "from plumbstar.web.live.readings import Limits, LiveReadings; "
    "LiveReadings.limits = Limits(speed_deg_s=2000.0); LiveReadings.rest_deg = 1e9; "
)
