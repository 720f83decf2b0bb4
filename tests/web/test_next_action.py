"""One next action, decided in one place: what the pages are given in each case is that one."""

import pytest

from plumbstar.web.evening.next_step import (
    Because,
    NextStep,
    PlannedFact,
    Situation,
    Step,
    next_step,
)

from .server_rig import asynchronous, rig

PLAN = ("Capella", "Rigel")


def planned(*done, names=PLAN, up=True):
    return tuple(PlannedFact(n, n in done, up) for n in names)


BASE = {"planned": planned(), "sighted": 2, "base": True, "chance": 0.9}


@pytest.mark.parametrize(
    ("situation", "expected"),
    [
        (Situation(has_site=False), NextStep(Step.SITE, Because.NOTHING_YET)),
        (Situation(outing=False), NextStep(Step.CHOOSE, Because.NOTHING_YET)),
        (
            Situation(outing=False, planned=planned()),
            NextStep(Step.START, Because.NOTHING_YET),
        ),
        (Situation(planned=planned()), NextStep(Step.SIGHT, Because.PLANNED, "Capella")),
        (Situation(planned=planned(up=False)), NextStep(Step.CHOOSE, Because.NONE_UP)),
        # A question comes before any star.
        (
            Situation(planned=planned(), asked=Because.MOVE_ASKED),
            NextStep(Step.ANSWER, Because.MOVE_ASKED),
        ),
        # Contradictory: a star that is left to sight tells more than the causes do.
        (
            Situation(planned=planned(), sighted=2, contradictory=True, chance=0.1),
            NextStep(Step.SIGHT, Because.CONTRADICTORY, "Capella"),
        ),
        (
            Situation(planned=planned(*PLAN), sighted=2, contradictory=True, chance=0.1),
            NextStep(Step.MEND, Because.CONTRADICTORY),
        ),
        (
            Situation(planned=planned(*PLAN), sighted=2),
            NextStep(Step.MEND, Because.UNSOLVED),
        ),
        # After the base was moved two stars, whatever the chance says.
        (Situation(slip=True, **BASE), NextStep(Step.SIGHT, Because.BASE_MOVED, "Capella")),
        (
            Situation(since_base=frozenset({"Capella"}), **{**BASE, "planned": planned("Capella")}),
            NextStep(Step.SIGHT, Because.BASE_MOVED_ONE_SIGHTED, "Rigel"),
        ),
        (
            Situation(since_base=frozenset(PLAN), **{**BASE, "planned": planned(*PLAN)}),
            NextStep(Step.FIND, Because.STARS_DONE),
        ),
        # With nothing planned, a star that was sighted before.
        (
            Situation(slip=True, **{**BASE, "planned": (), "others": ("Deneb",)}),
            NextStep(Step.SIGHT, Because.BASE_MOVED, "Deneb"),
        ),
        # A circle: one star does.
        (
            Situation(planned=planned(*PLAN), sighted=2, slip=True, chance=0.9),
            NextStep(Step.SIGHT, Because.MAY_HAVE_SLIPPED, "Capella"),
        ),
        # The same step before and after the star is worked out.
        (
            Situation(planned=planned(*PLAN), sighted=2, chance=0.5),
            NextStep(Step.SIGHT, Because.WORTH_ONE_MORE),
        ),
        (
            Situation(
                planned=planned(*PLAN), sighted=2, chance=0.5, better="Deneb",
                better_known=True, worth_it=True,
            ),
            NextStep(Step.SIGHT, Because.WORTH_ONE_MORE, "Deneb"),
        ),
        (
            Situation(planned=planned(*PLAN), sighted=2, chance=0.5, better_known=True),
            NextStep(Step.FIND, Because.STARS_DONE),
        ),
        # By day no further star is asked for.
        (
            Situation(planned=planned(*PLAN), sighted=2, chance=0.5, by_day=True),
            NextStep(Step.FIND, Because.STARS_DONE),
        ),
        (
            Situation(planned=planned(*PLAN), sighted=4, chance=0.95, to_check=True),
            NextStep(Step.SIGHT, Because.TO_CHECK),
        ),
        (
            Situation(
                planned=planned(*PLAN), sighted=4, chance=0.98, to_check=True, better="Deneb"
            ),
            NextStep(Step.SIGHT, Because.TO_CHECK, "Deneb"),
        ),
        (
            Situation(planned=planned(*PLAN), sighted=2, chance=0.95),
            NextStep(Step.FIND, Because.STARS_DONE),
        ),
        (
            Situation(planned=planned(), controller=True),
            NextStep(Step.SIGHT, Because.CONTROLLER_UNTOLD),
        ),
    ],
)  # fmt: skip
def test_the_step_that_follows(situation, expected):
    assert next_step(situation) == expected


