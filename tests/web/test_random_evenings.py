"""Random evenings in virtual time, a few: the long form is tools/evenings.py."""

import sys
from pathlib import Path

import pytest

from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

sys.path.append(str(Path(__file__).parents[2] / "tools"))
from nights import blame, night, sky, sun
from nights.claim import Claim
from nights.faults import Event, Fault, can_be_shown
from nights.mount import apart_deg, direction

from samples import tries

from .server_rig import asynchronous


@pytest.mark.parametrize("name", ["Capella", "Polaris", "Rigel", "M 31", "Sirius"])
def test_the_hidden_sky_is_the_true_one(name):
    """Worked out twice, by other formulas: within an arcminute, a sixth of what a hand can do."""
    t = Instant.parse("2027-01-28T19:00:00Z")
    ours = place_of(lookup.find_target(name), t, Site(sky.LAT_DEG, sky.LON_DEG, 940.0))
    theirs = sky.place(name, t.to_unix())
    assert apart_deg(direction(*ours), direction(*theirs)) < 1 / 60


@pytest.mark.parametrize("hour", ["08", "12", "15"])
def test_the_hidden_sun_is_the_true_one(hour):
    t = Instant.parse(f"2027-01-28T{hour}:00:00Z")
    ours = place_of(lookup.find_target("Sun"), t, Site(sky.LAT_DEG, sky.LON_DEG, 940.0))
    assert apart_deg(direction(*ours), direction(*sun.sun_place(t.to_unix()))) < 1 / 30


def told(*order):
    """Kinds of faults and "star", in that order; then whose fault's sight is asked about."""
    *before, fault = order
    faults = {k: Fault(k, 0, 0.5) for k in {*before, fault} - {"star"}}
    course = [
        Event(float(k), faults.get(kind), star="star" in kind) for k, kind in enumerate(before)
    ]
    return can_be_shown(faults[fault], course)


def test_a_wrong_star_is_no_check_of_itself_or_of_a_slip():
    assert told("star", "star", "wrong star", "wrong star") == "stars"
    assert told("star", "wrong star", "wrong star") == "unseen"
    assert told("star", "star", "star", "base knocked", "wrong star", "wrong star") == "unseen"
    assert told("star", "star", "base knocked", "wrong star", "base knocked") == "unseen"
    assert told("star", "star", "base knocked", "star", "base knocked") == "stars"
    assert told("star", "star", "star", "base knocked", "base knocked") == "unseen"


def test_the_star_that_a_slip_asked_for_checks_nothing_else():
    for slip in (("silence", "base knocked"), ("base knocked", "silence")):
        assert told("star", "star", *slip, "star", "base knocked") == "unseen"
        assert told("star", "star", *slip, "star", "star", "base knocked") == "stars"


def test_nor_does_one_that_the_screen_asked_for_without_such_a_fault():
    """A server started again, a false alarm: the slip is open on the screen all the same."""
    knock, wrong = Fault("base knocked", 0, 0.5), Fault("wrong star", 0, 0.5)
    right = [Event(float(k), star=True) for k in range(3)]
    asked = Event(4.0, star=True, settles=True)
    knocked = [*right, Event(3.0, knock), asked]
    assert can_be_shown(knock, knocked) == "unseen"
    assert can_be_shown(knock, [*knocked, Event(5.0, star=True)]) == "stars"
    settled_wrong = [*right, Event(4.0, wrong, star=True, settles=True)]
    assert can_be_shown(wrong, settled_wrong) == "unseen"
    after = [Event(5.0, star=True), Event(6.0, star=True)]
    assert can_be_shown(wrong, [*settled_wrong, *after]) == "stars"


@asynchronous
async def test_by_day_no_way_leads_near_the_sun_while_a_clock_says_day():
    suns = [c for s in range(tries(3, 5)) for c in (await night.one(s, ("daytime",))).suns]
    assert sum(c.told for c in suns) >= tries(6, 10)
    assert any(c.guided for c in suns if c.told)  # with a filter, far from it
    assert not [c for c in suns if c.told and c.wrong]


@asynchronous
async def test_a_board_that_counts_from_zero_is_as_good_as_any():
    nights = [await night.one(s, ("counts from zero",)) for s in range(tries(3, 4))]
    assert {n.on_stop for n in nights} == {True, False}  # told by a press, or by the kit
    claims = [c for n in nights for c in n.claims]
    assert sum(c.in_field and c.stated > 0.8 for c in claims) >= tries(6, 8)
    assert not any(c.far or c.warned for c in claims)


@asynchronous
async def test_an_evening_without_faults_keeps_what_it_states():
    claims = [c for s in range(tries(3, 12)) for c in (await night.one(s, ())).claims]
    sure = [c for c in claims if c.in_field and c.stated > 0.8]
    assert len(sure) >= tries(8, 10)
    assert sum(c.outside for c in sure) <= 1
    assert not any(c.far for c in sure)
    assert sum(bool(c.warned) for c in claims) <= 2  # a hint that a count stands still


@asynchronous
async def test_a_seed_is_the_same_evening_again():
    first, second = [(await night.one(0)).events for _ in range(2)]
    assert first == second
    assert len(first) > 5


@asynchronous
async def test_what_the_stars_told_of_is_not_counted_as_unseen():
    """A circle that slipped by 3.5° among three stars, which the fix says; then a star fumbled by
    0.7° after a loss of power, which two stars there cannot show (3.6 sigmas of the four asked
    for). Counted together they were 24."""
    (missed,) = [c for c in (await night.one(7796)).claims if c.silent]
    assert (missed.blame, missed.seen_by) == ("faint", "unseen")
    assert 3.0 < missed.shown_sigmas < blame.SHOWN_SIGMA


@asynchronous
async def test_and_what_they_show_and_nobody_found_out_is(monkeypatch):
    """The same kinds of faults; here the star is set aside and the fix holds that nothing moved."""
    monkeypatch.setattr(Claim, "silent", property(lambda c: c.in_field and c.outside))
    claims = (await night.one(60022, ("fumbled star", "azimuth slips"))).claims
    assert max(c.shown_sigmas for c in claims if c.blame == "shown") > 10


@asynchronous
async def test_nor_is_a_star_found_out_that_was_taken_for_a_slip():
    """The second of three stars was fumbled; the fix held the altitude circle to have slipped at
    it, which nothing had. The stars show the fumble; the goal counts it."""
    (missed,) = [c for c in (await night.one(8734)).claims if c.silent]
    assert missed.blame == "shown"
    assert missed.against_the_goal
    assert missed.shown_sigmas > 5.0


@pytest.mark.parametrize("fault", ["restart still", "power lost", "server restarted"])
def test_what_the_bytes_show_is_never_far_off_unwarned(fault):
    @asynchronous
    async def run():
        done = [await night.one(s, (fault,)) for s in range(tries(2, 8))]
        claims = [c for n in done for c in n.claims]
        assert any(c.faults for c in claims)
        assert not [c for c in claims if c.silent and c.far]

    run()
