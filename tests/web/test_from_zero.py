"""A board that counts from zero where it was switched on: the whole outing, restarts among it."""

from __future__ import annotations

import time
import urllib.error
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import patience

from .scope import Scope

STARS = ("Capella", "Rigel", "Alpheratz")


@pytest.fixture
def scope(tmp_path: Path) -> Iterator[Scope]:
    s = Scope(tmp_path, simulate_args=("--from-zero",))
    try:
        yield s
    finally:
        s.close()


def unsaid(s: Scope) -> None:
    """A kit that does not tell where its board counts from."""
    kit = s.place / "kit.toml"
    lines = kit.read_text(encoding="utf-8").splitlines(keepends=True)
    said = [line for line in lines if line.startswith("counts_from_zero")]
    assert said == ["counts_from_zero = true\n"]
    kit.write_text("".join(line for line in lines if line not in said), encoding="utf-8")


def reads(s: Scope, alt_deg: float) -> dict[str, Any]:
    """Wait until the altitude reads that, to a tick."""
    until = time.monotonic() + patience.SECONDS
    while True:
        heard = s.reading()
        alt = heard["alt_reading_deg"]
        if heard["state"] == "live" and alt is not None and abs(alt - alt_deg) < 0.06:
            return heard
        assert time.monotonic() < until, heard
        time.sleep(0.05)


def sight(s: Scope, star: str, press: str) -> None:
    s.point_at_star(star)
    s.do("sight", star=star, id=press)


def find(s: Scope, name: str, press: str) -> float:
    """Push to it, centre it; how far it was from where the fix had it, arcmin."""
    s.do("set_target", name=name)
    t = s.state()["target"]
    s.point_at_target()
    heard = s.reading()
    off = heard["push"]
    s.do("here_centred", id=press, target=t["name"])
    return 60.0 * max(abs(off["az_deg"]), abs(off["alt_deg"]))


def slip_shown(s: Scope) -> None:
    until = time.monotonic() + patience.SECONDS
    while s.state()["slip"] is None:
        assert time.monotonic() < until
        time.sleep(0.05)


def test_told_on_the_first_screen_it_holds_through_every_restart(scope: Scope, phone: Any) -> None:
    from playwright.sync_api import expect

    from .conftest import keep

    unsaid(scope)
    scope.serve()
    reads(scope, 0.0)
    phone.goto(scope.url)
    expect(phone.get_by_role("heading", name="Is the tube on its upright stop?")).to_be_visible()
    keep(phone, "night-on-stop", full=True)
    phone.locator("#on-stop").tap()
    expect(phone.locator("#outcome")).to_have_text(
        "The altitude reads 90° on the stop from now on."
    )
    expect(phone.get_by_role("heading", name="Is the tube on its upright stop?")).to_have_count(0)
    reads(scope, 90.0)

    scope.kill()  # before the outing: what was said is kept, though no star was sighted
    scope.serve()
    reads(scope, 90.0)
    assert "was on the upright stop at 17:05" in scope.state()["stop"]["sentence"]

    scope.do("pick", stars=list(STARS))
    scope.do("start_outing")
    for k, star in enumerate(STARS):
        sight(scope, star, f"press-{k:04d}")
    fix = scope.state()["fix"]
    assert fix["mean_hit_chance"] > 0.9
    stop = next(t for t in fix["terms"] if t["name"] == "altitude_zero")
    assert stop["value_deg"] == pytest.approx(0.9, abs=3 * stop["sigma_deg"])
    assert find(scope, "M 31", "press-0010") < 40.0

    scope.kill()  # in mid outing
    scope.serve()
    assert scope.state()["slip"] is None
    assert find(scope, "M 35", "press-0011") < 40.0

    # Said again now, it would take the readings from under the fix.
    with pytest.raises(urllib.error.HTTPError) as refused:
        scope.do("tube_on_stop")
    said = refused.value.read().decode()
    assert "5 stars were sighted with the readings as they are" in said
    assert scope.state()["stop"] is None

    scope.order(unplug=0.5, lose_power=True)  # the board begins at zero again: one star settles it
    slip_shown(scope)
    phone.goto(scope.url + "/#sight")  # no way by readings that tell nothing now
    expect(phone.get_by_text("The readings may be wrong now. Aim at it by eye")).to_be_visible()
    expect(phone.locator("#rough-left")).to_have_count(0)
    star = scope.state()["plan"][0]
    scope.order(point_az_deg=star["az_deg"], point_alt_deg=star["alt_deg"], wait=True)
    time.sleep(0.6)  # the hand lets go, else the tap is asked about
    scope.do("sight", star=star["star"], id="press-0012")
    assert scope.state()["slip"] is None
    assert scope.state()["fix"]["notes"][0].startswith("Solved anew from the one star since")
    assert not any("what the kit expects" in n for n in scope.state()["fix"]["notes"])
    scope.do("set_target", name="M 42")
    t = scope.state()["target"]
    scope.order(point_az_deg=t["az_deg"], point_alt_deg=t["alt_deg"], wait=True)
    time.sleep(0.6)  # the hand lets go, else the tap is asked about
    off = scope.reading()["push"]
    assert max(abs(off["az_deg"]), abs(off["alt_deg"])) < 0.7

    outing = scope.log(scope.state()["outing"]["id"])
    notes = [n["text"] for n in outing["notes"]]
    assert sum("The altitude read 0.00° there, and reads 90° since." in n for n in notes) == 1


