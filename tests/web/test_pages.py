"""The pages in real Chromium, with a real server and a simulated telescope."""

from __future__ import annotations

import io
import re
import time
import urllib.request
from datetime import datetime
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant

from .conftest import keep
from .scope import Scope, until

OBJECTS = ("M 81", "NGC 2392", "M 42", "M 37", "M 34", "M 31")  # the demo's six, a short way round


def sighted(scope: Scope) -> list[str]:
    """Stars sighted so far, in order."""
    return [s["star"] for s in scope.state()["sightings"]]


def choose_and_start(page: Any) -> None:
    """From the front page to an outing with the best two stars."""
    page.get_by_role("button", name="Choose tonight’s stars").tap()
    page.get_by_role("button", name=re.compile("^Use ")).tap(timeout=60_000)
    page.get_by_role("button", name="Start the outing").tap()


def sight_all(page: Any, scope: Scope) -> list[str]:
    """Centre and tap each planned star."""
    names = [p["star"] for p in scope.state()["plan"]]
    for name in names:
        expect(page.locator(".star-name")).to_have_text(name)
        scope.point_at_star(name)
        expect(page.locator("#centred.resting")).to_have_count(0)
        page.locator("#centred").tap()
        expect(page.locator("#outcome")).to_have_text(f"Saved: {name}.")
        expect(page.get_by_role("button", name=f"Undo: {name} sighted")).to_be_visible()
    return names


def find_on_keys(page: Any, name: str) -> None:
    """Type a name on the page's own dark keys and take the first result."""
    page.locator("#find").tap()
    head, _, number = name.partition(" ")
    page.get_by_role("group", name="Keys").get_by_role("button", name=head, exact=True).first.tap()
    for digit in number:
        page.get_by_role("group", name="Keys").get_by_role("button", name=digit, exact=True).tap()
    exactly = re.compile(rf"^{re.escape(name)}( \(|$)")
    page.locator(".first-match .line", has=page.locator("strong", has_text=exactly)).tap()


@pytest.fixture(scope="module")
def evening(tmp_path_factory: Any) -> Any:
    """A server with two sightings, a fix and a target: every screen has something to show."""
    s = Scope(tmp_path_factory.mktemp("evening"), quick=True)
    try:
        s.serve()
        s.do("set_skyline", text="0:8 104:10 117:38 130:9 290:10 296:27 334:27 340:9")
        s.do("choose", stars=2)
        for _ in range(100):
            if s.state()["choice"]["status"] == "ready":
                break
            time.sleep(0.2)
        s.do("pick", stars=["Capella", "Rigel"])
        s.do("start_outing")
        for i, name in enumerate(("Capella", "Rigel")):
            s.point_at_star(name)
            s.do("sight", star=name, ago_ms=0, id=f"evening-{i}-{name}")
        s.do("set_target", name="M 31")
        yield s
    finally:
        s.close()


def test_a_whole_outing_by_thumb_at_night(scope: Scope, phone: Any) -> None:
    """From choosing two stars to six objects centred, each step by touch."""
    page = phone
    page.goto(scope.url)
    expect(page.locator("html")).to_have_attribute("data-dress", "night")
    keep(page, "night-prepare")
    choose_and_start(page)
    keep(page, "night-sight")
    names = sight_all(page, scope)
    page.get_by_role("button", name="Find an object").tap()

    page.locator("nav").get_by_role("link", name="Fix").tap()
    expect(page.locator("#stage .answer").first).to_contain_text("32 mm field")
    assert scope.state()["fix"]["mean_hit_chance"] > 0.6
    for name in names:
        expect(page.locator(".sighting", has_text=name)).to_be_visible()
    keep(page, "night-fix", full=True)
    page.locator("nav").get_by_role("link", name="Find").tap()

    for i, name in enumerate(OBJECTS):
        find_on_keys(page, name)
        expect(page.locator(".target-name")).to_contain_text(name)
        if i == 0:
            # What is left to push is what the reading lacks, in huge figures with a word.
            expect(page.locator("#az-left")).to_have_text(re.compile(r"^\d+(\.\d+)?°$"))
            keep(page, "night-push")
        scope.point_at_target()
        expect(page.locator(".push.arrived")).to_be_visible()
        if i == 0:
            keep(page, "night-field")
        page.locator("#here").tap()
        expect(page.locator("#outcome")).to_contain_text(f"Saved: {name}")
        if i == 0:
            # Now what is seen is held against the drawing: it stays.
            expect(page.get_by_role("button", name="Centred again")).to_be_visible()
            expect(page.locator(".eyepiece-picture")).to_be_visible()
        page.get_by_role("button", name="Find another").tap()
    page.locator("nav").get_by_role("link", name="Log").tap()
    expect(page.locator("#stage .answer").first).to_contain_text("6 objects looked for")
    keep(page, "night-log")
    finds = scope.state()["sightings"]
    assert len(finds) == len(names) + len(OBJECTS)


