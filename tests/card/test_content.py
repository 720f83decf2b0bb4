"""What is on the card, against the modules that know it."""

import datetime as dt
import math
import re

import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.card import drawing, make
from plumbstar.card.evening import evening, looking, night_of, noon_before
from plumbstar.card.order import order_of
from plumbstar.card.pairs import STAY, moments
from plumbstar.card.stops import push_words, stops_of
from plumbstar.choose import ranking as choose
from plumbstar.choose.candidates import candidates
from plumbstar.choose.lookalikes import lookalikes_of
from plumbstar.choose.say import look_alike
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.bodies import sun_altitude
from plumbstar.sky.events import night
from plumbstar.sky.lists import catalogue, deepsky, doubles
from plumbstar.sky.local_time import local
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets import say
from plumbstar.targets.model import conditions_of
from plumbstar.targets.order import plan
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import survey
from plumbstar.targets.wishes import Wishes

from .rig import FLAT, RIDGE, TWELVE, a_route, card, full


def at(text):
    return Instant.parse(text)


def test_the_times_are_those_of_the_almanac_in_their_order():
    c = card()
    n = night(at("2027-01-28T12:00:00Z"), RIDGE.site)
    by_key = {m.key: m.instant for m in c.moments}
    for key in ("sunset", "civil_dusk", "nautical_dusk", "astronomical_dusk", "sunrise"):
        assert abs(by_key[key].minus(getattr(n, key).instant)) < 1.0, key
    when = [m.instant for m in c.moments]
    assert when == sorted(when)
    assert c.night == "28 to 29 January 2027"
    # Lit half two days before last quarter; it rises after dusk and stays.
    assert c.sky == "Moon 55% lit, up from 23:59."


@pytest.mark.parametrize(
    ("asked", "date"),
    [
        ("2027-01-28T12:00:00Z", (2027, 1, 28)),  # noon: the coming night
        ("2027-01-28T17:05:00Z", (2027, 1, 28)),  # dusk
        ("2027-01-29T03:00:00Z", (2027, 1, 28)),  # small hours: the night under way
        ("2027-01-29T08:00:00Z", (2027, 1, 29)),  # after sunrise: the next one
    ],
)
def test_the_night_under_way_or_else_the_coming_one(asked, date):
    e = evening(at(asked), RIDGE.site)
    assert night_of(e.anchor, RIDGE.site.lon_deg)[0] == dt.date(*date)
    # Stars are chosen from dusk, or from now when that is past.
    dusk = next(m.instant for m in e.moments if m.key == "civil_dusk")
    assert e.first == max(dusk, at(asked)) if at(asked) > dusk else e.first == dusk


def test_the_date_is_the_evenings_own_far_from_greenwich():
    for lon, date in ((-150.0, 28), (150.0, 28), (11.6, 28)):
        asked = at("2027-01-28T20:00:00Z").plus_seconds(-lon / 360.0 * 86400.0)
        e = evening(asked, Site(30.0, lon))
        assert night_of(e.anchor, lon)[0].day == date


def test_dates_across_month_and_year():
    assert night_of(at("2027-01-31T18:00:00Z"), 0.0)[1] == "31 January to 1 February 2027"
    assert night_of(at("2026-12-31T18:00:00Z"), 0.0)[1] == "31 December 2026 to 1 January 2027"


def test_noon_before_is_a_noon_of_the_suns_mean_time():
    for lon in (-179.0, -75.0, 0.0, 11.6, 150.0, 359.0):
        t = at("2027-01-29T03:00:00Z")
        noon = noon_before(t, lon)
        assert 0.0 <= t.minus(noon) < 86400.0
        assert ((noon.jd2 + lon / 360.0) - 0.5 + 0.5) % 1.0 == pytest.approx(0.5, abs=1e-9)


def test_a_white_night_says_why_and_polar_day_gives_no_stars():
    north = Site(65.0, 25.0, name="North")
    e = evening(at("2027-06-10T12:00:00Z"), north)
    dark = next(m for m in e.moments if m.key == "astronomical_dusk")
    assert dark.instant is None
    assert "stays above -18" in dark.reason
    e = evening(at("2027-06-21T12:00:00Z"), Site(75.0, 25.0))
    assert e.first is None
    assert "polar day" in e.reason
    e = evening(at("2027-12-21T12:00:00Z"), Site(82.0, 25.0))  # polar night
    assert e.first == at("2027-12-21T12:00:00Z")


