"""Every screen through an evening, in both dresses: nothing is undefined, empty, or no number."""

from __future__ import annotations

import time
from typing import Any

import pytest

import patience

from .conftest import keep
from .scope import Scope

#: What a script writes where a key is missing, in what is read and in what is drawn or spoken; and
#: commands, which lead nowhere on a phone.
MISSING = """() => {
  const bad = /`plumbstar |undefined|\\bNaN\\b|\\bnull\\b|\\[object|Infinity/;
  const out = [];
  if (bad.test(document.body.innerText)) out.push(document.body.innerText.match(bad)[0]);
  for (const el of document.querySelectorAll("body *"))
    for (const a of el.attributes)
      if (bad.test(a.value)) out.push(`${el.tagName} ${a.name}: ${a.value.slice(0, 90)}`);
  for (const el of document.querySelectorAll("main p, main strong, main li, main button"))
    if (el.checkVisibility() && !el.innerText.trim() && !el.children.length && !el.id
        && !el.getAttribute("aria-label"))
      out.push(`empty ${el.tagName} in ${el.parentElement.innerText.slice(0, 60)}`);
  return out;
}"""


#: Another dress over the same screen; gives back the colours that the lamp had set.
WEAR = """([dress, colours]) => {
  const root = document.documentElement, before = root.style.cssText;
  root.dataset.dress = dress;
  root.style.cssText = colours;
  return before;
}"""


class Tour:
    """Looks at the page as it stands, and goes on."""

    def __init__(self, page: Any, dress: str) -> None:
        self.page, self.dress = page, dress
        self.asked: set[Any] = set()  # requests without an answer yet
        page.on("request", lambda r: self.asked.add(r))
        for over in ("requestfinished", "requestfailed"):
            page.on(over, lambda r: self.asked.discard(r))

    def settle(self) -> None:
        """Wait until what is shown has had its answers and has been drawn with them."""
        quiet, until = 0, time.monotonic() + 2 * patience.SECONDS
        while quiet < 3:
            # Two frames: one in which the answer's redraw is due, one after it.
            self.page.evaluate(
                "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
            )
            self.page.wait_for_timeout(30)
            waiting = [r.url for r in self.asked if not r.url.endswith("/stream")]
            quiet = 0 if waiting else quiet + 1
            assert time.monotonic() < until, waiting

    def look(self, name: str) -> None:
        self.settle()
        for _ in range(2):  # what lies in a fold may hold folds
            unfolded = self.page.evaluate(
                "(() => { const b = document.querySelectorAll("
                "'main .fold-button[aria-expanded=false]'); b.forEach(x => x.click());"
                " return b.length; })()"
            )
            if not unfolded:
                break
            self.settle()
        keep(self.page, f"tour-{self.dress}-{name}", full=True)
        assert self.page.evaluate(MISSING) == [], name

    def look_in_both(self, name: str) -> None:
        """The other dress is laid over the same screen: it changes no word."""
        self.look(name)
        other = "day" if self.dress == "night" else "night"
        kept = self.page.evaluate(WEAR, [other, ""])
        keep(self.page, f"tour-{other}-{name}", full=True)
        self.page.evaluate(WEAR, [self.dress, kept])

    def go(self, view: str) -> None:
        self.page.evaluate("v => { location.hash = v }", view)
        self.page.locator(f"main.{view}").wait_for()


def wait_for_choice(scope: Scope) -> None:
    for _ in range(150):
        if scope.state()["choice"]["status"] == "ready":
            return
        time.sleep(0.2)
    raise AssertionError("no choice of stars")


def beside_a_controller(tour: Tour, scope: Scope, phone: Any) -> None:
    """The same evening goes on beside a closed controller: kit, taps, number, look back, finds."""
    main = phone.locator("main")
    scope.do("end_outing")
    scope.do("set_controller", stars=["Aldebaran", "Capella", "Deneb", "Hamal"])
    tour.go("prepare")
    tour.look_in_both("beside-prepare")
    main.get_by_role("button", name="Change stars, clock, eyepieces").click()
    for name in ("stars", "lists", "clock", "shown", "tube"):
        tour.look_in_both(f"beside-kit-{name}")
        main.locator("button.next").first.click()
    tour.look_in_both("beside-kit-eyepieces")
    main.get_by_role("button", name="Save all of it").click()
    main.get_by_text("Your controller").first.wait_for()
    scope.do("pick", stars=["Capella", "Hamal"])
    tour.go("sight")
    tour.look_in_both("beside-stop")
    main.get_by_role("button", name="Rehearse the three steps in the armchair").click()
    tour.look_in_both("beside-rehearsal")
    main.get_by_role("button", name="End the rehearsal").click()
    for i, (event, more) in enumerate(
        (
            ("upright", {}),
            ("star", {"star": "Capella"}),
            ("star", {"star": "Hamal"}),
            ("number", {"number_deg": 1.9}),
            ("centred", {"star": "Hamal", "left_az_deg": 0.0, "left_alt_deg": 0.1}),
        )
    ):
        scope.do("controller_entry", id=f"tour-beside-{i}", event=event, **more)
        tour.look_in_both(f"beside-{i}-{event}")
    tour.go("find")
    scope.do("set_target", name="M 31")
    main.locator("#not-here").wait_for()
    tour.look_in_both("beside-push")
    main.locator("#not-here").click()
    main.get_by_text("Field 2 of").wait_for()
    tour.look_in_both("beside-search")
    main.locator("#here").click()
    tour.look_in_both("beside-left")
    main.locator("#left-az").fill("0.4")
    main.get_by_role("button", name="0.4° left").click()
    tour.look_in_both("beside-left-up")
    main.locator("#left-alt").fill("0.1")
    main.get_by_role("button", name="0.1° up").click()
    main.get_by_text("Found: it is in the log").wait_for()
    tour.look_in_both("beside-found")
    scope.do("set_target", name="M 37")
    scope.do("controller_not_here")
    scope.do("clear_target")
    for view in ("fix", "mend"):
        tour.go(view)
        tour.look_in_both(f"beside-later-{view}")
    phone.get_by_label("Many nights").check()
    tour.look_in_both("beside-many-nights")
    phone.get_by_label("Checks").check()
    tour.look_in_both("beside-checks")
    tour.go("log")
    phone.locator(".line", has_text="Outing 2").click()
    phone.get_by_text("M 37, not found").wait_for()
    tour.look_in_both("beside-log")


