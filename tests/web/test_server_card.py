"""The night card from the server: whose it is, what it holds, and behind which door."""

import html
import sys

import pytest

import needs
from plumbstar.web.door.sessions import COOKIE
from plumbstar.web.views import cards

from .server_rig import asynchronous, rig

FILES = {
    "/card.html": ("text/html; charset=utf-8", "night-card-2027-01-28.html", b"<!doctype html>"),
    "/card.pdf": ("application/pdf", "night-card-2027-01-28.pdf", b"%PDF-"),
    "/evening.ics": ("text/calendar; charset=utf-8", "evening-2027-01-28.ics", b"BEGIN:VCALENDAR"),
}


@pytest.fixture
def short(monkeypatch):
    """A card for an hour of looking, for tests that are not about what is on it."""
    monkeypatch.setattr(cards.CardInputs, "hours", 1.0)


@pytest.mark.usefixtures("short")
@asynchronous
async def test_three_files_to_keep(tmp_path):
    needs.module("typst")
    async with rig(tmp_path) as r:
        await r.do("set_skyline", text="0:8 104:10 117:38 130:9 290:10 296:27 334:27 340:9")
        for path, (media, name, head) in FILES.items():
            got = await r.client.get(path)
            assert got.status_code == 200, got.text
            assert got.headers["content-type"] == media
            assert got.headers["content-disposition"] == f'attachment; filename="{name}"'
            assert got.headers["cache-control"] == "no-store"
            assert got.content.startswith(head)
        page = (await r.client.get("/card.html")).text
        assert "Thornback Ridge" in page
        assert "Ridge box" in page
        assert "Times are UTC." in page
        assert ">18:30<" in page  # the night is under way: from now on
        assert "32 mm field" in page  # the eyepiece in use


@pytest.mark.usefixtures("short")
@asynchronous
async def test_another_eyepiece_or_site_makes_another_card(tmp_path):
    async with rig(tmp_path) as r:
        first = (await r.client.get("/card.html")).text
        assert (await r.client.get("/card.html")).text == first
        await r.do("set_eyepiece", name="17 mm")
        assert "17 mm field" in (await r.client.get("/card.html")).text
        await r.do("set_site", name="<b>", lat_deg=-31.5, lon_deg=21.0, elevation_m=1050.0)
        page = (await r.client.get("/card.html")).text
        assert "&lt;b&gt;" in page
        assert "<b>" not in page
        assert "31.500° S" in page


@pytest.mark.usefixtures("short")
@asynchronous
async def test_local_time_when_asked_and_an_odd_zone_refused(tmp_path):
    async with rig(tmp_path) as r:
        for zone in ("%2B01:00", "+01:00"):  # a plus sign written with care, and not
            page = (await r.client.get(f"/card.html?zone={zone}")).text
            assert "Times are UTC+1." in page
        for zone in ("Mars", "%2B99:00", "1%22%3E"):
            got = await r.get(f"/card.html?zone={zone}", status=400)
            assert "time zone" in got["error"]


@pytest.mark.usefixtures("short")
@asynchronous
async def test_without_a_site_or_the_part_for_paper_it_says_what_to_do(tmp_path, monkeypatch):
    async with rig(tmp_path, site=None) as r:
        for path in FILES:
            assert (await r.get(path, status=400))["remedy"]
    monkeypatch.setitem(sys.modules, "typst", None)
    async with rig(tmp_path / "other") as r:
        assert "plumbstar[card]" in (await r.get("/card.pdf", status=400))["remedy"]
        assert (await r.client.get("/evening.ics")).status_code == 200


@pytest.mark.usefixtures("short")
@asynchronous
async def test_a_stranger_gets_no_card_and_a_paired_phone_does(tmp_path):
    where = {"host": "scope.test", "names": ("scope.test",), "peer": "192.168.4.20"}
    async with rig(tmp_path, **where) as r:
        for path in FILES:
            got = await r.client.get(path)
            assert got.status_code == 401
            assert b"Thornback" not in got.content
            cross = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}
            assert (await r.client.get(path, headers=cross)).status_code == 403
        await r.client.post("/pair", json={"code": "ABCDEFGH"})
        assert COOKIE in r.client.cookies
        assert (await r.client.get("/evening.ics")).status_code == 200


@asynchronous
async def test_the_card_says_the_same_as_the_tonight_page(tmp_path):
    async with rig(tmp_path) as r:
        told = await r.get("/data/agenda?hours=2&kind=double")
        page = (await r.client.get("/card.html")).text
        places = [page.index(f"{html.escape(v['label'])}</h3>") for v in told["visits"]]
        assert len(places) >= 3
        assert places == sorted(places)
        assert page.count('id="seen-') == len(places)
        # The order is for another site's sky: the card makes its own.
        await r.do("set_site", name="", lat_deg=-31.5, lon_deg=11.6, elevation_m=10.0)
        other = (await r.client.get("/card.html")).text
        assert other.count('id="seen-') > 3
        assert "open cluster in " in other  # not the doubles that the page had asked for
        assert "open cluster in " not in page


@asynchronous
async def test_an_order_that_is_over_is_not_put_on_the_card(tmp_path):
    async with rig(tmp_path) as r:
        told = await r.get("/data/agenda?hours=1&kind=double")
        r.times.go(2 * 3600.0)
        page = (await r.client.get("/card.html")).text
        first = html.escape(told["visits"][0]["start"])
        assert f"<span>{first}</span>" not in page
        assert page.count('id="seen-') > len(told["visits"])