def test_by_the_kit_it_stands_on_the_stop_at_the_start(scope: Scope) -> None:
    scope.serve()
    reads(scope, 90.0)
    assert scope.state()["stop"] == {
        "sentence": "The altitude counts from where the encoders were switched on: that must be on "
        "the upright stop. If it was elsewhere, put the tube against the stop, then say so.",
        "asks": False,
        "below_deg": None,
    }
    scope.order(push_alt_deg=-40, wait=True)
    reads(scope, 50.0)
    scope.kill()  # the board counts on: from the stop, not from where the tube is now
    scope.serve()
    reads(scope, 50.0)
    scope.do("pick", stars=list(STARS))
    scope.do("start_outing")
    for k, star in enumerate(STARS):
        sight(scope, star, f"press-{k:04d}")
    assert scope.state()["fix"]["mean_hit_chance"] > 0.9
    assert find(scope, "M 31", "press-0010") < 40.0


def test_a_board_that_starts_anew_before_the_first_star_is_asked_about(scope: Scope) -> None:
    scope.serve()
    reads(scope, 90.0)
    scope.order(push_alt_deg=-40, wait=True)
    reads(scope, 50.0)
    scope.order(unplug=0.5, lose_power=True)
    slip_shown(scope)
    assert scope.state()["stop"]["asks"]
    scope.order(push_alt_deg=40, wait=True)  # back on the stop
    time.sleep(0.6)  # the hand lets go, else the tap is asked about
    scope.do("tube_on_stop")
    reads(scope, 90.0)
    s = scope.state()
    assert s["slip"] is None
    assert not s["stop"]["asks"]
    assert not scope.reading()["slip"]


def test_not_told_a_tap_is_kept_and_its_question_tells_the_stop(scope: Scope, phone: Any) -> None:
    """Saved, the fix would take the first stars for others and state nine in ten."""
    from playwright.sync_api import expect

    from .conftest import keep

    unsaid(scope)
    scope.serve()
    scope.do("pick", stars=list(STARS))
    capella = scope.state()["plan"][0]
    scope.order(point_az_deg=capella["az_deg"], point_alt_deg=capella["alt_deg"], wait=True)
    at = scope.order(where=True)["where"]
    reads(scope, at["alt_reading_deg"] - 90.0)
    time.sleep(0.6)  # a star without a name must be at rest
    phone.goto(scope.url + "/#sight")
    scope.do("sight", star="Capella", id="press-0001")
    asked = phone.locator("#doubt")
    expect(asked).to_contain_text("below level, and Capella stood 60° up: it was another star, or")
    expect(asked.get_by_role("button")).to_have_text(
        ["The tube is on the stop now", "Drop the tap"]
    )
    keep(phone, "night-tap-before-stop", full=True)
    scope.order(push_alt_deg=90.0 - at["alt_reading_deg"], wait=True)
    reads(scope, 0.0)
    time.sleep(0.6)  # the hand lets go, else the tap is asked about
    asked.get_by_role("button", name="The tube is on the stop now").tap()
    expect(phone.get_by_text("Saved as of the tap: Capella.")).to_be_visible()
    (one,) = scope.state()["sightings"]
    assert one["alt_reading_deg"] == pytest.approx(at["alt_reading_deg"], abs=0.1)