def shims_put_in(tour: Tour, phone: Any) -> None:
    """What was put under the stop, asked one question a screen, recorded, and undone."""

    def tap(name: str) -> None:
        phone.get_by_role("button", name=name, exact=True).tap()

    phone.get_by_label("Many nights").check()
    tap("I changed what is under the stop")
    tour.look("stop-changed")
    tap("I took pieces out")
    tour.look("stop-thickness")
    phone.get_by_label("hickness, mm").fill("0,5")
    tap("Next")
    tour.look("stop-how-many")
    tap("2")
    tour.look("stop-is-that-all")
    tap("Yes, record it")
    phone.get_by_text("2 x 0.5 mm taken out").wait_for()
    tour.look("stop-recorded")
    tap("Undo: the last change of the stop")
    phone.get_by_text("No change of the upright stop is recorded yet.").wait_for()


@pytest.mark.parametrize("dress", ["night", "day"])
def test_nothing_is_missing_on_any_screen(scope: Scope, phone: Any, dress: str) -> None:
    tour = Tour(phone, dress)
    phone.goto(scope.url)
    phone.evaluate(
        "d => localStorage.setItem('plumbstar.dress', JSON.stringify({dress: d}))", dress
    )
    phone.reload()
    phone.locator("nav").wait_for()
    for view in ("prepare", "sight", "fix", "log", "seen", "mend"):
        tour.go(view)
        tour.look(f"empty-{view}")
    if dress == "day":
        shims_put_in(tour, phone)
    scope.do("set_skyline", text="0:8 104:10 117:38 130:9 290:10 296:27 334:27 340:9")
    scope.do("choose", stars=3)
    wait_for_choice(scope)
    tour.go("prepare")
    tour.look("choices")
    scope.do("pick", stars=["Capella", "Rigel", "Sirius"])
    scope.do("start_outing")
    tour.look("plan")
    tour.go("sight")
    tour.look("sight")
    phone.get_by_role("button", name="Any bright star").tap()
    tour.look("any-star")
    phone.get_by_role("button", name="Back to the chosen stars").tap()
    for i, name in enumerate(("Capella", "Rigel")):
        scope.point_at_star(name)
        scope.do("sight", star=name, ago_ms=0, id=f"tour-{i}-{name}")
    tour.look("sighted")
    phone.get_by_label("Any other star, by name").fill("sir")
    phone.locator("main li", has_text="Sirius").first.wait_for()
    tour.look("another-star")
    tour.go("fix")
    tour.look("fix")
    tour.go("tonight")
    phone.locator(".agenda li").first.wait_for(timeout=60_000)
    tour.look("tonight")
    tour.go("find")
    phone.locator(".results li").first.wait_for(timeout=60_000)
    tour.look("find")
    scope.do("set_target", name="M 31")
    phone.locator(".eyepiece-picture").wait_for(timeout=60_000)
    tour.look("push")
    scope.point_at_target()
    scope.do("set_eyepiece", name="9 mm")
    scope.do("not_in_field")
    phone.locator(".sweep").wait_for()
    tour.look("sweep")
    scope.point_at_target()
    scope.do("here_centred", ago_ms=0, id="tour-found")
    tour.look("found")
    scope.do("look", id="tour-look-1", target="M 31", seen="faintly", words="A long haze.")
    scope.do("look", id="tour-look-2", target="M 33", seen="not")
    scope.do("sketch", id="tour-sketch", target="M 31", kind="strokes", body="[[[0,0],[90,40]]]")
    scope.do("tell_sky", id="tour-sky", seeing=2, transparency=3)
    scope.do("note", text="Frost on the finder.")
    scope.do("set_aside", id=scope.state()["sightings"][0]["id"], reason="Not well centred")
    tour.go("log")
    phone.locator(".line").first.tap()
    phone.get_by_text("Frost on the finder.").wait_for()
    tour.look("log")
    tour.go("seen")
    phone.get_by_text("A long haze.").wait_for()
    phone.get_by_role("button", name="Messier").wait_for()
    tour.look("seen")
    tour.go("mend")
    tour.look("why")
    for part in ("Many nights", "Checks", "Mirrors"):
        phone.get_by_label(part).check()
        tour.look(part.replace(" ", "-").lower())
    if dress == "night":
        beside_a_controller(tour, scope, phone)
