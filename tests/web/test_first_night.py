"""What a newcomer stumbled over on a first night, walked again in a real browser."""

from __future__ import annotations

import re
import time
from types import SimpleNamespace
from typing import Any

import msgspec
import pytest

import needs
from plumbstar.contract.picture import PlannedStar, TargetRecord
from plumbstar.contract.reading import PushLeft
from plumbstar.diagnose.history import Job
from plumbstar.diagnose.history.record import Work
from plumbstar.simulate.hand import CentreWish, PretendHand, PushWish, wish_of
from plumbstar.simulate.tube import Ordered, TubeAt
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.views.many_nights import gain_words

from .conftest import keep
from .scope import Scope, until

expect = needs.module("playwright.sync_api").expect


def test_a_refusal_is_in_sight_of_the_button(scope: Scope, phone: Any) -> None:
    """Far down the page: what the tap led to stands below the top line, not out of sight."""
    phone.goto(scope.url + "/#prepare")
    phone.get_by_role("button", name="Where you stand").tap()
    phone.locator("#site-lat").fill("north")
    phone.get_by_role("button", name="Save the site").tap()
    said = phone.locator("#outcome")
    expect(said).to_contain_text("must be numbers")
    assert phone.evaluate("scrollY") > 300
    expect(said).to_be_in_viewport(ratio=1)
    # Not behind the top line, which a late reading makes taller: both at one and the same moment.
    until(
        phone,
        """() => document.querySelector("#outcome").getBoundingClientRect().top
          >= document.querySelector("header").getBoundingClientRect().bottom - 1""",
    )


def test_an_empty_note_is_answered(scope: Scope, phone: Any) -> None:
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    phone.goto(scope.url + "/#log")
    phone.get_by_role("button", name="Save the note").tap()
    expect(phone.locator("#outcome")).to_have_text("Nothing is written yet.")


def test_from_tonight_to_the_second_object(scope: Scope, phone: Any) -> None:
    """Tonight has its station; it asks for stars first; the next push begins at the page's top."""
    page = phone
    page.goto(scope.url)
    page.locator("nav").get_by_role("link", name="Tonight").tap()
    page.get_by_role("button", name="Choose stars for these").tap()
    page.get_by_role("button", name=re.compile("^Use ")).wait_for(timeout=60_000)
    expect(page.locator("main")).to_contain_text("on tonight’s list")
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    page.locator("nav").get_by_role("link", name="Sight").tap()
    aim = page.get_by_text("Aim at it by eye")
    expect(aim).to_be_visible()
    for i, name in enumerate(("Capella", "Rigel")):
        scope.point_at_star(name)
        scope.do("sight", star=name, id=f"first-night-{i}")
    expect(aim).to_have_count(0)

    page.locator("nav").get_by_role("link", name="Fix").tap()
    page.get_by_role("button", name="The mount in numbers").tap()
    # Two stars say nothing of the droop: nor does the page.
    droop = page.locator(".terms li", has_text="droop")
    expect(droop).to_contain_text("The sightings do not show this yet.")
    expect(page.locator(".terms li", has_text="upright stop")).to_contain_text("altitude reads")
    page.locator("nav").get_by_role("link", name="Tonight").tap()
    first = page.get_by_role("button", name="Push to")
    short = first.inner_text().removeprefix("Push to ").strip()
    first.tap()
    scope.point_at_target()
    expect(page.locator(".push.arrived")).to_be_visible()
    page.locator("#here").tap()
    expect(page.locator("#field-words")).to_have_text("Found.")
    onward = page.get_by_role("button", name="Push on to")
    onward.wait_for()
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    # The one just found, even a star by its catalogue number, is not offered again.
    offered = onward.inner_text()
    assert short not in offered
    page.get_by_role("button", name="Ten minutes more here?").tap()
    expect(page.get_by_text(re.compile("^10 minutes more here would cost "))).to_be_visible()
    # By keyboard: the focus stays upon it while it is reckoned.
    page.get_by_role("button", name="And ten more?").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text(re.compile("^20 minutes more here would cost "))).to_be_visible()
    assert page.evaluate("document.activeElement.innerText") == "And ten more?"
    assert onward.inner_text() == offered  # what it is called does not change under a finger
    onward.tap()
    expect(page.locator("#here")).to_have_text("Here, centred")
    until(page, "scrollY === 0")
    # Found stays found where the browser was shut and the address opened again.
    scope.point_at_target()
    expect(page.locator(".push.arrived")).to_be_visible()
    page.locator("#here").tap()
    expect(page.locator("#field-words")).to_have_text("Found.")
    page.reload()
    expect(page.locator("#field-words")).to_have_text("Found.")
    expect(page.locator("#here")).to_have_text("Centred again")
    expect(page.locator("#not-here")).to_have_count(0)

    # Less likely causes are one tap away, not a thousand words down the page.
    page.goto(scope.url + "/#mend")
    fold = page.get_by_role("button", name="Less likely causes")
    fold.wait_for(timeout=60_000)
    before = page.locator(".why > li").count()
    fold.tap()
    expect(page.locator(".why > li").nth(before)).to_be_visible()


