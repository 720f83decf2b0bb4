"""By day: every place that the server names, from outside, by angles worked out another way."""

import math
import re

import numpy as np
import pytest

from plumbstar.choose.lookalikes import lookalikes_of
from plumbstar.guide.aim import left_from
from plumbstar.mount import kinematics
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant
from plumbstar.web.programs import sending
from plumbstar.web.programs.refused import Refused
from samples import tries

from .server_rig import SCENE, Listener, Standing, asynchronous, rig
from .test_alpaca_sending import of_date

MAY = Instant.parse("2027-05-12T11:00:00Z")


def sun_at(instant):
    return place_of(Body("Sun"), instant, SCENE.site)


def apart(a, b):
    """Haversine, degrees."""
    (az, alt), (az2, alt2) = np.radians(a), np.radians(b)
    h = math.sin((alt2 - alt) / 2) ** 2
    h += math.cos(alt) * math.cos(alt2) * math.sin((az2 - az) / 2) ** 2
    return math.degrees(2 * math.asin(math.sqrt(min(1.0, h))))


def lookalikes(e, name):
    """All look-alikes by name, with their places."""
    star = catalogue.load().find(name)
    alike = lookalikes_of(star, catalogue.load(), e.now(), SCENE.site)
    return {a.star.label: place_of(a.star, e.now(), SCENE.site) for a in alike}


async def by_day_with_a_filter(r, stars):
    for name in stars:
        await r.sight(name)
        r.times.go(60)
    await r.do("start_outing")
    await r.do("confirm_filter", confirmed=True)


@pytest.mark.parametrize("stars", [["Alpheratz"], ["Alpheratz", "Capella", "Castor"]])
@asynchronous
async def test_no_stop_of_a_search_by_day_leads_near_the_sun(tmp_path, stars):
    """One star's fix is in doubt by degrees, and its search is wide; three stars' is sure."""
    async with rig(tmp_path, times=Standing(MAY)) as r:
        await by_day_with_a_filter(r, stars)
        seen = {}
        names = ("Mirach", "Capella", "Aldebaran", "Venus", "Algol", "Castor")
        for name in names[: tries(3, 6)]:
            await r.do("set_target", name=name)
            target = (await r.state())["target"]
            now = r.station.clock.now()
            away = apart(place_of(lookup.find_target(name), now, SCENE.site), sun_at(now))
            stops = 0
            while target and target["refused"] is None and stops < 25:
                goal = target["sweep"] or target
                if goal["az_reading_deg"] is None:
                    assert "from the Sun" in target["way_barred"]["more"]
                    break
                fix = r.station._evening.fix
                at = fix.pointing_of(goal["az_reading_deg"], goal["alt_reading_deg"])
                field = (await r.state())["kit"]["field_deg"]
                assert apart(at, sun_at(r.station.clock.now())) > 20.0 + field / 2, (name, stops)
                # The tube is there now: the way to the next begins here.
                await r.do(
                    "typed_reading",
                    az_deg=round(goal["az_reading_deg"], 2),
                    alt_deg=round(goal["alt_reading_deg"], 2),
                )
                await r.do("not_in_field")
                target = (await r.state())["target"]
                stops += 1
            seen[name] = (round(away), stops)
        assert seen["Aldebaran"] == (19, 0)
        assert max(n for _, n in seen.values()) > 3, seen  # it does lead somewhere


def truly(reading):
    """Where the hidden mount's tube points, degrees: not as the fix has it."""
    d = kinematics.direction(np.radians(np.array(reading)), SCENE.hidden)
    return tuple(np.degrees(kinematics.az_alt(d)))


@pytest.mark.parametrize(
    ("at", "eyepiece", "away", "least"),
    [
        ("2027-05-10T11:00:00Z", "17 mm", 21.3, 1),
        ("2027-05-10T11:00:00Z", "9 mm", 21.3, 3),
        ("2027-05-09T11:00:00Z", "32 mm", 22.2, 3),
    ],
)
@asynchronous
async def test_a_search_for_a_target_just_outside_the_twenty_degrees(
    tmp_path, at, eyepiece, away, least
):
    """Each stop and every reading on the way there, where the tube then truly points."""
    async with rig(tmp_path, times=Standing(Instant.parse(at))) as r:
        await by_day_with_a_filter(r, ["Alpheratz", "Capella", "Castor"])
        await r.do("set_eyepiece", name=eyepiece)
        field = (await r.state())["kit"]["field_deg"]
        _, here = r.truth("Aldebaran")
        place = place_of(lookup.find_target("Aldebaran"), r.station.clock.now(), SCENE.site)
        assert apart(place, sun_at(r.station.clock.now())) == pytest.approx(away, abs=0.1)
        await r.do("typed_reading", az_deg=round(here[0], 2), alt_deg=round(here[1], 2))
        await r.do("set_target", name="Aldebaran")
        nearest, stops = 99.0, 0
        while stops < 40:
            target = (await r.state())["target"]
            goal = target and (target["sweep"] or target)
            if not goal or goal["az_reading_deg"] is None:
                break
            to, sun = (
                (goal["az_reading_deg"], goal["alt_reading_deg"]),
                sun_at(r.station.clock.now()),
            )
            for part in np.linspace(0.0, 1.0, 5):
                between = [a + part * (b - a) for a, b in zip(here, to, strict=True)]
                for reading in (between, (between[0], here[1]), (here[0], between[1])):
                    nearest = min(nearest, apart(truly(reading), sun) - field / 2)
            here = to
            await r.do("typed_reading", az_deg=round(to[0], 2), alt_deg=round(to[1], 2))
            await r.do("not_in_field")
            r.times.go(20)
            await r.station.ask(lambda e: e.targeting.look_at_sun())
            stops += 1
        assert stops >= least  # it leads somewhere, and then no further
        assert target["searching"]  # a press by mistake can still be taken back
        assert nearest > 20.0