def test_tonight_leads_from_one_object_to_the_next(evening: Scope, phone: Any) -> None:
    """The next object is the large button; the list pushes too; wishes change it."""
    page = phone
    page.goto(evening.url + "/#tonight")
    expect(page.locator("#stage .answer")).to_contain_text(": ", timeout=60_000)
    keep(page, "night-tonight", full=True)
    first = page.locator(".next").first
    expect(first).to_contain_text("Push to ")
    short = first.inner_text().removeprefix("Push to ").strip()
    visits = page.locator(".agenda li")
    assert visits.count() > 6
    first.tap()
    expect(page.locator(".target-name")).to_contain_text(short)
    page.goto(evening.url + "/#tonight")
    page.get_by_text("What you would like").tap()
    page.get_by_role("radio", name="Doubles").or_(
        page.get_by_role("button", name="Doubles")
    ).first.tap()
    expect(page.locator(".agenda small").first).to_contain_text("Double star", timeout=60_000)
    keep(page, "night-tonight-doubles", full=True)


def test_the_field_is_drawn_for_the_target(evening: Scope, phone: Any) -> None:
    """The picture stands under the buttons, loads, and changes with the target."""
    page = phone
    evening.do("set_target", name="M 37")
    page.goto(evening.url + "/#find")
    picture = page.locator(".eyepiece-picture")
    expect(picture).to_have_attribute("alt", re.compile("^M 37 in the 32 mm"), timeout=60_000)
    assert picture.evaluate("e => e.complete && e.naturalWidth > 0")
    keep(page, "night-eyepiece", full=True)
    evening.do("set_target", name="M 81")
    expect(picture).to_have_attribute("alt", re.compile("^M 81"), timeout=60_000)


def test_each_step_is_explained_once(scope: Scope, phone: Any) -> None:
    """Asked for on the first screen; gone for good, screen by screen, when read."""
    page = phone
    page.goto(scope.url)
    expect(page.locator(".lesson")).to_have_count(0)
    page.get_by_role("button", name=re.compile("^New to this")).tap()
    expect(page.locator(".lesson h2")).to_have_text("Before dusk")
    keep(page, "night-lesson")
    page.get_by_role("button", name="I see").tap()
    expect(page.locator(".lesson")).to_have_count(0)
    page.locator("nav").get_by_role("link", name="Sight").tap()
    expect(page.locator(".lesson h2")).to_have_text("Sighting a star")
    page.reload()
    page.locator("nav").get_by_role("link", name="Prepare").tap()
    expect(page.locator(".lesson")).to_have_count(0)
    expect(page.get_by_role("button", name=re.compile("^New to this"))).to_have_count(0)


def test_not_in_the_field_starts_the_sweep(evening: Scope, phone: Any) -> None:
    """Each "not in the field" fills one more circle of the path and leads to the next."""
    page = phone
    evening.do("set_eyepiece", name="9 mm")
    evening.do("set_target", name="M 37")
    page.goto(evening.url + "/#find")
    evening.point_at_target()
    page.locator("#not-here").tap()
    expect(page.get_by_role("heading", name="The search path")).to_be_visible()
    expect(page.locator(".sweep circle.seen")).to_have_count(1)
    expect(page.locator(".sweep circle.next")).to_have_count(1)
    page.locator("#not-here").tap()
    expect(page.locator(".sweep circle.seen")).to_have_count(2)
    keep(page, "night-sweep", full=True)
    # A slip of the thumb is taken back where the thumb is: to the field before, then to no search.
    back = page.locator("#field-back")
    # On a busy machine "the link is lost" may stand above for a moment, and push it down.
    in_reach = (
        "() => document.querySelector('#field-back').getBoundingClientRect().bottom"
        " < document.querySelector('nav').getBoundingClientRect().top"
    )
    until(page, in_reach)
    # And when the field is there, drawn large.
    evening.point_at_field()
    expect(page.locator("#field-words")).to_have_text("Field 3: look all over it.")
    until(page, in_reach)
    back.tap()
    expect(page.locator(".sweep circle.seen")).to_have_count(1)
    back.tap()
    expect(back).to_have_count(0)
    assert evening.state()["target"]["sweep"] is None
    evening.do("set_eyepiece", name="32 mm")


