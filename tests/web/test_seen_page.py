"""After "found": three taps, words, a sketch by finger, and the sky once an evening."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import needs

from .scope import Scope, until
from .server_rig import asynchronous, rig


def test_how_an_object_was_seen_from_the_tap_to_the_log(scope: Scope, phone: Any) -> None:
    expect = needs.module("playwright.sync_api").expect
    scope.sight_two()
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
    expect(how.locator("#fold-sky-tonight")).to_be_visible()  # the rest may still be told
    phone.locator(".stop", has_text="very clear").click()
    expect(how).to_contain_text("seeing good, very clear")

    seen = scope.state()["seen"]
    (look,) = seen["looks"]
    assert (look["target"], look["seen"], look["sketches"]) == ("M 42", "clearly", 1)
    assert look["words"] == "Four stars in a cave"
    assert seen["sky"]["seeing"] == 2
    assert seen["sky"]["transparency"] == 1
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
    until(phone, "document.querySelector('img.photo').naturalWidth === 40")


@asynchronous
async def test_numbers_agree_and_nothing_drawn_is_left_out(tmp_path: Path) -> None:
    """What was looked for in vain is counted apart; a sketch stands in the log once, told of or
    not; all of it goes out as a table and as an Open Astronomy Log."""
    async with rig(tmp_path) as r:
        empty = await r.get("/data/seen")
        assert empty["sentence"].startswith("Nothing is in the log yet. ")
        await r.do("start_outing")
        await r.do("look", id="look-00001", target="M 31", seen="not")
        assert (await r.get("/data/seen"))["sentence"] == "Looked for, and not seen yet: 1 object."
        for k, how in enumerate(("faintly", "clearly")):
            await r.do("look", id=f"look-1000{k}", target="M 42", seen=how)
        told = (await r.get("/data/seen"))["sentence"]
        assert told == "1 object seen, in 2 looks; 1 more looked for, and not seen."
        for k, name in enumerate(("M 42", "M 45")):
            ink = {"kind": "strokes", "body": "[[[0,0],[90,40]]]"}
            await r.do("sketch", id=f"sketch-000{k}", target=name, **ink)
        looks = (await r.get("/data/log/1"))["looks"]
        drawn = [(x["target"], x["seen"], len(x["sketches"])) for x in looks]
        assert sorted(drawn) == [
            ("M 31", "not", 0), ("M 42", "clearly", 1), ("M 42", "faintly", 0), ("M 45", "seen", 1),
        ]  # fmt: skip
        table = (await r.client.get("/data/seen.csv")).text
        assert table.splitlines()[0].startswith("utc,object,seen,")
        assert [x.split(",")[1:3] for x in table.splitlines()[1:]] == [
            ["M 31", "not"], ["M 42", "faintly"], ["M 42", "clearly"],
        ]  # fmt: skip
        log = (await r.client.get("/data/seen.xml")).text
        assert log.count("</observation>") == 3
        assert (await r.client.get("/data/seen.pdf")).status_code == 404