def test_a_star_picked_before_a_knock_is_not_asked_for_again(scope: Scope, phone: Any) -> None:
    """Sight names the star that the line above it names."""
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    # Where nothing can be told of what went wrong yet, the next thing to do is there, too.
    phone.goto(scope.url + "/#mend")
    phone.get_by_role("button", name="Sight Capella").tap()
    phone.get_by_role("button", name="Another star").tap()
    phone.get_by_role("button", name=re.compile("^Rigel")).tap()
    expect(phone.locator("h1, h2").filter(has_text="Rigel").first).to_be_visible()
    scope.point_at_star("Rigel")
    phone.locator("#centred").tap()
    expect(phone.locator(".so-far")).to_contain_text("Rigel")
    scope.do("base_moved")
    first = scope.state()["next"]["star"]
    assert first == "Capella"
    expect(phone.locator("h1, h2").filter(has_text=first).first).to_be_visible()


def test_an_object_of_ones_own_by_one_question_at_a_time(scope: Scope, phone: Any) -> None:
    """From a name that nothing has to the list, on the page's dark keys; then found by it."""
    phone.goto(scope.url + "/#find")
    phone.locator("#find").fill("Ember")
    phone.get_by_role("button", name="close keys").tap()
    phone.get_by_role("button", name="Add Ember as an object of your own").tap()
    expect(phone.locator("#own-name")).to_have_value("Ember")
    phone.get_by_role("button", name="Next").tap()
    phone.get_by_role("button", name="Next").tap()
    expect(phone.locator("#outcome")).to_have_text("That is still empty.")
    phone.locator("#own-ra").tap()
    for key in ("5", "Space", "3", "5"):
        phone.get_by_role("group", name="Keys").get_by_role("button", name=key, exact=True).tap()
    phone.locator("#own-dec").fill("−5 23")
    phone.get_by_role("button", name="Next").tap()
    phone.get_by_role("radio", name="Open cluster").tap()
    phone.get_by_role("button", name="Next").tap()
    phone.locator("#own-mag").fill("8,5")
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    phone.get_by_role("button", name="Put it on my list").tap()
    expect(phone.locator("#outcome")).to_have_text("Ember is on your list.")
    found = phone.locator(".results li").first
    expect(found).to_contain_text("Open cluster; magnitude 8.5")
    # Taken out again where the next one would be added.
    phone.get_by_role("button", name="An object of your own").tap()
    phone.get_by_role("button", name="Take out Ember").tap()
    expect(phone.locator("#outcome")).to_have_text("Ember is off your list.")
    expect(phone.get_by_role("button", name="Take out Ember")).to_have_count(0)


def test_how_far_off_in_words(scope: Scope, phone: Any) -> None:
    phone.goto(scope.url)
    said = phone.evaluate(
        """async () => {
          const { offset } = await import("/static/words.js");
          return [offset(0.2, -0.13), offset(-0.05, 0.004), offset(0.001, 0)];
        }"""
    )
    assert said == [
        "0.20° right and 0.13° down of the middle",
        "0.05° left of the middle",
        "in the middle",
    ]