def test_silent_encoders_are_said_and_dimmed(evening: Scope, phone: Any) -> None:
    """What is old is not shown as if it were live; it comes back by itself."""
    evening.do("set_target", name="M 37")
    phone.goto(evening.url + "/#find")
    expect(phone.locator("#az-left")).to_have_text(re.compile(r"\d"))
    evening.order(silent=5)
    expect(phone.locator(".push.stale")).to_be_visible()
    expect(phone.locator("#push-state")).to_have_text(re.compile(r"\w+ \w+"))
    expect(phone.locator("#status-words")).to_contain_text("Old,")
    keep(phone, "night-stale")
    expect(phone.locator(".push.stale")).to_have_count(0)
    expect(phone.locator("#push-state")).to_have_text("")


def test_lost_link_keeps_the_tap_and_comes_back(evening: Scope, phone: Any) -> None:
    """Out of Wi-Fi: the tap is kept and said not to be saved; back: saved, once, by itself."""
    page = phone
    evening.do("plan_add", star="Pollux")
    page.goto(evening.url + "/#sight")
    expect(page.locator(".star-name")).to_have_text("Pollux")
    evening.point_at_star("Pollux")
    expect(page.locator("#centred")).to_be_enabled()
    page.context.set_offline(True)
    page.locator("#centred").tap()
    expect(page.locator(".unsaved")).to_contain_text("Pollux: not yet saved")
    keep(page, "night-unsaved")
    assert "Pollux" not in sighted(evening)
    time.sleep(1.0)
    page.context.set_offline(False)
    expect(page.locator(".unsaved")).to_have_count(0)
    expect(page.locator("#outcome")).to_have_text("Saved: Pollux.")
    assert sighted(evening).count("Pollux") == 1


def test_a_tap_outlives_the_page(evening: Scope, phone: Any) -> None:
    """Kept on the phone: closed and opened again without a link, it is still sent."""
    page = phone
    evening.do("plan_add", star="Castor")
    page.goto(evening.url + "/#sight")
    expect(page.locator(".star-name")).to_have_text("Castor")
    evening.point_at_star("Castor")
    page.route("**/do/sight", lambda route: route.abort())
    page.locator("#centred").tap()
    expect(page.locator(".unsaved")).to_contain_text("not yet saved")
    page.unroute("**/do/sight")
    page.reload()
    expect(page.locator("#outcome")).to_have_text("Saved: Castor.")
    assert sighted(evening).count("Castor") == 1


def test_server_killed_in_mid_outing_and_started_again(scope: Scope, phone: Any) -> None:
    """The page says that it hears nothing, and is whole again by itself."""
    page = phone
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    page.goto(scope.url + "/#sight")
    expect(page.locator(".star-name")).to_have_text("Capella")
    scope.point_at_star("Capella")
    page.locator("#centred").tap()
    expect(page.locator("#outcome")).to_have_text("Saved: Capella.")
    scope.kill()
    expect(page.locator("#status-words")).to_contain_text("No answer from the telescope for")
    expect(page.locator(".banner")).to_contain_text("The link is lost")
    page.locator("#centred").tap()
    expect(page.locator(".unsaved")).to_contain_text("Rigel: not yet saved")
    keep(page, "night-no-word")
    scope.serve("2027-01-28T17:09:00Z")
    expect(page.locator(".banner", has_text="The link is lost")).to_have_count(0)
    # The killed computer heard no encoders at that moment: nothing is made up.
    expect(page.locator(".unsaved")).to_contain_text("Rigel: could not be saved")
    page.get_by_role("button", name="Throw it away").tap()
    scope.point_at_star("Rigel")
    page.locator("#centred").tap()
    expect(page.locator("#outcome")).to_have_text("Saved: Rigel.")
    assert sighted(scope) == ["Capella", "Rigel"]


def test_centred_offline_means_the_target_of_that_moment(evening: Scope, phone: Any) -> None:
    """Another phone chooses another target meanwhile: the tap still speaks of the first."""
    evening.do("set_target", name="M 35")
    phone.goto(evening.url + "/#find")
    expect(phone.locator(".target-name")).to_contain_text("M 35")
    evening.point_at_target()
    phone.route("**/do/here_centred", lambda route: route.abort())
    phone.locator("#here").tap()
    expect(phone.locator(".unsaved")).to_contain_text("not yet saved")
    evening.do("set_target", name="M 36")
    # The other phone's choice has arrived here before the link for taps comes back.
    expect(phone.locator(".target-name")).to_contain_text("M 36")
    phone.unroute("**/do/here_centred")
    expect(phone.locator("#outcome")).to_contain_text("Saved: M 35")
    assert sighted(evening)[-1] == "M 35"
    assert "M 36" not in sighted(evening)
    finds = evening.log(evening.state()["outing"]["id"])["finds"]
    assert [(f["target"], f["found"]) for f in finds][-1] == ("M 35", True)


