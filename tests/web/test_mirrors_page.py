"""The mirrors on the phone, in Chromium: what is sent of a picture, and the shadow set by eye."""

from __future__ import annotations

import io
import re
from typing import Any

from PIL import Image

import needs
from defocused import Scene, photo

from .scope import Scope

expect = needs.module("playwright.sync_api").expect


def open_mirrors(page: Any, scope: Scope) -> None:
    page.goto(scope.url + "/#mend")
    page.get_by_text("Mirrors", exact=True).click()


def test_the_lens_is_sent_and_the_place_is_not(scope: Scope, phone: Any) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (47.0, 22.0, 33.0)
    held = io.BytesIO()
    Image.fromarray(photo(Scene(right=0.08))).save(held, "JPEG", quality=92, exif=exif)
    assert Image.open(io.BytesIO(held.getvalue())).getexif().get_ifd(0x8825)
    open_mirrors(phone, scope)
    with phone.expect_request(re.compile("/data/collimate")) as asked:
        phone.locator("input[type=file]").set_input_files(
            {"name": "star.jpg", "mimeType": "image/jpeg", "buffer": held.getvalue()}
        )
    assert "lens_mm=26" in asked.value.url
    body = asked.value.post_data_buffer
    sent = Image.open(io.BytesIO(body))
    assert b"Exif" not in body
    assert not sent.getexif()
    expect(phone.locator("main")).to_contain_text("The shadow is off-centre by")


def test_the_shadow_is_set_by_eye(scope: Scope, phone: Any) -> None:
    """Dragged by a finger, moved by keys and by buttons: three settings at 30 right, 10 down."""
    open_mirrors(phone, scope)
    phone.get_by_text("By eye", exact=True).click()
    drawing = phone.locator("svg.by-eye")
    shadow = drawing.locator(".shadow")
    keep = phone.get_by_role("button", name=re.compile("It looks like this"))
    expect(keep).to_be_disabled()

    box = drawing.bounding_box()
    k = box["width"] / 220
    x, y = box["x"] + 40, box["y"] + 40  # beside the shadow: the finger need not hide it
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x + 16 * k, y + 10 * k, steps=4)
    phone.mouse.up()
    assert abs(float(shadow.get_attribute("cx")) - 30) < 1
    keep.tap()

    expect(keep).to_contain_text("2 of 3")
    drawing.focus()
    for key, times in (("ArrowRight", 37), ("ArrowUp", 2), ("+", 1), ("-", 1)):
        for _ in range(times):
            phone.keyboard.press(key)
    keep.tap()

    expect(keep).to_contain_text("3 of 3")
    for name, times in (("Right", 37), ("Down", 22), ("Wider", 1), ("Narrower", 1)):
        button = phone.get_by_role("button", name=name, exact=True)
        for _ in range(times):
            button.dispatch_event("click")
    keep.tap()
    main = phone.locator("main")
    expect(main).to_contain_text("3 o'clock in the eyepiece")
    expect(main).to_contain_text("31.6 ±")
    phone.get_by_role("button", name="Set it again").tap()
    expect(keep).to_contain_text("1 of 3")
