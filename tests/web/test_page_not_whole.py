"""A weak Wi-Fi: a script does not come. The page says so, tries again, and is never just black."""

from __future__ import annotations

import time
from typing import Any

import pytest

import needs
import patience

from .conftest import keep
from .scope import Scope, until

pytestmark = pytest.mark.own_page

expect = needs.module("playwright.sync_api").expect


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Any:
    s = Scope(tmp_path_factory.mktemp("not-whole"))
    try:
        s.serve()
        yield s.url
    finally:
        s.close()


class Fails:
    """A route that fails so many times, and then no more."""

    def __init__(self, times: float) -> None:
        self.left, self.asked = times, 0

    def __call__(self, route: Any) -> None:
        self.asked += 1
        self.left -= 1
        if self.left >= 0:
            route.abort("connectionreset")
        else:
            route.continue_()


def not_whole(page: Any) -> Any:
    """What is said, once it is in sight."""
    box = page.locator("#unloaded")
    expect(box).to_be_visible()
    expect(box).to_contain_text("This page did not load whole.")
    expect(box).to_contain_text("Nothing that was saved is lost.")
    assert page.locator("#stage").inner_html() == ""
    return box


@pytest.mark.parametrize("part", ["app-*.js", "page-*.css"])
def test_what_fails_once_is_loaded_again_by_itself(home: str, phone: Any, part: str) -> None:
    fails = Fails(1)
    phone.route(f"**/static/{part}", fails)
    phone.goto(home + "/#fix")
    expect(phone.locator("#question")).to_have_text("Is it good enough?")
    expect(phone.locator("html")).to_have_css("background-color", "rgb(0, 0, 0)")
    expect(phone.locator("#unloaded")).to_be_hidden()
    assert fails.asked == 2
    until(phone, "() => sessionStorage.length === 0")  # the next failure is a first one again


def test_what_fails_for_ever_is_said_with_one_large_button(home: str, phone: Any) -> None:
    fails = Fails(float("inf"))
    phone.clock.install()  # the page's waits need not be waited
    phone.route("**/static/app-*.js", fails)
    phone.goto(home)
    box = not_whole(phone)
    expect(box).to_contain_text("It tries again by itself.")
    again = phone.get_by_role("link", name="Load it again")
    expect(again).to_be_in_viewport(ratio=1)
    size = again.bounding_box()
    assert size is not None
    assert size["height"] >= 80
    assert size["width"] > 300
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    keep(phone, "night-not-whole")
    for tries in (1, 2, 3):
        phone.clock.fast_forward(8000)
        until(phone, f"() => sessionStorage.getItem('plumbstar.loads') === '{tries}'")
        not_whole(phone)  # after each, it is said anew
    expect(box).to_contain_text("If this goes on, try another browser.")
    assert fails.asked >= 3
    fails.left = 0
    again.tap()
    expect(phone.locator("nav")).to_be_visible()
    expect(box).to_be_hidden()


def test_without_an_answer_the_browsers_own_white_page_never_comes(home: str, phone: Any) -> None:
    silent = True

    def answer(route: Any) -> None:  # the page itself comes once, and then for a while no more
        route.abort("addressunreachable") if silent and page.asked else route.continue_()
        page.asked += 1

    page, scripts = Fails(0), Fails(1)
    phone.route(home + "/", answer)
    phone.route("**/static/app-*.js", scripts)
    phone.goto(home + "/#log")
    box = not_whole(phone)
    no_answer = "The telescope’s computer does not answer. It tries again by itself."
    expect(box).to_contain_text(no_answer)
    keep(phone, "night-not-whole-no-answer")
    asked = page.asked
    phone.get_by_role("link", name="Load it again").tap()
    expect(box).to_contain_text(no_answer)
    assert page.asked > asked
    assert scripts.asked == 1
    assert phone.url == home + "/#log"
    silent = False
    expect(phone.locator("#question")).to_have_text("What was seen?")


