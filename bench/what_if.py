"""How soon does the whole night answer a slider? Run: python bench/what_if.py

In Chromium, against a server on this computer: from the slider's event to the first frame after the
new list stands on the page, the sky's slider drawn through thirty places. Beside it the processor
time of one answer, and of the same answer judged whole, without anything kept: every object of the
night, and the thorough order. Goal: under 100 ms.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright
from timing import seconds

from plumbstar import kit as kits
from plumbstar.simulate import scenario
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.times import Instant
from plumbstar.targets.model import Conditions
from plumbstar.targets.order import QUICK, plan
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import survey
from plumbstar.targets.what_if import DARKEST_MAG, Shortlist, Supposed
from plumbstar.targets.wishes import Wishes

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
from web.scope import CHROMIUM_ARGS, chromium

START, END = Instant.parse("2027-01-28T16:30:00Z"), Instant.parse("2027-01-29T06:00:00Z")
THREE_HOURS = START.plus_seconds(3 * 3600.0)
PLACES = 30
MOVE = """async (value) => {
  const slider = document.getElementById("if-sky");
  const told = new Promise((r) => {
    const real = window.fetch;
    window.fetch = async (...x) => {
      const reply = await real(...x);
      if (String(x[0]).includes("/data/agenda")) {
        const json = reply.json.bind(reply);
        reply.json = async () => {
          const said = await json();
          requestAnimationFrame(() => requestAnimationFrame(() => r(performance.now())));
          window.fetch = real;
          return said;
        };
      }
      return reply;
    };
  });
  slider.value = value;
  const begun = performance.now();
  slider.dispatchEvent(new Event("input", { bubbles: true }));
  return (await told) - begun;
}"""


def in_the_browser() -> tuple[list[float], float, float]:
    """Milliseconds from event to frame, and the processor time for each, seconds: the server's and
    that of the page's own thread."""
    path = chromium()
    with tempfile.TemporaryDirectory() as work, sync_playwright() as p:
        kit = Path(work) / "kit.toml"
        kit.write_text(kits.example_text())
        command = [
            *(sys.executable, "-c", "from plumbstar.cli import main; main()", "serve"),
            *("--port", "0", "--json", "--no-encoders", "--site", "47.2,11.6,940"),
            *("--utc", "2027-01-28T16:30:00Z", "--kit", str(kit)),
            *("--logbook", str(Path(work) / "log.sqlite3")),
        ]
        env = {**os.environ, "XDG_DATA_HOME": work}
        running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env)
        try:
            assert running.stdout is not None
            url = json.loads(running.stdout.readline())["url"]
            browser = p.chromium.launch(executable_path=path, args=CHROMIUM_ARGS)
            page = browser.new_page(viewport={"width": 390, "height": 844})
            page.goto(f"{url}#tonight")
            page.get_by_role("button", name="What if?").click(timeout=60_000)
            page.wait_for_timeout(1500)
            page.evaluate(MOVE, "21.0")  # the darkest night is judged once
            page.wait_for_timeout(500)
            line = page.context.new_cdp_session(page)
            line.send("Performance.enable", {"timeDomain": "threadTicks"})

            def drawing() -> float:
                found = line.send("Performance.getMetrics")["metrics"]
                return float(next(m["value"] for m in found if m["name"] == "TaskDuration"))

            begun, drawn, took = _spent(running.pid), drawing(), []
            for i in range(PLACES):
                took.append(page.evaluate(MOVE, f"{17.5 + 4.4 * ((7 * i) % PLACES) / PLACES:.1f}"))
            each = (_spent(running.pid) - begun) / PLACES
            on_page = (drawing() - drawn) / PLACES
            browser.close()
        finally:
            running.terminate()
            running.wait(10)
    return took, each, on_page


def _spent(pid: int) -> float:
    """Processor time of a process so far, seconds."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    s = scenario.thornback_ridge()
    objects, pairs, sky = deepsky.load(), doubles.load(), Conditions(zenith_mag=21.0)
    there = Supposed(zenith_mag=19.5)

    def whole(zenith_mag: float) -> float:
        supposed = Supposed(zenith_mag=zenith_mag).sky(sky)
        night = survey(objects, pairs, START, END, s.site, s.kit, supposed, s.skyline)
        return plan(night, Wishes().choose(prospects(night)), START, THREE_HOURS).worth

    dark = Supposed(zenith_mag=DARKEST_MAG).sky(sky)
    night = survey(objects, pairs, START, END, s.site, s.kit, dark, s.skyline)
    short = Shortlist.of(night.light, Wishes().choose(prospects(night)), (START, THREE_HOURS))

    def moved() -> float:
        night = short.judged(there, s.kit, sky, s.skyline)
        wanted = Wishes().choose(prospects(night))
        return plan(night, wanted, START, THREE_HOURS, effort=QUICK).worth

    got, all_of_it = moved(), whole(19.5)
    ours, theirs = seconds(moved, 7), seconds(lambda: whole(19.5), 5)
    print(
        f"an answer: {1e3 * ours:.0f} ms of processor time; judged whole {1e3 * theirs:.0f} ms,"
        f" {theirs / ours:.1f} times as long; its order is worth {got / all_of_it:.3f} of that one"
    )
    took, each, on_page = in_the_browser()
    print(
        f"slider to frame in Chromium: median {statistics.median(took):.0f} ms, nine in ten under"
        f" {sorted(took)[int(0.9 * len(took))]:.0f} ms (goal 100); processor time for each: server"
        f" {1e3 * each:.0f} ms, page {1e3 * on_page:.0f} ms"
    )


if __name__ == "__main__":
    main()