def test_a_find_that_the_fix_leaves_out_is_said(scope: Scope, phone: Any) -> None:
    """Pressed "here, centred" while something else stood there: the page does not praise it."""
    scope.do("pick", stars=["Capella", "Rigel", "Aldebaran"])
    for i, name in enumerate(("Capella", "Rigel", "Aldebaran")):
        scope.point_at_star(name)
        scope.do("sight", star=name, id=f"left-out-{i}")
    scope.do("set_target", name="M 42")
    phone.goto(scope.url + "/#find")
    scope.point_at_target()
    scope.order(push_az_deg=6.0, push_alt_deg=3.0, wait=True)  # off it, and not so far as to ask
    phone.locator("#here").tap()
    expect(phone.locator("#outcome")).to_contain_text("Saved: M 42")
    expect(phone.locator("main")).to_contain_text("the fix leaves it out")
    expect(phone.locator("main")).not_to_contain_text("has learnt from it")
    expect(phone.get_by_role("button", name="Undo: M 42 found")).to_be_visible()


def test_two_phones_see_the_same(evening: Scope, phone: Any, browser: Any) -> None:
    """What one does, the other shows, by itself; and both read the same circles."""
    other = browser.new_context(viewport={"width": 844, "height": 390}).new_page()
    evening.do("plan_add", star="Procyon")
    phone.goto(evening.url + "/#sight")
    other.goto(evening.url + "/#fix")
    expect(phone.locator(".star-name")).to_have_text("Procyon")
    evening.point_at_star("Procyon")
    phone.locator("#centred").tap()
    expect(other.locator(".sighting", has_text="Procyon")).to_be_visible()
    expect(other.locator("#status-words")).to_have_text(phone.locator("#status-words").inner_text())
    keep(other, "landscape-fix")
    # Set aside on one, struck through on the other.
    other.get_by_role("button", name="Set aside Procyon").click()
    other.get_by_role("button", name="Not well centred").click()
    phone.locator("nav").get_by_role("link", name="Fix").tap()
    expect(phone.locator(".sighting.aside", has_text="Procyon")).to_contain_text("Not well centred")
    evening.do("plan_remove", star="Procyon")  # set aside, it would be asked for again
    other.context.close()


def test_the_tap_counts_from_the_finger_not_from_the_network(evening: Scope, phone: Any) -> None:
    """The link fails and the tap is sent again: its time and reading are those of the press."""
    page = phone
    evening.do("plan_add", star="Aldebaran")
    page.goto(evening.url + "/#sight")
    expect(page.locator(".star-name")).to_have_text("Aldebaran")
    evening.point_at_star("Aldebaran")
    before = evening.order(where=True)["where"]["az_reading_deg"]
    ways = iter(("lost", "slow"))

    def carry(route: Any) -> None:
        if next(ways) == "lost":
            route.abort()
        else:
            time.sleep(0.7)  # sent, and so long under way
            route.continue_()

    page.route("**/do/sight", carry, times=2)
    pressed_ms = evening.reading()["unix_ms"]
    page.locator("#centred").tap()
    expect(page.locator(".unsaved")).to_contain_text("not yet saved")
    time.sleep(0.3)  # a busy computer hears the circles some tenths of a second late, too
    evening.order(push_az_deg=30.0)  # already on to the next star
    expect(page.locator("#outcome")).to_have_text("Saved: Aldebaran.")
    assert evening.order(where=True)["where"]["az_reading_deg"] > before + 0.5
    s = next(s for s in evening.state()["sightings"] if s["star"] == "Aldebaran")
    # One tick of the demo's encoders is 0.039 degrees.
    assert abs((s["az_reading_deg"] - before + 180) % 360 - 180) < 0.08
    at = datetime.fromisoformat(s["utc"].replace("Z", "+00:00"))
    assert abs(at.timestamp() * 1000 - pressed_ms) < 800  # the second try comes 1 s later


