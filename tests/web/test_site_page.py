"""The Prepare page's site part in a real browser, by thumb."""

from __future__ import annotations

import re
from typing import Any

import needs

from .scope import Scope

expect = needs.module("playwright.sync_api").expect


def test_from_a_town_to_a_kept_site_and_back(scope: Scope, phone: Any) -> None:
    phone.goto(scope.url + "/#prepare")
    phone.get_by_role("button", name=re.compile("^Where you stand")).tap()
    place = phone.get_by_label("Coordinates, or a town")
    place.fill("zurich")
    phone.get_by_role("button", name=re.compile("^Zürich, Switzerland")).tap()
    expect(phone.locator("#site-lat")).to_have_value("47.37")
    expect(phone.locator("#site-zone")).to_have_value("Europe/Zurich")
    phone.locator("#site-name").fill("Roof")
    phone.get_by_role("radio", name="Suburb").tap()
    expect(phone.locator("#site-sky")).to_have_value("19.5")
    phone.get_by_role("button", name="Save the site").tap()
    expect(phone.locator("#outcome")).to_have_text("Saved as Roof.")
    site = scope.state()["site"]
    assert (site["name"], site["time_zone"], site["zenith_mag"]) == ("Roof", "Europe/Zurich", 19.5)
    expect(phone.locator(".sun")).to_contain_text("Times are those of Europe/Zurich.")

    # Coordinates with everything in one line; the name comes along.
    phone.get_by_role("button", name=re.compile("^Where you stand")).tap()
    place.fill("Thornback Ridge: 47°12'N 11°36'E 3084 ft")
    phone.get_by_role("button", name=re.compile("^47.200° N, 11.600° E, 940 m")).tap()
    expect(phone.locator("#site-name")).to_have_value("Thornback Ridge")
    phone.get_by_role("button", name="Save the site").tap()
    expect(phone.locator("#outcome")).to_have_text("Saved as Thornback Ridge.")
    assert scope.state()["site"]["elevation_m"] == 940
    assert scope.state()["site"]["zenith_mag"] is None

    # The kept one again, and off the list.
    phone.get_by_role("button", name=re.compile("^Where you stand")).tap()
    phone.get_by_role("button", name=re.compile("^Roof")).tap()
    expect(phone.locator("#outcome")).to_have_text("You stand at Roof.")
    phone.get_by_role("button", name=re.compile("^Where you stand")).tap()
    phone.get_by_role("button", name="Take Roof off the list").tap()
    expect(phone.locator("#outcome")).to_contain_text("Roof is off the list.")
    assert [s["name"] for s in scope.state()["sites"]] == ["Thornback Ridge"]

    # Typed and saved at once, the line that came of it not tapped: that place, never the old one.
    place.fill("46.6, 12.1, 1200 m")
    phone.get_by_role("button", name="Save the site").tap()
    expect(phone.locator("#outcome")).to_have_text("Site saved.")
    saved = scope.state()["site"]
    assert (saved["lat_deg"], saved["name"], saved["elevation_m"]) == (46.6, "", 1200)
    phone.get_by_role("button", name=re.compile("^Where you stand")).tap()
    place.fill("San Jose")
    phone.get_by_role("button", name="Save the site").tap()
    expect(phone.locator("#outcome")).to_contain_text("tap yours in the list")
    assert scope.state()["site"]["lat_deg"] == 46.6

    # Two readings: said as a sentence, nothing filled in.
    place.fill("47 12 11 36")
    expect(phone.locator(".warning", has_text="could be")).to_be_visible()
    wide = phone.evaluate("document.documentElement.scrollWidth")
    assert wide <= 390


def test_hours_through_a_night_of_changed_clocks(scope: Scope, phone: Any) -> None:
    """The page's own arithmetic: UTC into the site's time, on both sides of the turn."""
    phone.goto(scope.url + "/#prepare")
    shown = phone.evaluate(
        """async () => {
          const { hour, hoursOf } = await import("/static/words.js");
          const state = { now_utc: "2027-10-30T20:00:00Z", clock: { zone: "Europe/Vienna", spans: [
            { from_utc: "2027-10-29T20:00:00Z", offset_s: 7200, short: "CEST" },
            { from_utc: "2027-10-31T01:00:00Z", offset_s: 3600, short: "CET" } ] } };
          return [
            hour(state, "2027-10-31T00:30:00Z", true), hour(state, "2027-10-31T01:30:00Z", true),
            hour(state, "2027-10-30T22:59:59Z"), hour(state, ""), hoursOf(state)];
        }"""
    )
    assert shown == [
        "02:30 CEST", "02:30 CET", "00:59", "",
        "Times are those of Europe/Vienna. Clocks change at 03:00 to CET.",
    ]  # fmt: skip
