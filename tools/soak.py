"""An eight-hour night in some minutes: python tools/soak.py [sky hours] [times as fast] [deny]

A real server and a simulated telescope. The sky runs faster than it does (60 times unless told
otherwise); presses, phones and readings keep a human's and a machine's real speed, so the server
does in eight minutes the presses of eight hours. Every quarter of an hour of sky there is a fault:
a cable pulled out, garbage on the line, half lines, a silent board, a slip, a second server on the
same logbook, a kill -9. A slip is settled as the page asks, or, with "deny", answered falsely with
"nothing moved" and agreed to once the sightings tell of it. Throughout a phone reads, one sleeps,
and one comes and goes.

At the end: everything that was answered as saved is in the logbook, once; and how memory, files,
threads and the answer's time went from the first half hour to the last. docs/faults.md has what
was measured.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import socket
import statistics
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests"))
sys.path.insert(0, str(ROOT / "src"))
from plumbstar.logbook import Logbook  # noqa: E402
from web import scope as scopes  # noqa: E402

TARGETS = ("M 42", "M 45", "M 31", "M 35", "M 37", "M 81", "M 44", "NGC 2392", "M 67", "M 51")
STARS = ("Capella", "Rigel", "Pollux", "Aldebaran", "Regulus", "Procyon", "Polaris", "Dubhe")
FASTER = """
import faulthandler, signal
faulthandler.register(signal.SIGUSR1)
from plumbstar.clock.clock import EveningClock as C
C.unix = lambda self: self._start + {times} * (self.monotonic() - self._began)
"""
FAULTS: tuple[dict[str, Any], ...] = (
    {"unplug": 1.5},
    {"garbage": 20},
    {"silent": 2.0},
    {"slip_deg": [25.0, 0.0]},
    {"unplug": 1.5, "lose_power": True},
    {"reset_counter": True},
    {"slip_deg": [0.0, 12.0]},
)


class Phone(threading.Thread):
    """Holds a stream open and counts what comes; comes back when it was cut off."""

    def __init__(self, scope: scopes.Scope, stop: threading.Event, stay_s: float = 1e9) -> None:
        super().__init__(daemon=True)
        self.scope, self.stop, self.stay_s = scope, stop, stay_s
        self.events = self.joined = 0
        self.gaps: list[float] = []
        self.start()

    def run(self) -> None:
        while not self.stop.is_set():
            try:
                with urllib.request.urlopen(self.scope.url + "/stream", timeout=5) as r:
                    self.joined += 1
                    began = last = time.monotonic()
                    for line in r:
                        if line.startswith(b"data:"):
                            now = time.monotonic()
                            self.gaps.append(now - last)
                            self.events, last = self.events + 1, now
                            if self.stop.is_set() or now - began > self.stay_s:
                                break
            except OSError:
                pass
            self.stop.wait(0.3)


def process_facts(pid: int) -> dict[str, float]:
    """Resident memory, open files and threads of a process (proc(5))."""
    status = Path(f"/proc/{pid}/status").read_text()
    facts = dict(line.split(":", 1) for line in status.splitlines() if ":" in line)
    return {
        "rss_mb": int(facts["VmRSS"].split()[0]) / 1024,
        "files": len(os.listdir(f"/proc/{pid}/fd")),
        "threads": int(facts["Threads"]),
    }


class Soak:
    """One night. ``said`` holds the ids of presses that were answered as saved."""

    def __init__(self, place: Path, hours: float, times: float, deny: bool) -> None:
        scopes.QUICK += FASTER.format(times=times)
        self.hours, self.times, self.deny = hours, times, deny
        self.scope = scopes.Scope(place, quick=True)
        self.log = place / "log.sqlite"
        self.random = random.Random(20270128)
        self.said: set[int] = set()
        self.refused: dict[str, int] = {}
        self.took: list[tuple[float, float]] = []  # (sky hours, seconds) of each answered press
        self.facts: list[tuple[float, dict[str, float]]] = []
        self.presses = self.kills = self.faults = self.slips = self.told = 0

    def do(self, name: str, /, **body: Any) -> dict[str, Any] | None:
        """An action; None when it was refused in words, which are counted."""
        headers = {"X-Plumbstar": "1", "Content-Type": "application/json"}
        ask = urllib.request.Request(
            f"{self.scope.url}/do/{name}", json.dumps(body).encode(), headers
        )
        began = time.monotonic()
        try:
            with urllib.request.urlopen(ask, timeout=20) as r:
                answer = dict(json.load(r))
        except urllib.error.HTTPError as e:
            if e.code >= 500:
                raise
            words = json.loads(e.read())["error"][:60]
            self.refused[words] = self.refused.get(words, 0) + 1
            return None
        except TimeoutError:
            print(f"no answer to {name} {body} in 20 s, at {self.sky():.2f} h; the server does:")
            os.kill(self.pid(), signal.SIGUSR1)  # it prints where each thread is
            time.sleep(1.0)
            raise
        self.took.append((self.sky(), time.monotonic() - began))
        return answer

    def sky(self) -> float:
        return (time.monotonic() - self.began) * self.times / 3600.0

    def settle(self, find: Callable[[], tuple[float, float]]) -> bool:
        """Point at it and wait until the server's reading stands still and is live."""
        with contextlib.suppress(AssertionError, OSError, KeyError):
            az, alt = find()
            answer = self.scope.order(point_az_deg=az, point_alt_deg=alt)
            time.sleep(float(answer.get("seconds", 0.0)) + 0.35)
            return bool(answer.get("ok"))
        return False

    def agree(self) -> None:
        """Something moved, the page says: so be it."""
        moved = self.scope.state()["moved"]
        if moved is not None:
            self.told += self.do("answer_move", after=moved["after"], moved=True) is not None

    def press(self, name: str, **body: Any) -> None:
        self.presses += 1
        answer = self.do(name, id=f"soak-{self.presses:05d}", **body)
        if answer is not None and answer["asked"]:  # it was centred, whatever the counts say
            answer = self.do("answer_doubt", id=f"soak-{self.presses:05d}", save=True)
        if answer is not None:
            self.said.add(answer["sighting_id"])

    def sight(self) -> None:
        star = self.random.choice(STARS)
        self.do("plan_add", star=star)
        plan = {p["star"]: p for p in self.scope.state()["plan"]}
        up = star in plan and plan[star]["alt_deg"] > 15.0
        if up and self.settle(lambda: (plan[star]["az_deg"], plan[star]["alt_deg"])):
            self.press("sight", star=star)
        self.do("plan_remove", star=star)

    def find(self) -> None:
        if self.do("set_target", name=self.random.choice(TARGETS)) is None:
            return
        t = self.scope.state()["target"]
        if not t or t["alt_deg"] < 15.0:
            return
        if self.settle(lambda: (t["az_deg"], t["alt_deg"])):
            if self.random.random() < 0.7:
                self.press("here_centred")
            else:
                self.do("not_in_field")

    def fault(self, n: int) -> None:
        self.faults += 1
        kind = n % (len(FAULTS) + 2)
        if kind < len(FAULTS):
            self.scope.order(**FAULTS[kind])
            time.sleep(2.5)
            if self.scope.state()["slip"]:
                self.slips += 1
                if self.deny:
                    self.do("acknowledge_slip")
                for _ in range(6):  # as the page asks: sight a star, and it is settled
                    self.sight()
                    if not self.scope.state()["slip"]:
                        break
        elif kind == len(FAULTS):
            with Logbook.open(self.log) as book:  # another program writes at the same time
                outing = book.current_outing()
                if outing is not None:
                    book.add_note(outing.id, f"from beside, {n}", book.now())
        else:
            self.kills += 1
            self.scope.kill()
            self.scope.serve(self.now_text())

    def now_text(self) -> str:
        from plumbstar.sky.times import Instant

        return Instant.parse(scopes.START).plus_seconds(self.sky() * 3600.0).iso()

    def pid(self) -> int:
        assert self.scope._server is not None
        return self.scope._server.pid

    def run(self) -> bool:
        self.scope.serve()
        self.began = time.monotonic()
        stop = threading.Event()
        phones = [Phone(self.scope, stop), Phone(self.scope, stop, stay_s=7.0)]
        sleeper = socket.create_connection(("127.0.0.1", self.scope.port))
        sleeper.sendall(
            f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{self.scope.port}\r\n\r\n".encode()
        )
        self.do("start_outing")
        n_fault, next_fault, next_fact = 0, 0.25, 0.0
        try:
            while (sky := self.sky()) < self.hours:
                if sky >= next_fact:
                    next_fact += 0.5
                    self.facts.append((sky, process_facts(self.pid())))
                if sky >= next_fault:
                    next_fault += 0.25
                    self.fault(n_fault)
                    n_fault += 1
                self.sight() if self.random.random() < 0.3 else self.find()
                self.agree()
                if self.random.random() < 0.05:
                    self.do("undo")
                    self.do("redo")
            self.facts.append((self.sky(), process_facts(self.pid())))
        finally:
            stop.set()
            sleeper.close()
        state = self.scope.state()
        self.scope.kill()
        for p in phones:
            p.join(6)
        return self.report(state, phones)

    def report(self, state: dict[str, Any], phones: list[Phone]) -> bool:
        with Logbook.open(self.log) as book:
            there = [s.id for o in book.outings() for s in book.sightings(o.id, deleted=True)]
            sound = book.file.rows("PRAGMA integrity_check") == [("ok",)]
        lost = sorted(self.said - set(there))
        first = [t for at, t in self.took if at < self.hours / 4]
        last = [t for at, t in self.took if at > self.hours * 3 / 4]
        print(f"sky: {self.hours:g} h at {self.times:g} times; faults {self.faults}, of them kills "
              f"{self.kills}; slips seen {self.slips}, told of {self.told}")  # fmt: skip
        print(f"presses {self.presses}, saved {len(self.said)}, actions answered {len(self.took)}")
        for words, n in sorted(self.refused.items(), key=lambda x: -x[1]):
            print(f"  refused {n} times: {words}")
        print(f"lost {len(lost)}, twice {len(there) - len(set(there))}, logbook whole: {sound}, "
              f"{self.log.stat().st_size / 1024:.0f} kB")  # fmt: skip
        print(f"the answer's median {1e3 * statistics.median(first):.0f} ms in the first quarter, "
              f"{1e3 * statistics.median(last):.0f} in the last; slowest "
              f"{1e3 * max(t for _, t in self.took):.0f}")  # fmt: skip
        for at, f in self.facts:
            print(f"  {at:4.1f} h  {f['rss_mb']:5.0f} MB  {f['files']:3.0f} files  "
                  f"{f['threads']:2.0f} threads")  # fmt: skip
        for p in phones:
            print(f"phone: {p.events} events, joined {p.joined} times, longest gap "
                  f"{max(p.gaps):.1f} s")  # fmt: skip
        print(f"the fix now: {state['fix'] and state['fix'].get('sentence')}")
        return not lost and sound and len(there) == len(set(there))


def main() -> None:
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    times = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    with tempfile.TemporaryDirectory() as name:
        soak = Soak(Path(name), hours, times, deny="deny" in sys.argv)
        try:
            good = soak.run()
        finally:
            soak.scope.close()
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
