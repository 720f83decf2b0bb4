"""The evening beside a closed controller on the phone: from ticks to objects found, in Chromium."""

from __future__ import annotations

import re
import time
from typing import Any

import needs
from plumbstar.simulate.closed_telescope import ClosedTelescope, Lines, Order
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.times import Instant

from .scope import Scope

expect = needs.module("playwright.sync_api").expect
SCENE = thornback_ridge()


def type_left(page: Any, lines: Lines, button: str) -> None:
    page.locator("#left-az").fill(str(lines.left_az_deg))
    page.locator("#left-alt").fill(str(lines.left_alt_deg))
    page.get_by_role("button", name=button).tap()


def test_from_ticks_to_objects_found(scope: Scope, phone: Any) -> None:
    page = phone
    page.goto(scope.url + "/#prepare")
    page.get_by_role("button", name=re.compile("Your telescope")).tap()
    page.get_by_role("button", name="My controller shows only numbers").tap()
    for star in ("Capella", "Hamal", "Aldebaran"):
        page.get_by_role("switch", name=re.compile(f"^{star}")).tap()
    page.get_by_role("button", name="Save these 3 stars").tap()
    page.get_by_role("button", name="Choose the stars").tap()
    page.get_by_role("button", name="Choose tonight").tap()
    page.get_by_role("button", name=re.compile("^Use ")).tap()
    page.get_by_role("button", name="Start the outing").tap()

    state = scope.state()
    start, began = Instant.parse(state["now_utc"]), time.monotonic()
    tube = ClosedTelescope(
        SCENE.site, lambda: start.plus_seconds(time.monotonic() - began), SCENE.hidden,
        favoured="second",
    )  # fmt: skip
    tube.obey(Order(do="upright"))
    page.get_by_role("button", name="On the stop").tap()
    stars = state["beside"]["stars"]
    for name in stars:
        tube.obey(Order(do="centre", name=name))
        page.get_by_text(f"Centre {name}, and tap").wait_for()
        lines = tube.obey(Order(do="star", name=name))
        page.locator("#tap").tap()
    page.locator("#shown-number").fill(str(lines.number_deg))
    page.get_by_role("button", name="Save the number").tap()
    expect(page.locator("main")).to_contain_text("Look back")
    type_left(page, tube.obey(Order(do="object", name=stars[1])), "Save what is left")
    page.locator("main").get_by_role("button", name="Find an object").tap()
    for name in ("M 37", "M 42"):
        page.locator("#find").fill(name)
        page.get_by_role("button", name=re.compile(name)).first.tap()
        expect(page.locator("main")).to_contain_text("Then push on")
        tube.obey(Order(do="object", name=name))
        tube.obey(Order(do="centre", name=name))
        type_left(page, tube.obey(Order(do="look")), "Here, centred")
        expect(page.locator("main")).to_contain_text("Found: it is in the log")
        page.get_by_role("button", name="Find another").tap()
    assert [f["target"] for f in scope.state()["beside"]["finds"]] == ["M 37", "M 42"]
