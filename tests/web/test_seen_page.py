"""After "found": three taps, words, a sketch by finger, and the sky once an evening."""

from __future__ import annotations

import base64
import io
from typing import Any

import needs

from .scope import Scope


def test_how_an_object_was_seen_from_the_tap_to_the_log(scope: Scope, phone: Any) -> None:
    expect = needs.module("playwright.sync_api").expect
    scope.do("pick", stars=["Capella", "Rigel"])
    scope.do("start_outing")
    for k, star in enumerate(("Capella", "Rigel")):
        scope.point_at_star(star)
        scope.do("sight", star=star, id=f"sight-{k}-0000")
    scope.do("set_target", name="M 42")
    phone.goto(scope.url + "/#find")
    scope.point_at_target()
    phone.locator("#here").tap()
    how = phone.locator(".seen-how")
    how.get_by_role("button", name="Barely").tap()
    expect(how).to_contain_text("In the log: barely seen")
    how.get_by_role("button", name="Clearly").tap()
    expect(how).to_contain_text("In the log: clearly seen")
    how.get_by_role("button", name="A word on it").tap()
    phone.locator("#seen-note").fill("Four stars in a cave")
    phone.get_by_role("button", name="Save the word").tap()
    expect(phone.locator("#outcome")).to_have_text("It is in the log.")
    how.get_by_role("button", name="A sketch").tap()
    paper = phone.locator(".sketch")
    paper.scroll_into_view_if_needed()
    box = paper.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x + 60, y - 40, steps=4)
    phone.mouse.up()
    phone.get_by_role("button", name="Save the sketch").tap()
    expect(phone.locator("#outcome")).to_have_text("The sketch is in the log.")
    how.get_by_role("button", name="Tonight’s sky").tap()
    phone.locator(".stop", has_text="good").first.click()
    expect(how.locator("#fold-sky-tonight")).to_have_count(0)  # told once, it asks no more

    seen = scope.state()["seen"]
    (look,) = seen["looks"]
    assert (look["target"], look["seen"], look["sketches"]) == ("M 42", "clearly", 1)
    assert look["words"] == "Four stars in a cave"
    assert seen["sky"]["seeing"] == 2
    assert seen["sky"]["transparency"] is None
    photo = io.BytesIO()
    needs.module("PIL.Image").new("L", (40, 30), 255).save(photo, "JPEG")
    body = base64.b64encode(photo.getvalue()).decode()
    scope.do("sketch", id="photo-00001", target="M 42", kind="jpeg", body=body)
    scope.do("tell_sky", id="sky-000001", transparency=3)
    assert scope.state()["seen"]["sky"] == {
        "seeing": 2, "transparency": 3, "zenith_mag": None, "faintest_mag": None,
    }  # fmt: skip

    phone.goto(scope.url + "/#log")
    phone.locator("#outings button.line, .lines button.line").first.tap()
    detail = phone.locator(".detail")
    expect(detail).to_contain_text("Clearly seen")
    expect(detail.locator(".sketch .ink")).to_have_count(1)
    shown = detail.locator("img.photo")
    expect(shown).to_have_count(1)
    phone.wait_for_function("document.querySelector('img.photo').naturalWidth === 40")