async def said(r):
    return (await r.state())["next"]


@asynchronous
async def test_from_the_start_of_an_evening_to_the_objects(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        assert (await said(r))["do"] == "choose"
        await r.do("pick", stars=list(PLAN))
        n = await said(r)
        assert (n["do"], n["button"]) == ("start", "Start the outing")
        await r.do("start_outing")
        for name in PLAN:
            n = await said(r)
            assert (n["do"], n["star"], n["page"]) == ("sight", name, "sight")
            assert n["button"] == f"Sight {name}"
            await r.sight(name)
        # The two stand close together: a third is worth it, and no page says otherwise.
        s = await r.state()
        assert s["next"]["do"] == "sight"
        await r.quiet()
        n, better = await said(r), (await r.state())["next_star"]
        assert (n["do"], n["star"]) == ("sight", better["star"])
        assert n["sentence"] == better["sentence"]
        await r.sight(better["star"])
        n = await said(r)
        assert (n["do"], n["button"]) == ("find", "Find an object")


@asynchronous
async def test_sightings_that_contradict_lead_to_what_went_wrong_not_to_an_object(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        await r.do("pick", stars=["Capella", "Rigel"])
        await r.sight("Capella")
        await r.sight("Rigel", off=(5.0, -5.0))
        await r.sight("Pollux", off=(-6.0, 6.0))
        s = await r.state()
        assert s["fix"]["contradictory"]
        assert "°" not in s["fix"]["sentence"]  # Mend reckons by how much, and says it once
        n = await said(r)
        assert n["do"] == "mend"
        assert n["button"] == "What went wrong?"
        await r.do("set_target", name="M42")
        assert (await r.state())["target"]["hit_chance"] is None
        found = await r.get("/data/search?kind=any&q=M42")
        assert found["results"][0]["hit_chance"] is None
        # All set aside, it begins anew, with the same stars.
        for x in s["sightings"]:
            await r.do("set_aside", id=x["id"], reason="I do not know")
        n = await said(r)
        assert (n["do"], n["star"]) == ("sight", "Capella")


@asynchronous
async def test_after_the_base_was_moved_two_stars_and_every_sentence_says_so(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        await r.do("pick", stars=["Capella", "Alpheratz"])
        for name in ("Capella", "Alpheratz", "Pollux"):
            await r.sight(name)
        await r.do("set_target", name="M42")
        assert (await r.state())["target"]["hit_chance"] > 0.9
        await r.do("base_moved")
        n, s = await said(r), await r.state()
        assert (n["do"], n["star"]) == ("sight", "Capella")
        assert "Sight two stars again, Capella first" in s["slip"]["sentence"]
        assert "two stars" in s["fix"]["sentence"]
        assert [p["done"] for p in s["plan"]] == [False, False]
        # Nothing is promised meanwhile.
        assert s["target"]["hit_chance"] is None
        found = await r.get("/data/search?kind=any&q=M42")
        assert found["results"][0]["hit_chance"] is None
        # One re-sighted: the banner is gone, and the second is still asked for.
        await r.sight("Capella", off=(-7.0, 0.0))
        n, s = await said(r), await r.state()
        assert s["slip"] is None
        assert (n["do"], n["star"]) == ("sight", "Alpheratz")
        assert [p["done"] for p in s["plan"]] == [True, False]
        await r.sight("Alpheratz", off=(-7.0, 0.0))
        n, s = await said(r), await r.state()
        assert [p["done"] for p in s["plan"]] == [True, True]
        assert n["do"] == "find"
        assert n["button"] == "Go on to M 42"
        assert s["target"]["hit_chance"] > 0.8
        _, (az, alt) = r.truth("M 42")
        reading = {"az_deg": round(az - 7.0, 2), "alt_deg": round(alt, 2)}
        await r.do("here_centred", id="press-found", target="M 42", reading=reading)
        n = await said(r)
        assert (n["sentence"], n["button"]) == ("M 42 is found.", "Find another object")


@asynchronous
async def test_a_press_that_is_doubted_is_the_question_to_answer(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        await r.do("pick", stars=["Capella", "Rigel", "Pollux"])
        await r.sight("Capella")
        assert (await r.sight("Rigel", off=(0.0, 30.0)))["asked"]
        n = await said(r)
        assert n["do"] == "answer"
        assert n["star"] == ""
        press = (await r.state())["doubts"][0]["id"]
        await r.do("answer_doubt", id=press, save=False)
        n = await said(r)
        assert (n["do"], n["star"]) == ("sight", "Rigel")