@asynchronous
async def test_no_way_is_shown_that_may_pass_the_sun_and_the_page_is_told(tmp_path):
    async with rig(tmp_path, times=Standing(MAY)) as r:
        await by_day_with_a_filter(r, ["Alpheratz", "Capella", "Castor"])
        await r.do("set_target", name="Alpheratz")  # in the south-west; the tube is in the east
        async with Listener(r.app) as phone:
            said = await phone.until(lambda n, d: n == "reading")
            assert said["sun_bars"]
            assert said["push"] is None
            assert not said["in_field"]
            target = (await r.state())["target"]
            assert target["refused"] is None
            assert target["az_reading_deg"] is None
            barred = target["way_barred"]
            assert barred["answer"] == "The way there may pass the Sun."
            assert barred["caution"].startswith("Cap the tube and the finder")
            assert re.match(r"The push there may pass \d+° from the Sun", barred["more"])
            assert target["warnings"] == []
            # Brought round by hand: the way is shown, and every screen is painted anew.
            _, (az, alt) = r.truth("Mirach")
            await r.do("typed_reading", az_deg=round(az, 2), alt_deg=round(alt, 2))
            said = await phone.until(lambda n, d: n == "reading" and not d["sun_bars"])
            assert said["push"] is not None
            await phone.until(lambda n, d: n == "state" and d["target"]["az_reading_deg"])


@asynchronous
async def test_by_day_the_push_begins_at_a_reading_that_is_known(tmp_path):
    times = Standing(MAY)
    async with rig(tmp_path, times=times) as r:
        await by_day_with_a_filter(r, ["Alpheratz", "Capella", "Castor"])
    async with rig(tmp_path, times=times) as r:  # the server again: nothing was typed since
        await r.do("set_target", name="Castor")
        target = (await r.state())["target"]
        assert target["az_reading_deg"] is None
        assert "Type what the circles read" in target["way_barred"]["caution"]
        _, (az, alt) = r.truth("Castor")
        await r.do("typed_reading", az_deg=round(az, 2), alt_deg=round(alt, 2))
        assert (await r.state())["target"]["az_reading_deg"] is not None


# ---- what is said to be centred, and what is named