def wish(plan, target=None, aimed="", next_star="", settles=False, connection="tcp"):
    """What the pretend hand does in such a picture; only what it reads of it is there."""
    do = "sight" if next_star else "find"
    following = SimpleNamespace(do=do, star=next_star, settles=settles)
    kit = SimpleNamespace(field_deg=1.5, connection=connection)
    return wish_of(
        SimpleNamespace(plan=plan, target=target, aimed_star=aimed, next=following, kit=kit)
    )


def test_the_pretend_hand_goes_to_the_star_before_there_is_a_fix() -> None:
    """A target chosen too early once kept the demo's hand from ever sighting a star."""
    star = PlannedStar(
        star="Aldebaran", label="α Tauri", v_mag=0.9, colour="", done=False, az_deg=127.0,
        alt_deg=49.0, where="", visible_from_utc=None, lookalikes=(), az_reading_deg=None,
        alt_reading_deg=None,
    )  # fmt: skip
    early = TargetRecord(
        name="Saturn", label="Saturn", kind="planet", constellation="", v_mag=None,
        size_arcmin=None, double="", az_deg=115.0, alt_deg=30.0, where="",
    )  # fmt: skip
    aldebaran = CentreWish("Aldebaran", 127.0, 49.0)
    assert wish([star], early) == aldebaran
    ready = msgspec.structs.replace(early, az_reading_deg=115.6, alt_reading_deg=30.0)
    saturn = PushWish("Saturn", 115.0, 30.0, None, 1.5)
    assert wish([star], ready) == saturn
    # Circles read by eye are pushed until they show what the page says, of a search its field.
    by_eye = PushWish("Saturn", 115.0, 30.0, None, 1.5, (115.6, 30.0))
    assert wish([star], ready, connection="typed") == by_eye
    lost = msgspec.structs.replace(star, az_deg=None, alt_deg=None)  # no site, or near the Sun
    assert wish([lost]) is None
    # The star picked under "Another star", sighted before or not; and after a knock the star that
    # must come before the object.
    other = msgspec.structs.replace(star, star="Vega", done=True, az_deg=310.0)
    vega = CentreWish("Vega", 310.0, 49.0)
    assert wish([star, other], ready, aimed="Vega") == vega
    assert wish([star, other], ready, next_star="Vega", settles=True) == vega
    assert wish([star, other], ready, next_star="Vega") == saturn


def test_the_pretend_hand_pushes_by_circles_the_shorter_way(monkeypatch: Any) -> None:
    """The stream tells what is left from the last readings typed: they may be of another star."""
    hand = PretendHand("http://127.0.0.1:1", ("127.0.0.1", 1))
    hand.push_left = PushLeft(az_deg=90.0, alt_deg=-9.0, seconds=0.0)
    tube = TubeAt(true_az_deg=0.0, true_alt_deg=0.0, az_reading_deg=-2.5, alt_reading_deg=29.0)
    monkeypatch.setattr(hand, "_order", lambda order: Ordered(where=tube))
    left = hand._left(PushWish("Saturn", 115.0, 30.0, None, 1.5, (350.0, 30.0)))
    assert left is not None
    assert (left.az_deg, left.alt_deg) == (-7.5, 1.0)
    assert hand._left(PushWish("Saturn", 115.0, 30.0, None, 1.5)) == hand.push_left


def test_the_pretend_hand_keeps_what_it_has_centred() -> None:
    """Who read for five minutes got a fix off by a degree: the star had drifted away."""
    site = Site(47.2, 11.6)
    start = Instant.parse("2027-01-28T17:05:00Z")
    hand = PretendHand("http://127.0.0.1:1", ("127.0.0.1", 1))
    hand._site, hand._now = site, (start, time.monotonic() - 300.0)
    star = CentreWish("Aldebaran", 0.0, 0.0)
    gone = place_of(find_target("Aldebaran"), start.plus_seconds(300.0), site)
    assert hand._place("Aldebaran", star) == pytest.approx(gone, abs=0.02)