def test_typed_circles(tmp_path: Any, phone: Any) -> None:
    """Without encoders the tap keeps the moment, then both readings are asked for."""
    s = Scope(tmp_path, typed=True, quick=True)
    try:
        s.serve()
        s.do("pick", stars=["Capella", "Rigel"])
        s.do("start_outing")
        phone.goto(s.url + "/#sight")
        s.point_at_star("Capella")
        at = s.order(where=True)["where"]
        phone.locator("#centred").tap()
        phone.locator("#read-az").tap()
        for key in f"{at['az_reading_deg'] % 360:.1f}":
            phone.locator(".keys button", has_text=re.compile(rf"^{re.escape(key)}$")).tap()
        phone.locator("#read-alt").fill(f"{at['alt_reading_deg']:.1f}".replace(".", ","))
        keep(phone, "night-typed")
        phone.get_by_role("button", name="Save the sighting").tap()
        expect(phone.locator("#outcome")).to_have_text("Saved: Capella.")
        s.do("set_target", name="M 31")
        phone.locator("nav").get_by_role("link", name="Find").tap()
        expect(phone.locator("#to-az")).to_have_text(re.compile(r"^\d+(\.\d)?°$"))
        assert phone.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        box = phone.locator("#to-az").bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= 390
        keep(phone, "night-typed-push")
    finally:
        s.close()


def test_off_loopback_it_asks_for_the_code(tmp_path: Any, browser: Any) -> None:
    """By a name that is not this computer's own: pair first; no wake lock; else all works."""
    s = Scope(tmp_path, serve_args=("--host", "0.0.0.0", "--name", "scope.test"))
    try:
        s.serve()
        page = browser.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True
        ).new_page()
        far = f"http://scope.test:{s.port}/"
        page.goto(far)
        expect(page.get_by_role("heading")).to_have_text("Pair this phone")
        keep(page, "night-pair")
        page.locator("#code").fill("WRNGCDE2")
        page.locator("#pair").tap()
        expect(page.locator(".outcome")).to_contain_text("code is not right")
        page.goto(f"{far}pair#{s.told['code']}")
        expect(page.locator("nav")).to_be_visible()
        assert s.told["code"] not in page.url
        expect(page.locator("#status-words")).to_contain_text("raised")
        assert page.evaluate("'wakeLock' in navigator") is False  # plain HTTP: not a secure context
        page.get_by_role("button", name="Screen").tap()
        expect(page.locator("#light")).to_contain_text("an empty, silent film plays behind")
        # It does: muted, as large as the screen, behind all, and its pictures come.
        film = page.locator("video.film")
        assert film.evaluate(
            "v => [v.muted, v.paused, v.videoWidth > 0, v.clientWidth, v.clientHeight,"
            " getComputedStyle(v).zIndex]"
        ) == [True, False, True, 390, 844, "-1"]
        pictures = "v => v.getVideoPlaybackQuality().totalVideoFrames"
        before = film.evaluate(pictures)
        page.wait_for_timeout(2500)
        assert film.evaluate(pictures) >= before + 2
        # Nothing of it is seen or in the way.
        assert page.evaluate("document.elementFromPoint(200, 840).tagName") != "VIDEO"
        keep(page, "night-light")
        page.get_by_role("button", name="Close").tap()
        s.do("pick", stars=["Capella", "Rigel"])
        page.get_by_role("button", name="Start the outing").tap()
        expect(page.locator(".star-name")).to_have_text("Capella")
        star = s.order(where=True)["where"]
        assert star["alt_reading_deg"] > 89.0  # not pushed yet: that cannot be Capella
        page.locator("#centred").tap()
        expect(page.locator("#doubt")).to_contain_text("Was this Capella, centred?")
        page.locator("#doubt").get_by_role("button", name="No, drop it").tap()
        expect(page.locator("#outcome")).to_have_text("Dropped. Nothing was saved.")
        page.context.close()
    finally:
        s.close()


VIEWS = ("prepare", "tonight", "sight", "fix", "find", "log", "mend")

#: Every control: its name, its size, and whether the page is wider than the screen.
CHECK = """() => {
  const out = { small: [], nameless: [], wide: document.documentElement.scrollWidth - innerWidth };
  for (const el of document.querySelectorAll('button, a[href], input, textarea, [role=slider]')) {
    const box = el.getBoundingClientRect();
    if (!box.width || el.closest('[hidden]') || el.classList.contains('skip')) continue;
    const labelled = el.labels && el.labels.length ? el.labels[0].innerText : '';
    const name = (el.getAttribute('aria-label') || el.innerText || labelled || '').trim();
    if (!name) out.nameless.push(el.outerHTML.slice(0, 90));
    const inline = el.tagName === 'A' && !el.classList.contains('button') && !el.closest('nav');
    const whole = ['checkbox', 'radio', 'file'].includes(el.type) ? el.closest('label') : el;
    const { width, height } = whole.getBoundingClientRect();
    if (!inline && (height < 55.5 || width < 55.5))
      out.small.push(`${name || el.tagName} ${Math.round(width)}x${Math.round(height)}`);
  }
  return out;
}"""


