"""What becomes of a press of "centred" on the pages, when it is not simply saved."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from .conftest import keep
from .scope import Scope


@pytest.fixture
def typed(tmp_path: Path, phone: Any) -> Iterator[Scope]:
    """Circles read by eye, two stars sighted, M 31 chosen, and the phone on its page."""
    s = Scope(tmp_path, typed=True, quick=True)
    try:
        s.serve()
        s.do("pick", stars=["Capella", "Rigel"])
        s.do("start_outing")
        for k, star in enumerate(("Capella", "Rigel")):
            s.point_at_star(star)
            az, alt = circles(s)
            s.do("sight", id=f"press-{k:04d}", star=star, reading={"az_deg": az, "alt_deg": alt})
        s.do("set_target", name="M 31")
        s.point_at_target()
        phone.goto(s.url + "/#find")
        yield s
    finally:
        s.close()


def circles(s: Scope) -> tuple[float, float]:
    """What the two circles show."""
    at = s.order(where=True)["where"]
    return round(at["az_reading_deg"] % 360, 1), round(at["alt_reading_deg"], 1)


def seconds(utc: str) -> float:
    return datetime.fromisoformat(utc.replace("Z", "+00:00")).timestamp()


def type_in(phone: Any, az: float, alt: float) -> None:
    phone.locator("#read-az").fill(f"{az}")
    phone.locator("#read-alt").fill(f"{alt}".replace(".", ","))
    phone.get_by_role("button", name="Save the sighting").tap()


def test_a_find_by_typed_circles_keeps_its_moment_and_asks_for_the_readings(
    typed: Scope, phone: Any
) -> None:
    az, alt = circles(typed)
    began = seconds(typed.state()["now_utc"])
    phone.get_by_role("button", name="Here, centred").tap()
    pressed = seconds(typed.state()["now_utc"])
    expect(phone.locator(".big-words")).to_have_text(
        "The moment is kept. What do the circles read?"
    )
    keep(phone, "night-typed-find")
    phone.wait_for_timeout(2500)  # the readings take their time, the moment does not
    type_in(phone, az, alt + 300)  # no circle shows that
    line = phone.locator(".unsaved")
    expect(line).to_contain_text("could not be saved")
    expect(line.get_by_role("button", name="Try again")).to_have_count(0)
    keep(phone, "night-typed-find-refused")
    line.get_by_role("button", name="Type the readings").tap()
    type_in(phone, az, alt)
    expect(phone.locator("#outcome")).to_contain_text("Saved: ")
    expect(phone.get_by_text("It is in the log, and the fix has learnt from it.")).to_be_visible()
    expect(line).to_have_count(0)
    saved = typed.state()["sightings"][-1]
    assert (saved["star"], saved["az_reading_deg"]) == ("M 31", pytest.approx(az, abs=1e-6))
    assert began - 1.1 <= seconds(saved["utc"]) <= pressed + 1.1  # now_utc is whole seconds
    assert typed.state()["undo"]["words"] == "the find of M 31"


def test_a_find_taken_back_is_not_called_found_though_an_earlier_one_stands(
    typed: Scope, phone: Any
) -> None:
    said = phone.get_by_text("It is in the log, and the fix has learnt from it.")
    for name in ("M 31", "Aldebaran"):
        typed.do("set_target", name=name)
        typed.point_at_target()
        phone.get_by_role("button", name="Here, centred").tap()
        type_in(phone, *circles(typed))
        expect(said).to_be_visible()
    phone.get_by_role("button", name=re.compile("^Undo")).tap()
    expect(said).to_have_count(0)
    expect(phone.get_by_role("button", name="Here, centred")).to_be_visible()
    assert typed.state()["undo"]["words"] == "the find of M 31"  # the earlier one
    assert typed.state()["sightings"][-1]["star"] == "M 31"
    typed.do("redo")
    expect(said).to_be_visible()
    # A page that made no press: chosen again, by whom ever, it is looked for again.
    phone.reload()
    expect(said).to_be_visible()
    typed.do("set_target", name="M 31")
    expect(phone.locator(".target-name")).to_contain_text("M 31")
    typed.do("set_target", name="Aldebaran")
    expect(phone.get_by_role("button", name="Here, centred")).to_be_visible()
    expect(said).to_have_count(0)


def test_a_tap_that_cannot_be_what_it_says_is_asked_about_in_one_line(
    scope: Scope, phone: Any
) -> None:
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    phone.goto(scope.url + "/#sight")
    scope.point_at_star("Capella")
    phone.locator("#centred").tap()
    expect(phone.locator("#outcome")).to_have_text("Saved: Capella.")
    expect(phone.locator(".star-name")).to_have_text("Rigel")
    expect(phone.locator("#centred")).to_contain_text("Centred")
    phone.wait_for_timeout(2100)  # the button rests after a tap
    began = seconds(scope.state()["now_utc"])
    phone.locator("#centred").tap()  # and the tube was not moved
    question = phone.locator("#doubt")
    expect(question).to_contain_text("Was this Rigel, centred? By its readings the telescope")
    expect(question).to_contain_text("at the same place as for Capella.")
    expect(phone.locator("#outcome")).to_contain_text("Rigel: not saved yet.")
    keep(phone, "night-doubt")
    assert phone.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    question.get_by_role("button", name="No, drop it").tap()
    expect(question).to_have_count(0)
    expect(phone.locator("#outcome")).to_have_text("Dropped. Nothing was saved.")
    assert [s["star"] for s in scope.state()["sightings"]] == ["Capella"]

    phone.wait_for_timeout(2100)
    pressed = seconds(scope.state()["now_utc"])
    phone.locator("#centred").tap()
    expect(question).to_be_visible()
    phone.wait_for_timeout(2500)
    expect(phone.locator("#outcome")).to_contain_text("Rigel: not saved yet.")
    another = scope.state()["doubts"][0]["id"]  # answered there, nothing is said of it here
    scope.do("answer_doubt", id=another, save=True)
    expect(question).to_have_count(0)
    expect(phone.locator("#outcome")).to_have_text("", timeout=5_000)  # it fades after twelve
    saved = scope.state()["sightings"][-1]
    assert saved["star"] == "Rigel"
    assert began <= pressed
    # now_utc is whole seconds, rounded; the answer came 2.5 s after the press.
    assert pressed - 1.1 <= seconds(saved["utc"]) <= pressed + 2.1


def test_a_find_far_from_where_the_fix_has_it_is_asked_about(scope: Scope, phone: Any) -> None:
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    for k, star in enumerate(("Capella", "Rigel")):
        scope.point_at_star(star)
        scope.do("sight", id=f"press-{k:04d}", star=star)
    scope.do("set_target", name="M 31")
    phone.goto(scope.url + "/#find")
    said = phone.get_by_text("It is in the log, and the fix has learnt from it.")
    phone.get_by_role("button", name="Here, centred").tap()
    question = phone.locator("#doubt")
    expect(question).to_contain_text("Was this M 31, centred?")
    expect(said).to_have_count(0)
    keep(phone, "night-doubt-find")
    question.get_by_role("button", name=re.compile("^Yes")).tap()
    expect(phone.locator("#outcome")).to_have_text("Saved, as of the press.")
    expect(phone.get_by_role("button", name="Centred again")).to_be_visible()


def test_after_a_tap_is_taken_back_the_next_one_counts_at_once(scope: Scope, phone: Any) -> None:
    """The rest after a tap is for a thumb that slips, not for one that means it."""
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    scope.point_at_star("Capella")
    phone.goto(scope.url + "/#sight")
    for _ in range(3):  # three taps kept apart by no more than the page's own answers
        expect(phone.locator(".star-name")).to_have_text("Capella")
        phone.locator("#centred").tap()
        expect(phone.locator("#outcome")).to_have_text("Saved: Capella.")
        expect(phone.locator(".star-name")).to_have_text("Rigel")
        phone.get_by_role("button", name="Undo: Capella sighted").tap()
        expect(phone.locator("#outcome")).to_have_text("Undone.")
    assert not scope.state()["sightings"]
