"""A server as a process of its own, and a phone that listens to it."""

import contextlib
import http.client
import json
import os
import signal
import socket
import sys
import threading
import time

import numpy as np

import patience
import ready
from plumbstar import kit as kits
from plumbstar.mount import kinematics
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from ports import free_port

from .server_rig import NIGHT, SCENE

UTC = "2027-01-28T18:30:00Z"
HEADERS = {"X-Plumbstar": "1", "Content-Type": "application/json"}


class Server:
    """One process; ``start`` returns when it answers."""

    def __init__(self, tmp_path, *options, host="127.0.0.1"):
        self.tmp_path, self.host = tmp_path, host
        self.port = free_port()
        kit = tmp_path / "kit.toml"
        kit.write_text(kits.example_text())
        self.command = [
            sys.executable, "-c", "from plumbstar.cli import main; main()", "serve",
            "--site", "47.2,11.6,940",
            "--kit", str(kit), "--port", str(self.port), "--logbook", str(tmp_path / "log.sqlite3"),
            "--utc", UTC, "--json", *options,
        ]  # fmt: skip
        self.process = None

    def start(self, seconds=patience.SECONDS):
        env = {**os.environ, "XDG_DATA_HOME": str(self.tmp_path), "PYTHONUNBUFFERED": "1"}
        code, *args = self.command[2:]
        self.process = ready.Program(code, *args, env=env, stderr=ready.PIPE)
        self.said = json.loads(self.process.stdout.readline())
        until = time.monotonic() + seconds
        while True:
            try:
                with socket.create_connection((self.host, self.port), 1.0):
                    return self
            except OSError:
                if self.process.poll() is not None or time.monotonic() > until:
                    raise AssertionError(self.process.stderr.read()) from None
                time.sleep(0.02)

    def ask(self, path, body=None, headers=HEADERS, timeout=patience.SECONDS):
        c = http.client.HTTPConnection(self.host, self.port, timeout=timeout)
        with contextlib.closing(c):
            if body is None:
                c.request("GET", path, headers=headers)
            else:
                c.request("POST", path, json.dumps(body), headers)
            r = c.getresponse()
            return r.status, json.loads(r.read())

    def do(self, name, /, **body):
        status, answer = self.ask(f"/do/{name}", body)
        assert status == 200, answer
        return answer

    def state(self):
        status, answer = self.ask("/data/state")
        assert status == 200, answer
        return answer

    def kill(self):
        self.process.kill()
        self.process.communicate(timeout=patience.SECONDS)

    def stop(self, sign=signal.SIGTERM):
        self.process.send_signal(sign)
        out, err = self.process.communicate(timeout=patience.SECONDS)
        return self.process.returncode, out, err


class Phone(threading.Thread):
    """Reads a stream over a real socket, as (name, object) pairs."""

    def __init__(self, server):
        super().__init__(daemon=True)
        self.c = http.client.HTTPConnection(server.host, server.port, timeout=patience.SECONDS)
        self.events = []
        self.ended = False
        self.start()

    def run(self):
        try:
            self.c.request("GET", "/stream", headers=HEADERS)
            r = self.c.getresponse()
            name = ""
            while line := r.readline():
                text = line.decode().rstrip("\n")
                if text.startswith("event: "):
                    name = text[7:]
                elif text.startswith("data: "):
                    self.events.append((name, json.loads(text[6:])))
        except (OSError, http.client.HTTPException):
            pass
        self.ended = True

    def until(self, wanted, seconds=patience.SECONDS):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            for name, data in list(self.events):
                if wanted(name, data):
                    return data
            time.sleep(0.01)
        raise AssertionError(f"never came; had {[n for n, _ in self.events][-5:]}")


def shown(name):
    """What the hidden mount's circles show when that star is centred at the start."""
    az, alt = place_of(lookup.find_target(name), NIGHT, SCENE.site)
    d = kinematics.unit(np.radians(az), np.radians(alt))
    az, alt = np.degrees(kinematics.reading_of(d, SCENE.hidden))
    return {"az_deg": round(float(az), 2), "alt_deg": round(float(alt), 2)}


def settled_state(server, seconds=patience.SECONDS):
    """The state once the jobs beside the evening are over."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        s = server.state()
        if not s["loading"] and (s["choice"] or {}).get("status") != "working":
            return s
        time.sleep(0.05)
    raise AssertionError("never settled")