@asynchronous
async def test_by_day_the_sun_and_what_is_near_it_are_not_sighted(tmp_path):
    async with rig(tmp_path, times=Standing(MAY)) as r:
        for name in ("Sun", "Aldebaran"):  # 19 degrees from it
            _, (az, alt) = r.truth(name)
            shown = {"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
            said = await r.do("sight", 400, star=name, id=r.press(), reading=shown)
            assert "Sun" in said["error"]
            assert "Cap the tube" in said["remedy"]
            said = await r.do("here_centred", 400, target=name, id=r.press(), reading=shown)
            assert "Sun" in said["error"]
        s = await r.state()
        assert not s["sightings"]
        assert s["outing"] is None
        # Far from it a bright star may be seen by day: recorded, with a caution, which does not
        # wait for the answer to another question.
        said = await r.sight("Alpheratz", off=(0.0, -45.0), id="press-asked")
        assert said["asked"]
        assert any("never sweep toward it" in m["text"] for m in (await r.state())["messages"])
        await r.do("answer_doubt", id="press-asked", save=False)
        await r.sight("Alpheratz")
        s = await r.state()
        assert [x["star"] for x in s["sightings"]] == ["Alpheratz"]
        assert any("never sweep toward it" in m["text"] for m in s["messages"])
        # With the filter on it is the observer's own business what is centred.
        await r.do("confirm_filter", confirmed=True)
        await r.sight("Sun")


@asynchronous
async def test_a_press_made_by_night_is_judged_by_its_own_moment(tmp_path):
    """A tap kept on a phone until the morning was made at a star near where the Sun is now."""
    times = Standing(Instant.parse("2027-05-12T19:15:00Z"))  # the Sun is 6 degrees down
    async with rig(tmp_path, times=times) as r:
        _, (az, alt) = r.truth("Aldebaran")
        shown = {"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
        times.go(11 * 3600)
        assert sun_at(r.station.clock.now())[1] > 10.0
        press = {"star": "Aldebaran", "reading": shown}
        await r.do("sight", **press, id=r.press(), ago_ms=11 * 3600 * 1000)
        assert not (await r.state())["messages"]
        await r.do("sight", 400, **press, id=r.press())


@asynchronous
async def test_a_sync_of_another_program_near_the_sun_is_refused_in_words(tmp_path):
    async with rig(tmp_path, times=Standing(MAY)) as r:
        for name in ("Sun", "Aldebaran"):
            with pytest.raises(Refused, match="Sun") as e:
                await sending.sync(r.station, *of_date(r, name), r.station.clock.monotonic())
            assert "Cap the tube" in str(e.value)
        # Half a degree beside the Sun, as of a program with other coordinates: no star is there.
        ra_hours, dec_deg = of_date(r, "Sun")
        with pytest.raises(Refused, match="nearer than 20°") as e:
            await sending.sync(r.station, ra_hours, dec_deg + 0.5, r.station.clock.monotonic())
        assert "Cap the tube" in str(e.value)
        assert not (await r.state())["sightings"]


@asynchronous
async def test_by_day_nothing_near_the_sun_is_named_as_a_place(tmp_path):
    async with rig(tmp_path, times=Standing(MAY)) as r:
        await r.do("pick", stars=["Aldebaran", "Alpheratz"])
        await r.do("start_outing")
        s = await r.state()
        assert s["next"]["sentence"] == "Next star: Alpheratz. Wait until the Sun is down."
        near, far = s["plan"]
        assert near["where"] == "too near the Sun to point at"
        assert near["az_deg"] is None
        assert near["near_sun"].startswith("Too near the Sun. ")
        assert far["az_deg"] is not None
        assert far["near_sun"] == ""
        rows = {
            n: (await r.get(f"/data/search?q={n}"))["results"][0] for n in ("Aldebaran", "Vega")
        }
        assert rows["Aldebaran"]["where"] == "too near the Sun to point at"
        assert rows["Aldebaran"]["hit_chance"] is None
        assert "Sun" not in rows["Vega"]["where"]
        await r.do("set_target", name="Aldebaran")
        assert (await r.state())["target"]["where"] == "too near the Sun to point at"
        r.times.go(14 * 3600)  # the night after
        near, _ = (await r.state())["plan"]
        assert near["near_sun"] == ""


@asynchronous
async def test_by_day_no_lookalike_is_named_near_the_sun(tmp_path):
    june = Instant.parse("2027-06-11T11:00:00Z")
    async with rig(tmp_path, times=Standing(june)) as r:
        await r.do("start_outing")
        await r.do("confirm_filter", confirmed=True)
        await r.do("pick", stars=["Alnilam"])  # 25 degrees from it, and Bellatrix 17
        (star,) = (await r.state())["plan"]
        all_of_them = await r.station.ask(lambda e: lookalikes(e, "Alnilam"))
        assert apart(all_of_them["Bellatrix"], sun_at(june)) < 20.0
        assert not star["near_sun"]
        named = {a["name"] for a in star["lookalikes"]}
        assert named == {n for n, at in all_of_them.items() if apart(at, sun_at(june)) > 20.75}
        assert named


@asynchronous
async def test_a_search_that_ends_by_day_sends_nobody_to_a_star_near_it(tmp_path):
    async with rig(tmp_path, times=Standing(MAY)) as r:
        await by_day_with_a_filter(r, ["Alpheratz", "Capella", "Castor"])
        await r.do("set_target", name="Castor")
        for _ in range(80):
            await r.do("not_in_field")
            s = await r.state()
            if s["target"]["sweep"] is None and s["messages"]:
                break
        said = " ".join(m["text"] for m in s["messages"])
        assert "searched and not found" in said
        assert "Choose another" in said
        assert "bright star near it" not in said


@pytest.mark.parametrize(("misses", "right"), [(0, -2.8), (2, 0.0)])
@asynchronous
async def test_the_page_and_the_stream_agree_whether_a_way_may_be_shown(tmp_path, misses, right):
    """To the target or to a stop of a search, from readings close about the limit: a page that
    says that no way is shown while its scales show one would teach to go by the scales."""
    async with rig(tmp_path, times=Standing(Instant.parse("2027-05-10T11:00:00Z"))) as r:
        await by_day_with_a_filter(r, ["Alpheratz", "Capella", "Castor"])
        await r.do("set_eyepiece", name="9 mm")
        _, here = r.truth("Aldebaran")
        await r.do("typed_reading", az_deg=round(here[0], 2), alt_deg=round(here[1], 2))
        await r.do("set_target", name="Aldebaran")
        for _ in range(misses):
            await r.do("not_in_field")
        aim, shown = r.station._evening.guidance.aim, []
        assert (aim.stop_deg is not None) == bool(misses)
        for down in np.linspace(0.0, 3.0, 16):
            az, alt = round(here[0] + right, 2), round(here[1] - down, 2)
            await r.do("typed_reading", az_deg=az, alt_deg=alt)
            page = (await r.state())["target"]["az_reading_deg"] is not None
            left = left_from(aim, az, alt, r.station.clock.now())
            assert page == (left is not None), (az, alt)
            shown.append(page)
        assert len(set(shown)) == 2, shown