def open_all(page: Any) -> None:
    """Open every part that can be opened."""
    shut = "main .fold-button[aria-expanded=false]"
    page.evaluate("s => document.querySelectorAll(s).forEach(b => b.click())", shut)


@pytest.mark.parametrize(("width", "height"), [(320, 640), (390, 844), (844, 390), (1280, 800)])
def test_names_sizes_and_width(evening: Scope, browser: Any, width: int, height: int) -> None:
    """Every control has a name and takes a thumb; nothing runs off the side, at any text size."""
    page = browser.new_context(viewport={"width": width, "height": height}).new_page()
    page.goto(evening.url)
    for text, dress in ((100, "night"), (100, "day"), (200, "night")):
        page.evaluate(
            "o => localStorage.setItem('plumbstar.dress', JSON.stringify(o))",
            {"text": text, "dress": dress},
        )
        page.reload()
        page.locator("nav").wait_for()
        for view in VIEWS:
            page.evaluate("v => { location.hash = v }", view)
            page.locator(f"main.{view}").wait_for()
            open_all(page)
            page.wait_for_timeout(100)
            found = page.evaluate(CHECK)
            where = f"{view} at {width}x{height}, text {text}"
            assert found["nameless"] == [], where
            assert found["small"] == [], where
            assert found["wide"] <= 0, where
            if width in (390, 844):
                keep(page, f"{dress}-{width}-{text}-{view}", full=width == 390)
    page.context.close()


@pytest.mark.parametrize("scope", ["human"], indirect=True)
def test_by_keyboard_alone(scope: Scope, browser: Any) -> None:
    """Skip link, stations, choosing, sighting: Tab, Enter and Space only, and focus is seen."""
    page = browser.new_context(viewport={"width": 1024, "height": 768}).new_page()
    page.goto(scope.url)
    page.get_by_role("button", name="Choose tonight’s stars").wait_for()

    def tab_to(selector: str, most: int = 80) -> None:
        for _ in range(most):
            page.keyboard.press("Tab")
            if page.evaluate("s => document.activeElement.matches(s)", selector):
                width = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
                assert width != "0px", f"focus on {selector} is not visible"
                return
        raise AssertionError(f"Tab never reached {selector}")

    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "question"
    tab_to("main .next")
    page.keyboard.press("Enter")
    page.get_by_role("button", name=re.compile("^Use ")).wait_for(timeout=60_000)
    tab_to("main .next")
    page.keyboard.press("Space")
    page.get_by_role("button", name="Start the outing").wait_for()
    tab_to("main .next")
    page.keyboard.press("Enter")
    page.locator("#centred").wait_for()
    assert page.evaluate("document.activeElement.id") == "question"  # the new screen's first word
    star = scope.state()["plan"][0]["star"]
    scope.point_at_star(star)
    tab_to("#centred")
    page.keyboard.press("Space")
    expect(page.locator("#outcome")).to_have_text(f"Saved: {star}.")
    assert scope.state()["slip"] is None  # pushed as fast as a hand may
    # Past the last control the focus leaves the page: nothing holds it.
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement === document.body"):
            break
    else:
        raise AssertionError("the keyboard is held on the page")
    # A skyline point by the arrow keys.
    page.evaluate("location.hash = 'prepare'")
    page.get_by_role("button", name=re.compile("^Your skyline")).press("Enter")
    page.get_by_role("button", name="Add a point").press("Enter")
    for key in ("ArrowUp", "ArrowUp", "ArrowRight"):
        page.keyboard.press(key)
    expect(page.locator("#skyline-text")).to_have_value("181:12")
    page.get_by_role("button", name="Save the skyline").press("Enter")
    expect(page.locator("#outcome")).to_have_text("Skyline saved.")
    assert scope.state()["skyline"]["points_deg"] == [[181, 12]]
    page.context.close()


def in_reach(phone: Any, what: Any) -> bool:
    """Whether it stands whole on the first screen, above the bar at the bottom."""
    box, bar = what.bounding_box(), phone.locator("nav").bounding_box()
    return bool(box["y"] >= 0 and box["y"] + box["height"] <= bar["y"])


