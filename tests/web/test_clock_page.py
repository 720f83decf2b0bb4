"""A wrong clock on the page: the question, the consent, and the times put right, by thumb."""

from __future__ import annotations

import re
from typing import Any

import pytest

import needs
from plumbstar.sky.times import Instant

from . import scope as scopes
from .conftest import keep
from .scope import Scope

expect = needs.module("playwright.sync_api").expect

TRUE = Instant.parse("2027-01-28T18:30:00Z").to_unix()
SLOW = 743.0
#: The server's computer believes in this time; the phone has the right one.
SLOW_COMPUTER = (
    "import time; wall = time.time; began = wall(); time.time = lambda: "
    f"{TRUE - SLOW} + wall() - began; "
)

pytestmark = pytest.mark.own_page


@pytest.fixture
def slow(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A server on a computer whose clock is slow; circles read by eye."""
    monkeypatch.setattr(scopes, "QUICK", SLOW_COMPUTER)
    s = Scope(tmp_path, quick=True, typed=True, fresh=True)
    try:
        s.serve(utc="")
        yield s
    finally:
        s.close()


def right_phone(phone: Any, by_s: float = 0.0) -> None:
    """Give the phone the true time, counted from now."""
    phone.add_init_script(
        f"const real = Date.now.bind(Date); const off = {(TRUE + by_s) * 1000} - real();"
        "Date.now = () => real() + off;"
    )


def test_the_phones_time_by_consent_and_the_saved_times_after(slow: Scope, phone: Any) -> None:
    for k, (star, az, alt) in enumerate((("Capella", 70.0, 60.0), ("Rigel", 150.0, 30.0))):
        slow.do("sight", star=star, id=f"clock-page-{k}", reading={"az_deg": az, "alt_deg": alt})
    right_phone(phone)
    phone.goto(slow.url + "/#fix")
    doubt = phone.locator("#clock-doubt")
    expect(doubt).to_contain_text(re.compile("This phone.s clock is 12 min [0-9]+ s ahead"))
    expect(doubt).to_contain_text(
        re.compile(r"This phone says 18:3\d:\d\d UTC, .* 18:1\d:\d\d UTC")
    )
    expect(doubt).to_contain_text("If you agree")
    expect(phone.locator("#times-offer")).to_have_count(0)
    button = phone.get_by_role("button", name="Use this phone’s time")
    for b in (button, phone.get_by_role("button", name="Keep the computer’s time")):
        box = b.bounding_box()
        assert box is not None
        assert box["height"] >= 56
        assert box["width"] >= 56
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    keep(phone, "clock-doubt")
    button.tap()
    expect(doubt).to_have_count(0)
    assert slow.state()["timing"]["source"] == "phone"
    assert slow.state()["now_utc"].startswith("2027-01-28T18:3")
    before = [s["utc"] for s in slow.state()["sightings"]]

    offer = phone.locator("#times-offer")
    expect(offer).to_contain_text(
        re.compile(r"These 2 sightings were timed by the wrong clock: correct them by \+0:12:\d\d")
    )
    keep(phone, "clock-offer")
    phone.get_by_role("button", name="Correct them").tap()
    expect(offer).to_have_count(0)
    expect(phone.locator(".sighting").first).to_contain_text("corrected by +0:12:")
    assert [s["utc"] for s in slow.state()["sightings"]] != before
    keep(phone, "clock-corrected", full=True)
    slow.do("undo")
    expect(offer).to_be_visible()
    assert [s["utc"] for s in slow.state()["sightings"]] == before


def test_keeping_the_computers_time_is_one_press_too(slow: Scope, phone: Any) -> None:
    right_phone(phone)
    phone.goto(slow.url + "/#prepare")
    phone.get_by_role("button", name="Keep the computer’s time").tap()
    expect(phone.locator("#clock-doubt")).to_have_count(0)
    assert slow.state()["timing"]["source"] == "computer"


def test_nothing_is_said_when_the_clocks_agree(slow: Scope, phone: Any) -> None:
    right_phone(phone, -SLOW)
    with phone.expect_response(lambda r: "phone_ms" in r.url):
        phone.goto(slow.url + "/#prepare")
    phone.wait_for_timeout(300)
    expect(phone.locator("#question")).to_be_visible()
    expect(phone.locator("#clock-doubt")).to_have_count(0)


def test_the_place_from_the_phone_where_the_browser_tells_it(slow: Scope, phone: Any) -> None:
    phone.context.grant_permissions(["geolocation"])
    phone.context.set_geolocation({"latitude": 47.21234, "longitude": 11.5987, "accuracy": 12})
    right_phone(phone, -SLOW)
    phone.goto(slow.url + "/#prepare")
    phone.get_by_role("button", name=re.compile("^Where you stand")).tap()
    phone.get_by_role("button", name="Fill in this phone’s place").tap()
    expect(phone.locator("#outcome")).to_contain_text("good to about 12 m")
    expect(phone.locator("#site-lat")).to_have_value("47.21234")
    expect(phone.locator("#site-lon")).to_have_value("11.5987")
    expect(phone.locator("#site-zone")).to_have_value("Europe/Vienna")
    assert slow.state()["site"]["lat_deg"] == 47.2  # filled in, not saved
    phone.get_by_role("button", name="Save the site").tap()
    expect(phone.locator("#outcome")).to_contain_text("aved")
    assert slow.state()["site"]["lat_deg"] == 47.21234


def test_a_phone_that_is_not_asked_over_plain_http_says_why(slow: Scope, phone: Any) -> None:
    right_phone(phone, -SLOW)
    with phone.expect_response(lambda r: "phone_ms" in r.url):  # no word of its clock comes later
        phone.goto(slow.url + "/#prepare")
    phone.get_by_role("button", name=re.compile("^Where you stand")).tap()
    phone.evaluate("Object.defineProperty(window, 'isSecureContext', { value: false })")
    phone.locator("#site-name").fill("x")  # draws anew
    expect(phone.locator("#phone-place")).to_contain_text("only to a page over https")
    expect(phone.get_by_role("button", name="Fill in this phone’s place")).to_have_count(0)


@pytest.mark.parametrize("dress", ["night", "day"])
def test_a_phone_that_says_day_asks_whether_the_sun_is_down(
    slow: Scope, phone: Any, dress: str
) -> None:
    """The computer says half past six in the evening, the phone half past nine in the morning."""
    for k, (star, az, alt) in enumerate((("Capella", 70.0, 60.0), ("Rigel", 150.0, 30.0))):
        slow.do("sight", star=star, id=f"sun-page-{k}", reading={"az_deg": az, "alt_deg": alt})
    slow.do("set_target", name="M 42")
    slow.do("pick", stars=["Procyon"])
    right_phone(phone, 15 * 3600.0)
    phone.add_init_script(f"localStorage.setItem('plumbstar.dress', '{{\"dress\": \"{dress}\"}}')")
    phone.goto(slow.url + "/#find")
    question = "Is the Sun below the horizon where you stand?"
    expect(phone.locator("main .answer").first).to_have_text(question)
    main = phone.locator("main")
    expect(main).to_contain_text("A phone's clock says")
    expect(main).not_to_contain_text("Push until")
    yes = phone.get_by_role("button", name="Yes, it is below the horizon")
    keep(phone, f"sun-question-{dress}", full=True)
    slow.do("sight", star="Castor", id="by-day-00", reading={"az_deg": 80.0, "alt_deg": 40.0})
    for what in ("undo", "redo"):
        slow.do(what)
    # However much is to be said first, the answer is given on the first screen.
    expect(phone.locator("#stage .more-notices")).to_have_text("2 notices")
    phone.evaluate("scrollTo(0, 0)")
    box = phone.get_by_role("button", name="No, or I am not sure").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= phone.locator("nav").bounding_box()["y"]
    keep(phone, f"sun-question-notices-{dress}")
    phone.evaluate("location.hash = 'sight'")
    banner = phone.locator("#sun-question")
    expect(banner).to_contain_text(question)
    expect(main).to_contain_text("question about the Sun")
    keep(phone, f"sun-question-sight-{dress}", full=True)
    phone.get_by_role("button", name="No, or I am not sure").tap()
    expect(banner).to_contain_text("Nothing is pointed to")
    keep(phone, f"sun-question-no-{dress}", full=True)
    phone.evaluate("location.hash = 'find'")
    yes.tap()
    expect(main).to_contain_text("Push until")
    expect(banner).to_have_count(0)
    assert slow.state()["sun_question"] is None
    notes = [n["text"] for n in slow.log(1)["notes"]]
    assert any(re.search(r"on screen \w{4} at 18:.*below the horizon", n) for n in notes)
