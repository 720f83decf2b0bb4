"""From the encoder's tick to the changed pixel in Chromium. Run: python bench/pixel.py

A board writes a new azimuth count 20 times a second; eight clients listen: seven bare sockets and
the page in Chromium. Chromium's own screencast gives every frame with the moment it was shown; the
figures in a frame are recognised by their pixels, learnt beforehand from frames that stood still.
Beside it, in the same run and on the same stream, the least page that could do it: one paragraph
whose text is set as an event comes. Also: what a phone must fetch.
"""

from __future__ import annotations

import base64
import contextlib
import io
import json
import os
import re
import socket
import statistics
import sys
import tempfile
import threading
import time
import urllib.request
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Error, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests"))
from web.scope import CHROMIUM_ARGS, Scope, chromium  # noqa: E402

HERTZ, CLIENTS, SECONDS = 20.0, 8, float(os.environ.get("BENCH_SECONDS", "12"))
GOAL_MS = 50.0
VALUES, STEP = 20, 20  # figures that are told apart; counts from one to the next (0.78 degrees)
CLIP = (0, 0, 250, 44)  # the status line, in page pixels

LEAST = """() => {
  const p = document.createElement('p');
  p.style.margin = '8px';
  p.style.fontSize = '16px';
  document.body.replaceChildren(p);
  new EventSource('/stream').addEventListener('reading', (e) => {
    p.textContent = JSON.parse(e.data).az_reading_deg.toFixed(2);
  });
}"""


class Board:
    """Sends what ``value`` says, 20 times a second, and remembers when each new one went out."""

    def __init__(self) -> None:
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        self.value, self.running, self.swinging = 0, True, False
        self.ticks: list[tuple[float, int]] = []
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        conn, _ = self.server.accept()
        conn.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        way, due = 1, time.monotonic()
        while self.running:
            due += 1 / HERTZ
            time.sleep(max(0.0, due - time.monotonic()))
            if self.swinging:
                if not 0 <= self.value + way < VALUES:
                    way = -way
                self.value += way
            self.ticks.append((time.time(), self.value))
            try:
                conn.sendall(b"%d 1152\r\n" % (self.value * STEP))
            except OSError:
                return


def listen(url: str, stop: threading.Event) -> None:
    """A client that reads and does nothing."""
    with urllib.request.urlopen(url + "/stream") as r:
        while not stop.is_set():
            r.readline()


def weight(url: str) -> int:
    """Bytes of all pages as a phone fetches them: the first, and what it names."""

    def fetched(name: str) -> bytes:
        asked = urllib.request.Request(url + name, headers={"Accept-Encoding": "gzip"})
        with urllib.request.urlopen(asked) as r:
            return bytes(r.read())

    with urllib.request.urlopen(url) as r:
        named = set(re.findall(r'(?:src|href)="(/[^"]+)"', r.read().decode()))
    return len(fetched("/")) + sum(len(fetched(name)) for name in named)


def frames_of(page: Any) -> tuple[list[tuple[float, bytes]], Any]:
    """Start a screencast: frames (unix seconds as Chromium stamps them, PNG) fill the list."""
    seen: list[tuple[float, bytes]] = []
    cdp = page.context.new_cdp_session(page)

    def frame(e: dict[str, Any]) -> None:
        seen.append((e["metadata"]["timestamp"], base64.b64decode(e["data"])))
        with contextlib.suppress(Error):  # the last frame may come as the page closes
            cdp.send("Page.screencastFrameAck", {"sessionId": e["sessionId"]})

    cdp.on("Page.screencastFrame", frame)
    cdp.send("Page.startScreencast", {"format": "png", "everyNthFrame": 1})
    return seen, cdp


def crop(png: bytes) -> bytes:
    return Image.open(io.BytesIO(png)).convert("L").crop(CLIP).tobytes()


def measure(page: Any, board: Board) -> list[float]:
    """Milliseconds from each tick to the first frame that shows it; nan where none came."""
    seen, cdp = frames_of(page)
    known: dict[bytes, int] = {}
    for v in range(VALUES):  # each figure's look, once it stands still
        board.value = v
        page.wait_for_timeout(350)
        known[crop(seen[-1][1])] = v
    assert len(known) == VALUES, f"only {len(known)} of {VALUES} figures are told apart"
    board.ticks.clear()
    seen.clear()
    board.swinging = True
    page.wait_for_timeout(1000 * SECONDS)
    board.swinging = False
    page.wait_for_timeout(500)
    cdp.send("Page.stopScreencast")
    page.wait_for_timeout(200)
    shown = [(t, known.get(crop(png))) for t, png in seen]
    out = []
    for t, v in board.ticks:
        # Near the ends of the swing a figure comes twice within 0.1 s: those tell nothing.
        if not 2 <= v < VALUES - 2:
            continue
        first = next((f for f, w in shown if w == v and f >= t), None)
        out.append(1000 * (first - t) if first is not None and first - t < 0.5 else float("nan"))
    return out


def line(name: str, ms: list[float]) -> float:
    ok = sorted(x for x in ms if x == x)
    median = statistics.median(ok)
    print(
        f"{name}: median {median:.0f} ms, 95 in 100 under {ok[int(0.95 * len(ok))]:.0f} ms, "
        f"worst {ok[-1]:.0f} ms; {len(ms) - len(ok)} of {len(ms)} ticks never shown"
    )
    return median


def main() -> None:
    path = chromium()
    if path is None:
        raise SystemExit("no chromium here")
    board = Board()
    with tempfile.TemporaryDirectory() as place:
        scope = Scope(Path(place))
        kit = Path(place, "kit.toml")
        text = kit.read_text().split("[connection]")[0]
        kit.write_text(
            text + '[connection]\nkind = "tcp"\nhost = "127.0.0.1"\n'
            f"port = {board.port}\npushed = true\ninterval_ms = 50\n"
        )
        scope.serve()
        total = weight(scope.url)
        print(f"Weight of all pages as they are sent: {total / 1000:.0f} kB (goal: under 250 kB)")
        stop = threading.Event()
        for _ in range(CLIENTS - 1):
            threading.Thread(target=listen, args=(scope.url, stop), daemon=True).start()
        print(f"Load before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
        with sync_playwright() as p:
            browser = p.chromium.launch(executable_path=path, args=CHROMIUM_ARGS)
            ours = browser.new_page(viewport={"width": 390, "height": 844})
            ours.goto(scope.url + "/#sight")
            ours.locator("#status .lamp.on").wait_for()  # the board is heard
            a = line("The page", measure(ours, board))
            ours.close()
            least = browser.new_page(viewport={"width": 390, "height": 844})
            least.goto(scope.url + "/data/version")
            least.evaluate(LEAST)
            least.wait_for_timeout(500)
            b = line("The least page", measure(least, board))
            browser.close()
        stop.set()
        board.running = False
        scope.close()
    met = "met" if a < GOAL_MS else "MISSED"
    print(f"Ratio {a / b:.2f}; goal, a median under {GOAL_MS:.0f} ms: {met}")
    print(json.dumps({"page_ms": a, "least_ms": b, "ratio": a / b, "weight_bytes": total}))


if __name__ == "__main__":
    main()