def test_by_day_the_sun_forbids(tmp_path: Any, phone: Any) -> None:
    """While the Sun is up: a short answer, no scales, and the filter only by two steps. With it the
    way is looked at, too: from where it begins is asked for on the first screen."""
    s = Scope(tmp_path, typed=True)
    try:
        s.serve("2027-01-28T11:00:00Z")
        s.do("set_target", name="Vega")
        phone.goto(s.url + "/#find")
        answer = phone.locator("#stage .answer").first
        expect(answer).to_have_text("The Sun is up: nothing is pointed to.")
        expect(phone.locator(".scale")).to_have_count(0)
        fitted = phone.get_by_role("button", name="The filter is fitted")
        expect(fitted).to_be_disabled()
        keep(phone, "night-sun", full=True)
        phone.get_by_role("checkbox").tap()
        fitted.tap()
        expect(phone.locator("#outcome")).to_contain_text("Filter confirmed")
        assert s.state()["sun"]["filter_confirmed"] is True

        now = Instant.parse(s.state()["now_utc"])
        for k, star in enumerate(("Deneb", "Altair")):
            az, alt = place_of(lookup.find_target(star), now, thornback_ridge().site)
            shown = {"az_deg": round(az, 1), "alt_deg": round(alt, 1)}
            s.do("sight", star=star, id=f"by-day-{k}", reading=shown)
        s.kill()  # no reading outlives it
        s.serve("2027-01-28T11:02:00Z")
        for k in range(2):
            s.do(("undo", "redo")[k])
        expect(answer).to_have_text("The Sun is up: from where does the push begin?")
        use = phone.get_by_role("button", name="Use these readings")
        phone.evaluate("scrollTo(0, 0)")
        assert phone.locator(".notices .banner").count() == 1
        assert in_reach(phone, use)
        keep(phone, "night-sun-from-where")
        for id, deg in (("now-az", 180.0), ("now-alt", 25.0)):
            phone.locator(f"#{id}").fill(str(deg))
        use.tap()
        expect(answer).to_have_text("The tube points near the Sun: do not look into it.")
        assert in_reach(phone, phone.get_by_role("button", name="Type what they read now"))
        expect(phone.locator("main")).not_to_contain_text("from the Sun, and no way")
        phone.get_by_role("button", name="More", exact=True).tap()
        expect(phone.locator("main")).to_contain_text("from the Sun, and no way is shown from")
    finally:
        s.close()


def other_light(png: bytes) -> int:
    """The brightest green or blue in a picture, of 255."""
    bands = Image.open(io.BytesIO(png)).convert("RGB").split()[1:]
    return max(int(b.getextrema()[1]) for b in bands)


def test_day_dress_and_only_one_hue(evening: Scope, phone: Any) -> None:
    """At night nothing on any screen holds green or blue; by day it is black on white."""
    phone.goto(evening.url)
    for view in VIEWS:
        phone.evaluate("v => { location.hash = v }", view)
        phone.locator(f"main.{view}").wait_for()
        for _ in range(20):  # what is on the glass may still be the frame of before
            phone.evaluate("() => new Promise((drawn) => requestAnimationFrame(drawn))")
            light = other_light(phone.screenshot())
            if light <= 2:
                break
        assert light <= 2, view
    phone.get_by_role("button", name="Screen").tap()
    phone.get_by_label("Daylight").tap()
    expect(phone.locator("html")).to_have_attribute("data-dress", "day")
    assert phone.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert phone.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    phone.reload()
    expect(phone.locator("html")).to_have_attribute("data-dress", "day")  # remembered


