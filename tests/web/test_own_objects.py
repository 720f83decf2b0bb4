"""Objects of the observer's own, put on the list by phone and found by name at once."""

import re

import pytest

from plumbstar.logbook import own_file

from .server_rig import asynchronous, rig


@asynchronous
async def test_what_the_phone_says_is_kept_or_refused_in_its_own_terms(tmp_path, monkeypatch):
    path = tmp_path / "objects.csv"
    monkeypatch.setenv(own_file.ENVIRONMENT, str(path))
    async with rig(tmp_path) as r:
        pair = {"name": "my pair", "ra": "5:35:17", "dec": "-5:23", "kind": "open cluster"}
        await r.do("own_add", **pair, mag="8.5", size="12")
        kept = own_file.load(path).match("My Pair")
        assert kept is not None
        assert (kept.ra_deg, kept.dec_deg) == pytest.approx((83.82083, -5.38333), abs=1e-4)
        assert (kept.v_mag, kept.size_arcmin, kept.kind) == (8.5, 12.0, "open cluster")
        assert [o["name"] for o in (await r.get("/data/own"))["objects"]] == ["my pair"]
        for wrong, word in (
            ({}, "on your list already"),
            ({"name": "M 31"}, "M 31 (Andromeda Galaxy) already"),
            ({"name": "other", "dec": "-95:00"}, "declination -90 to 90"),
            ({"name": "other", "mag": "bright"}, "a magnitude"),
        ):
            said = await r.do("own_add", status=400, **pair | wrong)
            assert word in said["error"]
            assert not re.search("line|table|--|plumbstar", said["error"] + said["remedy"])
        await r.do("own_remove", name="my pair")
        assert (await r.get("/data/own"))["objects"] == []
