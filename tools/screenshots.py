"""Make docs/images/*.png from the demo's evening. Run: python tools/screenshots.py [beside]

"beside": only those beside a closed controller. A simulated telescope with the demo's hidden
faults, a real server, and Chromium as the phone.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests"))
from plumbstar.simulate.closed_telescope import ClosedTelescope, Lines, Order  # noqa: E402
from plumbstar.simulate.scenario import thornback_ridge  # noqa: E402
from plumbstar.sky.times import Instant  # noqa: E402
from web.scope import CHROMIUM_ARGS, Scope, chromium  # noqa: E402

IMAGES = ROOT / "docs/images"
SKYLINE = "0:8 104:10 110:12 117:38 124:12 130:9 290:10 296:27 334:27 340:9"
SHADES = 48  # of one hue: enough, and a third of the size


def shot(page: Any, name: str, full: bool = False) -> None:
    """One picture, in as few colours as it needs."""
    page.wait_for_timeout(500)
    path = IMAGES / f"{name}.png"
    # In a picture of the whole page the fixed bars would stand in its middle.
    page.evaluate(
        "full => document.querySelectorAll('nav, header').forEach("
        "e => { e.style.position = full ? 'static' : '' })",
        full,
    )
    page.screenshot(path=str(path), full_page=full)
    page.evaluate(
        "document.querySelectorAll('nav, header').forEach(e => { e.style.position = '' })"
    )
    Image.open(path).convert("RGB").quantize(SHADES).save(path, optimize=True)
    print(f"{path.relative_to(ROOT)}  {path.stat().st_size / 1000:.0f} kB")


def sight(scope: Scope, names: list[str]) -> None:
    for i, name in enumerate(names):
        scope.point_at_star(name)
        scope.do("sight", star=name, ago_ms=0, id=f"picture-{i}-{name.replace(' ', '')}")


def view(page: Any, name: str) -> None:
    page.evaluate("v => { location.hash = v }", name)
    page.locator(f"main.{name}").wait_for()


def evening(scope: Scope, page: Any, sideways: Any) -> None:
    """Every screen, in the order of the evening."""
    scope.do("set_site", lat_deg=47.2, lon_deg=11.6, elevation_m=940, name="Thornback Ridge")
    scope.do("set_skyline", text=SKYLINE)
    page.goto(scope.url)
    page.get_by_role("button", name="I know how").tap()
    page.get_by_role("button", name="Choose tonight’s stars").tap()
    page.get_by_role("button", name="Use ").wait_for(timeout=60_000)
    while scope.state()["choice"]["status"] != "ready":
        time.sleep(0.3)
    page.wait_for_timeout(1500)  # the map of what they would give
    shot(page, "prepare", full=True)
    page.get_by_role("button", name="Your skyline").tap()
    show = "e => { e.scrollLeft = 240; e.scrollIntoView({block: 'center'}) }"
    page.locator(".strip").evaluate(show)
    shot(page, "skyline")
    page.get_by_role("button", name="Your skyline").tap()
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    view(page, "sight")
    scope.point_at_star("Capella")
    shot(page, "sight")
    sight(scope, ["Capella", "Rigel"])
    view(page, "fix")
    page.wait_for_timeout(1500)
    shot(page, "fix", full=True)
    view(page, "tonight")
    page.locator(".agenda li").first.wait_for(timeout=60_000)
    shot(page, "tonight")
    view(page, "find")
    page.locator("#find").tap()
    page.locator("#find").fill("m 3")
    shot(page, "search")
    page.get_by_role("button", name="close keys").tap()
    scope.do("set_target", name="M 81")
    page.locator(".eyepiece-picture").wait_for(timeout=60_000)
    page.locator(".eyepiece-picture").evaluate("e => e.scrollIntoView({block: 'center'})")
    shot(page, "eyepiece")
    page.evaluate("scrollTo(0, 0)")
    scope.do("set_target", name="M 31")
    page.evaluate("document.activeElement.blur()")
    shot(page, "push")
    page.get_by_role("button", name="Screen").tap()
    page.get_by_label("Daylight").check()
    page.get_by_role("button", name="Close").tap()
    page.evaluate("document.activeElement.blur()")
    shot(page, "push-day")
    page.get_by_role("button", name="Screen").tap()
    page.get_by_label("Night red").check()
    page.get_by_role("button", name="Close").tap()
    page.evaluate("document.activeElement.blur()")
    sideways.goto(scope.url + "/#find")
    shot(sideways, "push-sideways")
    scope.point_at_target()
    shot(page, "field")
    scope.do("set_eyepiece", name="9 mm")
    scope.do("not_in_field")
    scope.do("not_in_field")
    page.locator(".sweep circle.seen").nth(1).wait_for()
    page.locator(".sweep").evaluate("e => e.scrollIntoView({block: 'center'})")
    shot(page, "sweep")
    scope.do("set_eyepiece", name="32 mm")
    view(page, "mend")
    page.wait_for_timeout(1500)
    shot(page, "why")
    scope.do("note", text="Frost on the finder by eight. The spruce has grown.")
    view(page, "log")
    page.locator(".line").first.tap()
    shot(page, "log", full=True)


def beside(scope: Scope, page: Any) -> None:
    """The same evening beside a closed controller, which shows only numbers."""
    scene = thornback_ridge()
    stars = ["Aldebaran", "Capella", "Deneb", "Hamal", "Procyon", "Sirius"]
    scope.do("set_controller", stars=stars, clock="yes")
    scope.do("pick", stars=["Aldebaran", "Deneb"])
    start, began = Instant.parse(scope.state()["now_utc"]), time.monotonic()
    tube = ClosedTelescope(
        scene.site,
        lambda: start.plus_seconds(time.monotonic() - began),
        scene.hidden,
        favoured="second",
    )

    def enter(event: str, **more: Any) -> None:
        scope.do("controller_entry", id=f"picture-{time.monotonic_ns()}", event=event, **more)

    def order(do: str, name: str = "") -> Lines:
        return tube.obey(Order(do=do, name=name))

    def centred(name: str) -> None:
        seen = order("object", name)
        left = {"left_az_deg": seen.left_az_deg, "left_alt_deg": seen.left_alt_deg}
        enter("centred", star=name, **left)

    order("upright")
    enter("upright")
    time.sleep(20)
    order("centre", "Aldebaran")
    order("star", "Aldebaran")
    enter("star", star="Aldebaran")
    page.goto(scope.url + "/#sight")
    page.locator("#tap").wait_for()
    shot(page, "beside-sight")
    time.sleep(15)
    order("centre", "Deneb")
    shown = order("star", "Deneb")
    enter("star", star="Deneb")
    enter("number", number_deg=shown.number_deg)
    centred("Deneb")
    scope.do("set_target", name="M 42")
    order("centre", "M 42")
    centred("M 42")
    scope.do("set_target", name="M 81")
    view(page, "find")
    page.locator(".onward").wait_for()
    page.locator(".eyepiece-picture").wait_for(timeout=60_000)
    page.evaluate("document.activeElement.blur()")
    shot(page, "beside")


def main() -> None:
    path = chromium()
    if path is None:
        raise SystemExit("no chromium here: the pictures are made with it")
    IMAGES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as p:
        scope = Scope(Path(place))
        try:
            scope.serve()
            browser = p.chromium.launch(executable_path=path, args=CHROMIUM_ARGS)
            phone = browser.new_context(
                viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
            )
            wide = browser.new_context(viewport={"width": 844, "height": 390}, has_touch=True)
            if "beside" not in sys.argv[1:]:
                evening(scope, phone.new_page(), wide.new_page())
                scope.do("end_outing")
            beside(scope, phone.new_page())
            browser.close()
        finally:
            scope.close()


if __name__ == "__main__":
    main()