def test_for_whom_a_job_is_worth_most() -> None:
    stop = gain_words(Job("altitude_zero", Work.MEND, 0.1, 0.0, 0.55))
    assert stop == (
        "With the stop taken as true and the mount as perfect, to have it right would bring "
        "55 more targets in 100 into the field. After two stars it changes nothing: the fix "
        "allows for it."
    )
    cone = gain_words(Job("cone", Work.MEND, 0.2, 0.05, 0.1))
    assert cone == (
        "After one star, to have it right would bring 20 more targets in 100 into the field."
    )
    droop = gain_words(Job("droop", Work.MEND, 0.0, 0.05, 0.01))
    assert droop.startswith("After two stars, to have it right would bring 5 more targets")


def test_what_went_wrong_follows_a_knock_told_while_it_is_open(scope: Scope, phone: Any) -> None:
    """It went on asking for stars of before, beside a line that asked for two anew."""
    scope.sight_two()
    scope.do("pick", stars=["Capella", "Rigel", "Pollux"])
    star = next(p for p in scope.state()["plan"] if p["star"] == "Pollux")
    scope.point(star["az_deg"] + 1.5, star["alt_deg"] - 1.0)
    scope.do("sight", star="Pollux", id="not-centred-1")
    phone.goto(scope.url + "/#mend")
    expect(phone.locator(".why").first).to_contain_text("To make sure: Sight ")
    scope.do("base_moved")
    expect(phone.locator(".why").first).not_to_contain_text("To make sure: Sight ")
    onward = phone.get_by_role("button", name="Sight Capella")
    expect(onward).to_have_class(re.compile("next"))
    expect(phone.locator("button.next")).to_have_count(1)
    keep(phone, "mend-after-knock", full=True)
    onward.tap()
    expect(phone.locator("h1, h2").filter(has_text="Capella").first).to_be_visible()


def test_the_way_waits_while_something_else_comes_first(scope: Scope, phone: Any) -> None:
    """After a knock Find shows what settles it, not a way that may lead elsewhere; one tap shows
    that all the same."""
    scope.sight_two()
    scope.do("set_target", name="M 42")
    phone.goto(scope.url + "/#find")
    expect(phone.locator("#az-left")).to_be_visible()
    scope.do("base_moved")
    expect(phone.locator("#az-left")).to_have_count(0)
    expect(phone.locator("#not-here")).to_have_count(0)
    expect(phone.locator("button.next")).to_have_count(1)
    expect(phone.locator("#here")).to_be_visible()  # the object tells as much as a star
    keep(phone, "find-held", full=True)
    phone.get_by_role("button", name="The way, all the same").tap()
    expect(phone.locator("#az-left")).not_to_have_text("–")
    for k, star in enumerate(("Capella", "Rigel")):
        scope.point_at_star(star)
        scope.do("sight", star=star, id=f"held-{k}-0001")
    expect(phone.get_by_role("button", name="The way, all the same")).to_have_count(0)
    expect(phone.locator("#az-left")).to_be_visible()


def test_a_telescope_is_described_as_it_stands_on_its_tube(scope: Scope, phone: Any) -> None:
    """Inches and f/ by the page's own keys; what was understood stands below before it is kept."""
    phone.goto(scope.url + "/#prepare")
    phone.get_by_role("button", name=re.compile("Your telescope")).tap()
    phone.get_by_role("button", name="Change it, question by question").tap()
    phone.get_by_role("button", name="On degree circles, by eye").tap()
    keys = phone.get_by_role("group", name="Keys")
    phone.locator("#kit-aperture").fill("")
    phone.locator("#kit-aperture").tap()
    for key in ("8", "inch"):
        keys.get_by_role("button", name=key, exact=True).tap()
    phone.locator("#kit-focal").fill("")
    phone.locator("#kit-focal").tap()
    for key in ("f/", "6"):
        keys.get_by_role("button", name=key, exact=True).tap()
    expect(phone.get_by_text("8 inch: 203 mm. f/6: 6 times 203 is 1218 mm.")).to_be_visible()
    phone.locator("#kit-focal").fill("long")
    phone.get_by_role("button", name="Next").tap()
    expect(phone.locator("#outcome")).to_contain_text("“long”")
    phone.locator("#kit-focal").fill("f/6")
    phone.get_by_role("button", name="Next").tap()
    expect(phone.get_by_text("Which eyepieces do you have?")).to_be_visible()
