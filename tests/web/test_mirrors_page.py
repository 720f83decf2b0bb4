"""The mirrors on the phone, in Chromium: what is sent of a picture, and the shadow set by eye."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from PIL import Image

import needs
from defocused import Scene, photo

from .conftest import keep
from .scope import Scope

pytestmark = pytest.mark.own_page

expect = needs.module("playwright.sync_api").expect


def open_mirrors(page: Any, scope: Scope) -> None:
    page.goto(scope.url + "/#mend")
    page.get_by_label("Mirrors").tap()


def test_the_lens_is_sent_and_the_place_is_not(scope: Scope, phone: Any) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (47.0, 22.0, 33.0)
    held = io.BytesIO()
    Image.fromarray(photo(Scene(right=0.08))).save(held, "JPEG", quality=92, exif=exif)
    assert Image.open(io.BytesIO(held.getvalue())).getexif().get_ifd(0x8825)
    # The driver does not see the bytes of a blob: the page's own fetch hands them over.
    phone.add_init_script(
        "const own = window.fetch; window.fetch = async (where, how) => {"
        " if (how?.body instanceof Blob)"
        "  window.sentBytes = [...new Uint8Array(await how.body.arrayBuffer())];"
        " return own(where, how) }"
    )
    open_mirrors(phone, scope)
    with phone.expect_request(re.compile("/data/collimate")) as asked:
        phone.locator("input[type=file]").set_input_files(
            {"name": "star.jpg", "mimeType": "image/jpeg", "buffer": held.getvalue()}
        )
    assert "lens_mm=26" in asked.value.url
    body = bytes(phone.evaluate("window.sentBytes"))
    sent = Image.open(io.BytesIO(body))
    assert b"Exif" not in body
    assert not sent.getexif()
    main = phone.locator("main")
    expect(main).to_contain_text("The shadow is off-centre by")
    assert "star=untold" in asked.value.url
    expect(main).to_contain_text("No picture tells where the star stood in the eyepiece")

    def sigma() -> float:
        told = re.search(r"is off by [0-9.]+ ± ([0-9.]+) parts", main.inner_text())
        assert told
        return float(told[1])

    unsaid = sigma()
    # Said afterwards, what was sent is judged again by it.
    with phone.expect_response(re.compile("/data/collimate.*star=middle")):
        phone.get_by_role("radio", name="In the middle").tap()
    expect(main).not_to_contain_text("No picture tells where")
    middle = sigma()
    with phone.expect_response(re.compile("/data/collimate.*star=aside")):
        phone.get_by_role("radio", name="Aside").tap()
    expect(main).to_contain_text("The star was not in the middle of the eyepiece")
    assert middle <= unsaid <= sigma() > middle


def begin_by_eye(page: Any, scope: Scope) -> None:
    open_mirrors(page, scope)
    page.get_by_role("radio", name="By eye").tap()
    page.get_by_role("button", name="I see the ring").tap()


@pytest.mark.parametrize("dress", ["night", "day"])
def test_ring_and_shadow_are_seen_and_the_next_button_with_them(
    scope: Scope, phone: Any, dress: str
) -> None:
    phone.goto(scope.url)
    phone.evaluate(
        "d => localStorage.setItem('plumbstar.dress', JSON.stringify({dress: d}))", dress
    )
    phone.reload()
    begin_by_eye(phone, scope)
    drawing = phone.locator("svg.by-eye")
    drawing.wait_for()
    keep(phone, f"{dress}-mirrors-by-eye")
    look = "e => { const c = getComputedStyle(e); return [c.fill, c.backgroundColor] }"
    star = drawing.locator(".star").evaluate(look)[0]
    shadow = drawing.locator(".shadow").evaluate(look)[0]
    assert star != shadow
    assert star != drawing.evaluate(look)[1]
    # The page's own buttons lie over its lower end: nothing that is needed may lie below them.
    button = phone.get_by_role("button", name=re.compile("It looks like this")).bounding_box()
    assert button["y"] + button["height"] < phone.locator("nav").bounding_box()["y"]
    keys = phone.locator(".by-eye-keys button").all()
    for key in keys:
        box = key.bounding_box()
        assert min(box["width"], box["height"]) >= 56
        assert box["x"] + box["width"] <= 390


def test_the_shadow_is_set_by_eye(scope: Scope, phone: Any) -> None:
    """Dragged by a finger, moved by keys and by buttons: three settings at 30 right, 10 down."""
    begin_by_eye(phone, scope)
    drawing = phone.locator("svg.by-eye")
    shadow = drawing.locator(".shadow")
    ready = phone.get_by_role("button", name=re.compile("It looks like this"))
    expect(ready).to_be_disabled()

    box = drawing.bounding_box()
    k = box["width"] / 220
    x, y = box["x"] + 40, box["y"] + 40  # beside the shadow: the finger need not hide it
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x + 16 * k, y + 10 * k, steps=4)
    phone.mouse.up()
    assert abs(float(shadow.get_attribute("cx")) - 30) < 1
    ready.tap()

    expect(ready).to_contain_text("2 of 3")
    drawing.focus()
    for key, times in (("ArrowRight", 37), ("ArrowUp", 2), ("+", 1), ("-", 1)):
        for _ in range(times):
            phone.keyboard.press(key)
    ready.tap()

    expect(ready).to_contain_text("3 of 3")
    for name, times in (("Right", 37), ("Down", 22), ("Wider", 1), ("Narrower", 1)):
        button = phone.get_by_role("button", name=name, exact=True)
        for _ in range(times):
            button.dispatch_event("click")
    ready.tap()
    main = phone.locator("main")
    expect(main).to_contain_text("half past 3 in the eyepiece")
    expect(main).to_contain_text("31.6 ±")
    expect(main).to_contain_text("How far the focuser was moved")
    phone.get_by_role("button", name="If you know more").tap()
    phone.get_by_label("How far the focuser was moved, mm").fill("0.2")
    phone.get_by_role("button", name="Measure with this").tap()
    expect(main).to_contain_text("mm from the mirror's axis")
    expect(main).to_contain_text("31.6 ±")
    keep(phone, "mirrors-by-eye-said")
    phone.get_by_role("button", name="I see the ring again").tap()
    expect(main).to_contain_text("Other side of focus")
    keep(phone, "mirrors-by-eye-other-side")
    for n in (1, 2, 3):
        expect(ready).to_contain_text(f"{n} of 3")
        phone.get_by_role("button", name="Right", exact=True).dispatch_event("click")
        ready.tap()
    expect(main).to_contain_text("The part of the shadow's offset that is coma")
    expect(main).not_to_contain_text("From the other side of focus")
    keep(phone, "mirrors-by-eye-both-sides")
    phone.get_by_role("button", name="Set it again").tap()
    phone.get_by_role("button", name="I see the ring").tap()
    expect(ready).to_contain_text("1 of 3")
