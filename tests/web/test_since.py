"""The stated chance reckons with a slip since the last star, and says when to sight another."""

import re
from dataclasses import replace

import pytest

from plumbstar.solve.doubts import BadAmong, WasAnother
from plumbstar.solve.since import JUMP_RATE
from plumbstar.web.evening.next_step import Because, NextStep, Step
from plumbstar.web.evening.solved import EveningFix
from plumbstar.web.views.next_action import next_action
from plumbstar.web.views.to_check import ToCheck, WhyCheck, to_check

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
async def test_a_star_taken_back_has_checked_nothing(tmp_path):
    async with rig(tmp_path) as r:
        for name in STARS:
            await r.sight(name)
        for name in OBJECTS:
            await chance(r, name)
        unchecked = await chance(r, "M42")
        await r.sight("Aldebaran")
        checked = await chance(r, "M42")
        assert checked[0] > unchecked[0] + 0.05
        await r.do("undo")
        assert (await chance(r, "M42"))[0] < unchecked[0]  # one push more
        await r.do("redo")
        assert await chance(r, "M42") == (pytest.approx(checked[0], abs=0.01), "")


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
        # Fix says nine in ten with a contradicting star: its button leads to one more, as Find's.
        n = (await r.state())["next"]
        assert (n["do"], n["page"], n["settles"]) == ("sight", "sight", False)
        await r.sight("Procyon")
        assert (await chance(r, "M42"))[1] == ""
        assert (await r.state())["next"]["do"] == "find"


@asynchronous
async def test_a_mount_that_no_kit_expects_is_said_at_the_push_until_five_stars_agree(tmp_path):
    """Two mistakes among four stars look the same."""
    async with rig(tmp_path) as r:
        for name in STARS:
            await r.sight(name, off=(0.0, 7.0))
        _, doubt = await chance(r, "M42")
        assert doubt.startswith("The mount is further off than the kit expects, or two stars are")
        await r.quiet()
        n = (await r.state())["next"]
        assert (n["do"], n["settles"]) == ("sight", False)
        assert re.fullmatch(
            "The mount is further off than the kit expects, or two stars are wrong. "
            r"Sight \w+: that tells\.",
            n["sentence"],
        )
        await r.sight("Aldebaran", off=(0.0, 7.0))
        assert (await chance(r, "M42"))[1] == ""
        assert (await r.state())["next"]["do"] == "find"


@asynchronous
async def test_a_way_that_a_slow_board_did_not_show_lowers_it_too(tmp_path):
    async with rig(tmp_path) as r:
        for name in STARS:
            await r.sight(name)
        first, _ = await chance(r, "M42")
        mean = (await r.state())["fix"]["mean_hit_chance"]
        await r.station.do(lambda e: e.since.went_unseen(60.0))
        later = (await r.state())["target"]["hit_chance"]
        assert later == pytest.approx((1 - JUMP_RATE) * first, abs=2e-3)
        assert (await r.state())["fix"]["mean_hit_chance"] == pytest.approx(
            (1 - JUMP_RATE) * mean, abs=2e-3
        )
        await r.sight("Aldebaran")
        assert (await chance(r, "M42"))[0] >= first - 5e-3
        assert await r.station.ask(lambda e: e.since.unseen_deg) == 0.0


@asynchronous
async def test_the_fix_states_the_next_push_as_the_push_itself_does(tmp_path):
    async with rig(tmp_path) as r:
        for name in STARS:
            await r.sight(name)
        raw = await r.station.ask(lambda e: e.fix.mean_hit_chance(e.instrument.field_deg))
        told = (await r.state())["fix"]
        assert told["mean_hit_chance"] == pytest.approx(0.98 * raw, abs=1e-3)
        for name in OBJECTS[:4]:
            await chance(r, name)
        told = (await r.state())["fix"]["mean_hit_chance"]
        assert told == pytest.approx(0.98**5 * raw, abs=1e-3)  # the next is the fifth


@asynchronous
async def test_a_name_that_may_be_wrong_is_said_at_the_push_until_it_is_sure(tmp_path):
    """Fix says "that was probably Menkalinan": then the push may not state its chance unwarned."""
    async with rig(tmp_path) as r:
        for name in STARS[:3]:
            await r.sight(name)

        def with_doubts(e, *doubts):
            parts, fix = e.solved.parts, replace(e.fix, doubts=doubts)
            told = (*parts[:-1], replace(parts[-1], fix=fix))
            e._after.solved = EveningFix(e.solved.used, told)
            return to_check(e), next_action(e, NextStep(Step.SIGHT, Because.TO_CHECK)).sentence

        def was(probability):
            return WasAnother(0, "Capella", "Menkalinan", 7.7, probability)

        said, words = await r.station.ask(lambda e: with_doubts(e, was(0.88)))
        assert said == ToCheck(WhyCheck.NAMES, ("Capella",))
        assert words.startswith("Capella may have been another star than you said. ")
        said, _ = await r.station.ask(lambda e: with_doubts(e, was(0.95)))
        assert said is None
        said, words = await r.station.ask(lambda e: with_doubts(e, BadAmong((0, 1))))
        assert said == ToCheck(WhyCheck.ONE_IS_WRONG)
        assert words.startswith("One sighting looks wrong, but not clearly which. ")
