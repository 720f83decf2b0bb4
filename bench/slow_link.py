"""How soon are the pages there over a slow link? Run: python bench/slow_link.py

400 kb/s and 400 ms for each request, as a phone at the edge of the telescope's Wi-Fi may have it
(Chromium's own network throttling; it delays requests, not the greeting of a connection). Each
visit of a new browser, then a second visit of the same. Beside it in the same run, as the
reference: the same program that serves its forty scripts one by one, packed, and asked about each
time.
"""

from __future__ import annotations

import contextlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, sync_playwright

from plumbstar import kit as kits

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
from web.scope import CHROMIUM_ARGS, chromium

VISITS = int(os.environ.get("BENCH_VISITS", "3"))
LATENCY_MS, BYTES_PER_S = 400, 50_000

NOW = "from plumbstar.cli import main; main()"
ONE_BY_ONE = """
from types import SimpleNamespace as Part
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from plumbstar.web.routes import bundle, front
bundle.parts = lambda entry: {
    "script": Part(path=f"/static/{entry}.js"), "styles": Part(path="/static/page.css"),
    "loading": Part(path="/static/loading.js"),
}
def sources(self, packed):
    self._packed, self._sources = {}, GZipMiddleware(StaticFiles(directory=bundle.STATIC))
front.PageFiles.__init__ = sources
async def index(self, request):
    return Response(self._html[True], media_type="text/html")
front.Front.index = index
from plumbstar.cli import main
main()
"""

# Looked at before anything of the page runs. "drawn": its question stands there; "told": what the
# server knows of the evening does.
WATCH = """
window.seen = { shift: 0, paint: null, drawn: null, told: null };
new PerformanceObserver((l) => l.getEntries().forEach((e) => {
  if (!e.hadRecentInput) seen.shift += e.value;
})).observe({ type: "layout-shift", buffered: true });
new PerformanceObserver((l) => l.getEntries().forEach((e) => {
  if (e.name === "first-contentful-paint") seen.paint = e.startTime;
})).observe({ type: "paint", buffered: true });
const look = () => {
  const main = document.getElementById("main");
  if (main && seen.drawn === null) seen.drawn = performance.now();
  if (main && !main.textContent.includes("Connecting to") && seen.told === null) {
    seen.told = performance.now();
  }
};
const all = { childList: true, subtree: true, characterData: true };
new MutationObserver(look).observe(document, all);
"""


@contextlib.contextmanager
def server(code: str, folder: Path) -> Iterator[str]:
    folder.mkdir()
    kit = folder / "kit.toml"
    kit.write_text(kits.example_text())
    command = [
        *(sys.executable, "-c", code, "serve", "--port", "0", "--json", "--no-encoders"),
        *("--site", "47.2,11.6,940", "--utc", "2027-01-28T18:30:00Z", "--kit", str(kit)),
        *("--logbook", str(folder / "log.sqlite3")),
    ]
    env = {**os.environ, "XDG_DATA_HOME": str(folder)}
    running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env)
    try:
        assert running.stdout is not None
        yield json.loads(running.stdout.readline())["url"]
    finally:
        running.terminate()
        running.wait(10)


def visit(context: BrowserContext, url: str) -> dict[str, float]:
    """One visit: what was seen in ms, and what went over the line."""
    page = context.new_page()
    line = context.new_cdp_session(page)
    line.send("Network.enable")
    conditions = {"latency": LATENCY_MS, "downloadThroughput": BYTES_PER_S}
    line.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "uploadThroughput": BYTES_PER_S, **conditions},
    )
    counts = {"requests": 0.0, "kB": 0.0}
    cached: set[str] = set()

    def sent(e: dict[str, Any]) -> None:
        if not e["request"]["url"].startswith("data:"):
            counts["requests"] += 1

    def from_cache(e: dict[str, Any]) -> None:
        cached.add(e["requestId"])
        counts["requests"] -= 1

    line.on("Network.requestWillBeSent", sent)
    line.on("Network.requestServedFromCache", from_cache)
    line.on(
        "Network.dataReceived",
        lambda e: counts.update(kB=counts["kB"] + e["encodedDataLength"] / 1000.0),
    )
    page.add_init_script(WATCH)
    page.goto(f"{url}#prepare", wait_until="commit")
    page.wait_for_function("() => seen.told !== null && seen.paint !== null", timeout=60_000)
    page.wait_for_timeout(1500)  # what moves late
    seen: dict[str, float] = page.evaluate("() => seen")
    page.close()
    return seen | counts


def measured(browser: Browser, url: str) -> tuple[dict[str, float], dict[str, float]]:
    """Medians of first visits and of second ones."""
    visits: tuple[list[dict[str, float]], list[dict[str, float]]] = ([], [])
    for _ in range(VISITS):
        context = browser.new_context(viewport={"width": 390, "height": 844})
        for found in visits:
            found.append(visit(context, url))
        context.close()
    first, second = (
        {k: statistics.median(v[k] for v in found) for k in found[0]} for found in visits
    )
    return first, second


def main() -> None:
    path = chromium()
    with tempfile.TemporaryDirectory() as work, sync_playwright() as p:
        browser = p.chromium.launch(executable_path=path, args=CHROMIUM_ARGS)
        found = {}
        for name, code in (("one by one", ONE_BY_ONE), ("now", NOW)):
            with server(code, Path(work) / name) as url:
                visit(browser.new_context(), url)  # the server's own first time
                found[name] = measured(browser, url)
        browser.close()
    for i, which in enumerate(("first visit", "second visit")):
        before, now = found["one by one"][i], found["now"][i]
        print(f"{which}: reference -> now (ratio)")
        for what in ("paint", "drawn", "told"):
            print(
                f"  {what:9} {before[what] / 1000:6.2f} s -> {now[what] / 1000:6.2f} s"
                f"   ({now[what] / before[what]:.2f})"
            )
        print(f"  requests  {before['requests']:6.0f}   -> {now['requests']:6.0f}")
        print(f"  received  {before['kB']:6.1f} kB -> {now['kB']:6.1f} kB")
        print(f"  shift     {before['shift']:6.3f}   -> {now['shift']:6.3f}")


if __name__ == "__main__":
    main()