def test_a_card_of_polar_day_and_one_of_polar_night_can_be_made():
    for asked, lat in (("2027-06-21T12:00:00Z", 75.0), ("2027-12-21T12:00:00Z", 82.0)):
        c = make(at(asked), Site(lat, 25.0), RIDGE.kit, Skyline(), catalogue.load(),
                 field_deg=0.76, field_name="17 mm", hours=1.0)  # fmt: skip
        assert len(c.hours) == (0 if lat == 75.0 else 2)
        assert ("polar day" in c.hours_note) == (lat == 75.0)


def test_dusk_then_full_hours_of_the_wall_clock():
    first = at("2027-01-28T16:42:00Z")
    last = at("2027-01-28T20:00:00Z")
    # 17:00 comes 18 minutes after dusk: left out.
    for zone, shown in (
        ("", ["16:42", "18:00", "19:00", "20:00"]),
        ("+05:30", ["22:12", "23:00", "00:00", "01:00"]),
    ):
        assert [local(t, zone) for t in moments(first, last, zone)] == shown
    assert moments(first, first, "") == [first]


def test_targets_come_after_the_first_stars_unless_the_night_is_under_way():
    noon, late = at("2027-01-28T12:00:00Z"), at("2027-01-28T21:00:00Z")
    e = evening(noon, RIDGE.site)
    assert [t.minus(e.first) / 60.0 for t in looking(e, noon, 3.0)] == pytest.approx([15.0, 180.0])
    e = evening(late, RIDGE.site)
    assert looking(e, late, 1.0) == (late, late.plus_seconds(3600.0))
    assert looking(e, late, 12.0)[1] == e.last  # dawn comes first
    e = evening(at("2027-06-21T12:00:00Z"), Site(75.0, 25.0))
    assert looking(e, at("2027-06-21T12:00:00Z"), 3.0) is None


def test_the_order_is_that_of_tonight_for_the_same_hours():
    noon = at("2027-01-28T12:00:00Z")
    sky = conditions_of(RIDGE.site, RIDGE.kit)
    lists = (deepsky.load(), doubles.load())
    route = order_of(noon, RIDGE.site, RIDGE.kit, sky, RIDGE.skyline, *lists, hours=1.0)
    e = evening(noon, RIDGE.site)
    span = looking(e, noon, 1.0)
    night = survey(*lists, span[0], e.last, RIDGE.site, RIDGE.kit, sky, RIDGE.skyline)
    wanted = plan(night, Wishes().choose(prospects(night)), *span)
    assert len(route.visits) >= 3
    assert [v.prospect.target.key for v in route.visits] == [
        v.prospect.target.key for v in wanted.visits
    ]
    c = card(asked=noon, route=route, hours=1.0)
    assert [s.start for s in c.stops] == [v.start for v in route.visits]
    assert all(s.what and s.reason for s in c.stops)
    assert 0 < len(c.left_out) <= 8
    polar = Site(75.0, 25.0)
    june = at("2027-06-21T12:00:00Z")
    assert order_of(june, polar, RIDGE.kit, sky, RIDGE.skyline, *lists) is None


def test_each_hours_pair_is_the_best_or_within_the_stay_of_it():
    c = card()
    stars = catalogue.load()
    kept = 0
    for h, before in zip(c.hours, (None, *c.hours), strict=False):
        found = candidates(stars, h.instant, RIDGE.site, skyline=RIDGE.skyline)
        ranked = choose.choose(
            found, h.instant, Priors.from_kit(RIDGE.kit), Noise.from_kit(RIDGE.kit), 0.76,
            skyline=RIDGE.skyline, show=12,
        )  # fmt: skip
        names = {a.name for a in h.stars}
        mine = next(s for s in ranked.sets if {x.star.label for x in s.stars} == names)
        best = ranked.best
        lost = (best.mean_hit_chance - best.cost) - (mine.mean_hit_chance - mine.cost)
        assert 0.0 <= lost <= STAY
        assert h.chance == mine.mean_hit_chance
        if lost > 0.0:
            kept += 1
            assert before is not None
            assert names == {a.name for a in before.stars}
        for a in h.stars:
            az, alt = place_of(stars.find(a.name), h.instant, RIDGE.site)
            assert (a.az_deg, a.alt_deg) == pytest.approx((az, alt), abs=0.02)
    assert kept > 0  # the case that the rule is for does arise