def test_mending(evening: Scope, phone: Any) -> None:
    """Why, many nights, a guided check, and a photograph sent from the phone and shown in red."""
    from defocused import Scene, jpeg_bytes, photo

    phone.goto(evening.url + "/#mend")
    expect(phone.locator(".odds").first).to_have_text(re.compile(r"^(over |under )?\d+ in 100$"))
    phone.get_by_label("Many nights").tap()
    expect(phone.locator("main .answer")).to_be_visible()
    picture = phone.locator("svg.outings")
    expect(picture).to_be_visible()  # dressed by the page, not by itself
    ground = picture.locator(".strip-ground")
    assert ground.evaluate("e => getComputedStyle(e).fill") == phone.evaluate(
        "getComputedStyle(document.body).backgroundColor"
    )
    phone.get_by_label("Checks").tap()
    phone.get_by_role("button", name=re.compile("^The stop ten times")).tap()
    expect(phone.locator("main")).to_contain_text("at least 20 degrees away")  # the Sun first
    phone.get_by_label(re.compile("one after another")).fill("0.1 0.2 0.1 0,2 0.1")
    phone.get_by_role("button", name="What does it say?").tap()
    expect(phone.locator("[role=status] .answer")).to_be_visible()
    keep(phone, "night-check", full=True)
    # A question about other numbers has no answer to these beside it.
    phone.get_by_label(re.compile("one after another")).fill("0,1,0,2")
    phone.get_by_role("button", name="What does it say?").tap()
    expect(phone.locator("#outcome")).to_contain_text("decimal commas")
    expect(phone.locator("[role=status] .answer")).to_have_count(0)
    phone.get_by_label("Mirrors").tap()

    def star(right: float) -> Any:
        picture = jpeg_bytes(photo(Scene(right=right, down=0.01)))
        return {"name": "star.jpg", "mimeType": "image/jpeg", "buffer": picture}

    phone.get_by_label("Choose a picture").set_input_files(star(0.12))
    expect(phone.locator("[role=status] .answer")).to_contain_text("off-centre by 1")
    expect(phone.locator("div[role=status]")).to_contain_text(
        "As you stand at the eyepiece: toward 3"
    )
    expect(phone.locator("img.photo")).to_be_visible()
    keep(phone, "night-mirrors", full=True)
    assert other_light(phone.locator(".photo-box").screenshot()) <= 2
    # The other side of focus: what turns over with the disc was no coma.
    phone.get_by_label("Add the second picture").set_input_files(star(0.04))
    answer = phone.locator("[role=status] .answer")
    expect(answer).to_contain_text("The part of the shadow's offset that is coma is 8.")
    expect(phone.get_by_label("Add the second picture")).to_have_count(0)
    expect(phone.locator("main")).not_to_contain_text(re.compile("plumbstar|--"))
    keep(phone, "night-mirrors-pair", full=True)


def test_facing_begins_toward_the_noon_side(tmp_path: Any, phone: Any) -> None:
    """South for a northern site, north for a southern one, until the observer turns."""
    s = Scope(tmp_path)
    try:
        s.serve()
        phone.goto(s.url + "/#prepare")
        expect(phone.locator("#facing-words")).to_have_text("Facing south, 180°")
        s.do("set_site", lat_deg=-31.5, lon_deg=21.0, elevation_m=1200, name="Saltpan Flat")
        expect(phone.locator("#facing-words")).to_have_text("Facing north, 0°")
        phone.get_by_role("button", name="Turn right").tap()
        expect(phone.locator("#facing-words")).to_have_text("Facing north-east, 30°")
    finally:
        s.close()


def test_weight(evening: Scope) -> None:
    """All that a phone must fetch to run the pages: packed, as the server sends it."""

    def fetched(address: str) -> tuple[Any, bytes]:
        asked = urllib.request.Request(
            f"{evening.url}{address}", headers={"Accept-Encoding": "gzip"}
        )
        with urllib.request.urlopen(asked) as r:
            return r.headers, r.read()

    page = fetched("/")[1]
    made_of = set(re.findall('(?:src|href)="(/static/[^"]*)"', page.decode()))
    assert len(made_of) == 4
    weight = len(page)
    for address in made_of:
        headers, body = fetched(address)
        weight += len(body)
        if not address.endswith(".svg"):
            assert headers["content-encoding"] == "gzip"
            assert "immutable" in headers["cache-control"]
            assert re.search(r"-[0-9a-f]{16}\.(js|css)$", address)
    assert weight < 100_000


def test_the_night_card_is_kept_on_the_phone_and_opens_without_a_server(
    evening: Scope, phone: Any, browser: Any, tmp_path: Any
) -> None:
    phone.goto(evening.url + "/#prepare")
    phone.get_by_role("button", name=re.compile("^The night card")).tap()
    with phone.expect_download() as coming:
        phone.get_by_role("button", name=re.compile("^Card for this phone")).tap()
    path = tmp_path / coming.value.suggested_filename
    coming.value.save_as(path)
    expect(phone.locator("#outcome")).to_have_text(f"Kept as {path.name}.")
    # The kept file: no request at all, no script, narrow phones, night dress and day dress.
    context = browser.new_context(
        viewport={"width": 320, "height": 640}, java_script_enabled=False, offline=True
    )
    page, asked = context.new_page(), []
    page.on("request", lambda r: asked.append(r.url))
    page.goto(path.as_uri())
    assert asked == [path.as_uri()]
    picture = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
    assert picture.width == 320  # nothing pokes out sideways
    low = [b for _, b in (picture.getchannel(c).getextrema() for c in "GB")]
    assert low == [0, 0]  # red lamps only
    assert picture.getchannel("R").getextrema() == (0, 255)
    keep(page, "night-card", full=True)
    page.get_by_text("Day dress").click()
    day = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    assert day.getpixel((2, 600)) == (255, 255, 255)
    context.close()
