"""The stated chance reckons with a slip since the last star, and says when to sight another."""

import pytest

from .server_rig import asynchronous, rig

STARS = ("Capella", "Rigel", "Pollux", "Alpheratz")
OBJECTS = ("M45", "M31", "M35", "M37", "M42", "NGC869", "M1")


async def chance(r, name):
    await r.do("set_target", name=name)
    t = (await r.state())["target"]
    return t["hit_chance"], t["doubt"]


@asynchronous
async def test_it_falls_with_every_push_that_no_star_has_checked(tmp_path):
    async with rig(tmp_path) as r:
        for name in STARS:
            await r.sight(name)
        first, doubt = await chance(r, "M42")
        assert 0.95 < first <= 0.98
        assert doubt == ""
        assert await chance(r, "M42") == (first, "")  # chosen again: no other push
        for name in OBJECTS:
            found = await r.get(f"/data/search?kind=any&q={name}")
            _, doubt = told = await chance(r, name)
            assert found["results"][0]["hit_chance"] == pytest.approx(told[0], abs=3e-3)
        assert "since Alpheratz was centred. If this is not in the field, sight a star." in doubt
        later, _ = await chance(r, "M42")
        assert later < 0.86
        await r.sight("Aldebaran")
        again, doubt = await chance(r, "M42")
        assert again > 0.95
        assert doubt == ""


@asynchronous
async def test_not_there_where_it_was_nearly_sure_makes_the_next_one_doubtful(tmp_path):
    async with rig(tmp_path) as r:
        for name in STARS:
            await r.sight(name)
        await chance(r, "M42")
        await r.do("not_in_field")
        next_one, doubt = await chance(r, "M35")
        assert next_one < 0.85
        assert "may have moved unnoticed" in doubt
        await r.sight("Aldebaran")
        assert (await chance(r, "M35"))[0] > 0.95


@asynchronous
async def test_a_last_star_that_contradicts_the_others_is_said_at_the_push(tmp_path):
    async with rig(tmp_path) as r:
        for name in STARS:
            await r.sight(name)
        await r.sight("Aldebaran", off=(3.0, 2.0))
        _, doubt = await chance(r, "M42")
        assert doubt.startswith("Aldebaran contradicts what was centred before it")
        await r.sight("Procyon")
        assert (await chance(r, "M42"))[1] == ""