def test_every_star_has_its_drawing_at_the_hour_it_is_first_wanted_with_its_look_alikes():
    c = card(south=True)
    stars = catalogue.load()
    first = {}
    for h in c.hours:
        for a in h.stars:
            first.setdefault(a.name, h.instant)
    assert [f.name for f in c.fields] == list(first)[:8]
    lettered = 0
    for f in c.fields:
        assert f.instant == first[f.name]
        alike = lookalikes_of(stars.find(f.name), stars, f.instant, FLAT.site)
        assert [s for _, s in f.alike] == [look_alike(a, stars.find(f.name)) for a in alike]
        for (letter, _), a in zip(f.alike, alike, strict=True):
            (dot,) = (d for d in f.dots if d.letter == letter)
            assert (dot.right_deg, dot.up_deg) == pytest.approx((a.right_deg, a.up_deg), abs=0.02)
            lettered += 1
        assert sum(d.letter != "" for d in f.dots) == len(alike)
        assert all(d.v_mag <= 4.5 for d in f.dots)
    assert lettered >= 3
    for h in c.hours:
        for a in h.stars:
            assert a.field is None or c.fields[a.field - 1].name == a.name


def test_the_stops_are_the_visits_with_the_push_from_where_the_last_object_stands_by_then():
    c = full()
    route = a_route(RIDGE, TWELVE)
    assert [s.start for s in c.stops] == [v.start for v in route.visits]
    assert c.stops[0].push == ""
    assert c.stops[0].what == say.what(route.visits[0].prospect.target)
    for last, s, v in zip(TWELVE, c.stops[1:], route.visits[1:], strict=False):
        az, alt = place_of(lookup.find_target(last), v.start, RIDGE.site)
        turn, rise = 0, 0
        for part in s.push.split(", "):
            number, _, way = part.partition("° ")
            if way in ("left", "right"):
                turn = int(number) * (1 if way == "right" else -1)
            elif way:
                rise = int(number) * (1 if way == "up" else -1)
        assert (az + turn - v.az_deg + 180) % 360 - 180 == pytest.approx(0.0, abs=0.5)
        assert alt + rise == pytest.approx(v.alt_deg, abs=0.5)
        assert abs(turn) <= 180


def test_the_shorter_way_round_through_north_and_hardly_at_all():
    import dataclasses

    v = a_route(RIDGE, ["M 31"]).visits[0]
    polaris = catalogue.load().find("Polaris")
    az, alt = place_of(polaris, v.start, RIDGE.site)
    near = dataclasses.replace(v, az_deg=(az - 20.0) % 360.0, alt_deg=alt + 10.0)
    assert push_words(polaris, near, RIDGE.site) == "20° left, 10° up"
    same = dataclasses.replace(v, az_deg=az, alt_deg=alt + 0.2)
    assert push_words(polaris, same, RIDGE.site) == "hardly at all"


def test_without_a_route_there_are_no_stops_and_the_card_says_that_it_has_none():
    c = card()
    assert (c.has_route, c.stops) == (False, ())
    assert full().has_route
    assert any("Sun" in x for x in c.cautions)
    assert any("aircraft" in x for x in c.cautions)


def test_a_star_that_twilight_does_not_show_yet_says_from_when():
    c = card(asked=at("2027-01-28T12:00:00Z"), hours=2.0)
    first, second = c.hours
    late = [a for a in first.stars if a.shows]
    assert [a.name for a in late] == ["Polaris", "Menkar"]
    assert all(a.shows is None for a in second.stars)
    for a in late:
        assert first.instant < a.shows < second.instant
        # By the rule of choose/candidates.py for magnitudes 1 to 2, looked at every two minutes.
        sun = float(np.degrees(sun_altitude(a.shows, RIDGE.site)))
        assert sun == pytest.approx(-(6.0 + 2.0 * (a.v_mag - 1.0)), abs=0.4)


def test_each_target_has_the_finders_field_if_the_kit_has_one() -> None:
    """Dots, ring and the zenith's stroke as this finder turns the sky; none without a finder."""
    route = a_route(RIDGE, ("M 81",))
    (plain,) = stops_of(route, RIDGE.site, kits.example())
    assert plain.finder is None
    kit = kits.loads(
        '[finder]\nview = "turned"\nfield_deg = 6.0\naperture_mm = 50\nmagnification = 8\n'
    )
    (stop,) = stops_of(route, RIDGE.site, kit)
    field = stop.finder
    assert field is not None
    assert field.radius_deg == 3.0
    assert field.up == pytest.approx((0.0, -1.0), abs=1e-6)
    assert 5 < len(field.dots) <= 40
    assert all(math.hypot(d.right_deg, d.up_deg) <= 3.0 for d in field.dots)
    assert re.search(r"rotate\(-?180\.0\)", drawing.svg(field))