def test_a_page_that_comes_later_does_not_come(home: str, phone: Any) -> None:
    """Log, Mend and Seen come after the first drawing: all else works without them."""
    fails = Fails(float("inf"))
    phone.clock.install()
    phone.route("**/static/rest-*.js?*", fails)
    phone.goto(home + "/#log")
    expect(phone.locator("#question")).to_have_text("What was seen?")
    main = phone.locator("main")
    expect(main).to_contain_text("This page has not come yet. It is asked for again.")
    again = phone.get_by_role("button", name="Load it again")
    expect(again).to_be_in_viewport(ratio=1)
    keep(phone, "night-page-not-come")
    phone.locator("nav").get_by_role("link", name="Sight").tap()
    expect(phone.locator("#question")).not_to_have_text("What was seen?")
    # The browser's own white page never comes by that button.
    phone.locator("nav").get_by_role("link", name="Log").tap()
    phone.route(home + "/", lambda route: route.abort("addressunreachable"))
    again.tap()
    expect(phone.locator("#outcome")).to_have_text("No answer from the telescope’s computer.")
    asked = fails.asked
    fails.left = 0
    phone.clock.fast_forward(15_000)
    expect(main).not_to_contain_text("has not come")
    expect(phone.get_by_role("button", name="Load it again")).to_have_count(0)
    assert fails.asked > asked
    assert len(main.inner_text()) > 40


def test_a_script_that_neither_comes_nor_fails(home: str, phone: Any) -> None:
    """Nor does the script that would tell of it: then page.css does, with a plain link."""
    held = []
    phone.route("**/static/loading-*.js", lambda route: route.abort("connectionreset"))
    phone.route("**/static/app-*.js", lambda route: held.append(route))
    phone.goto(home, wait_until="commit")
    expect(phone.locator("#unloaded")).to_be_hidden()
    box = not_whole(phone)
    expect(box).to_contain_text("Is this phone still on the telescope’s Wi-Fi?")
    expect(box).not_to_contain_text("by itself")
    phone.unroute("**/static/app-*.js")
    phone.get_by_role("link", name="Load it again").tap()
    expect(phone.locator("nav")).to_be_visible()
    for route in held:
        route.abort()
    # Of what comes later, it is said after a while.
    held.clear()
    phone.clock.install()
    phone.route("**/static/rest-*.js?*", lambda route: held.append(route))
    phone.goto(home + "/?again#mend")
    expect(phone.locator("main")).to_contain_text("One moment…")
    expect(phone.get_by_role("button", name="Load it again")).to_have_count(0)
    phone.clock.fast_forward(6500)
    expect(phone.get_by_role("button", name="Load it again")).to_be_visible()
    for route in held:
        route.continue_()
    expect(phone.locator("main")).not_to_contain_text("has not come")


def test_the_pairing_form_too(tmp_path: Any, browser: Any) -> None:
    s = Scope(tmp_path, serve_args=("--host", "0.0.0.0", "--name", "scope.test"))
    page = browser.new_page()
    try:
        s.serve()
        page.route("**/static/pair-*.js", Fails(1))
        page.goto(f"http://scope.test:{s.port}/#find")
        expect(page.get_by_role("heading")).to_have_text("Pair this phone")
    finally:
        page.close()
        s.close()


def test_a_page_that_came_slowly_does_not_begin_with_no_answer(home: str, phone: Any) -> None:
    """Silence counts from when the telescope was first asked, not from the page's first byte."""
    held: list[Any] = []
    phone.clock.install()
    phone.route("**/static/app-*.js", lambda route: held.append(route))
    phone.route("**/stream", lambda route: None)
    phone.goto(home + "/#prepare", wait_until="commit")
    until(phone, "() => document.readyState === 'interactive'")
    # The script is asked for by the page's bytes, and heard of here by an event of its own.
    for _ in range(round(patience.SECONDS / 0.05)):
        if held:
            break
        phone.evaluate("1")
        time.sleep(0.05)
    phone.clock.fast_forward(5000)
    held[0].continue_()
    words = phone.locator("#status-words")
    expect(words).to_be_visible()
    phone.clock.run_for(1100)
    expect(words).not_to_contain_text("No answer")
    phone.clock.run_for(3000)
    expect(words).to_contain_text("No answer from the telescope for 4")
