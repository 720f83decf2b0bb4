"""Two faults at once are named, both; and what is one question has one chance."""

from __future__ import annotations

import math

import numpy as np
import pytest

from diagnose.ridge import KIT, NOISE, PRIOR, RIDGE, in_json, sight, why
from experiments import load
from plumbstar.diagnose.explain import Explanation, explain, pairs
from plumbstar.diagnose.explain.answer import report_of
from plumbstar.diagnose.explain.causes import CAUSES, FAULT_RATES, PAIRED
from plumbstar.diagnose.explain.causes.base_moved import BaseMovedFault
from plumbstar.diagnose.explain.causes.both import Both
from plumbstar.diagnose.explain.causes.careless_sighting import MisreadFault
from plumbstar.diagnose.explain.causes.clock_or_site import ClockFault
from plumbstar.diagnose.explain.causes.coarse_centring import CoarseFault
from plumbstar.diagnose.explain.causes.fault import Fault
from plumbstar.diagnose.explain.causes.several import SeveralFaults, pair_rates
from plumbstar.diagnose.explain.causes.slip import SlipFault
from plumbstar.diagnose.explain.causes.term import TermFault
from plumbstar.diagnose.explain.causes.ticks import TicksFault
from plumbstar.diagnose.explain.causes.wrong_star import WrongStarFault
from plumbstar.diagnose.explain.forms import Observations
from plumbstar.diagnose.explain.promising import promise
from plumbstar.diagnose.explain.stars import SkyAtSightings
from plumbstar.text.words import chance
from samples import tries

PAIRS: dict[str, tuple[tuple[Fault, Fault], str]] = {
    "wrong star, slip": (
        (WrongStarFault(1, "Betelgeuse"), SlipFault(3, "azimuth", 5.0)),
        "wrong_star+slip",
    ),
    "two wrong stars": (
        (WrongStarFault(4, "Pollux"), WrongStarFault(1, "Betelgeuse")),
        "wrong_star+wrong_star",
    ),
    "a misread number, a slip": (
        (MisreadFault(4, "altitude", 10.0), SlipFault(2, "azimuth", 6.0)),
        "careless_sighting+slip",
    ),
    "wrong star, zone": (
        (WrongStarFault(4, "Pollux"), ClockFault(-3600.0)),
        "wrong_star+clock_or_site",
    ),
    "wrong star, circle reversed": (
        (WrongStarFault(4, "Pollux"), TicksFault("azimuth", -1.0)),
        "wrong_star+ticks",
    ),
    "slip, base": (
        (SlipFault(1, "azimuth", 15.0), BaseMovedFault(2, 3.0, 4.0, -3.5)),
        "slip+base_moved",
    ),
}


def both_at_once(parts: tuple[Fault, Fault], seed: int = 2) -> Explanation:
    fault = SeveralFaults(parts)
    return explain(sight(fault, seed), PRIOR, NOISE, site=fault.recorded_site(RIDGE), kit=KIT)


@pytest.mark.parametrize("name", PAIRS)
def test_two_clear_faults_are_both_named(name):
    parts, kind = PAIRS[name]
    e = both_at_once(parts)
    first = e.causes[0]
    assert first.kind == kind, e.verdict
    if kind == "wrong_star+wrong_star":
        assert e.verdict.startswith("Two wrong stars: "), e.verdict
        assert first.mend.startswith("Enter them as ")
    else:
        assert e.verdict.startswith("Two things: "), e.verdict
        assert "For the first: " in first.mend
        assert "For the second: " in first.mend
    for text in (first.title, first.evidence, first.check, first.mend, first.happened):
        assert "nan" not in text
    detail = in_json(first)
    assert {detail["first_kind"], detail["second_kind"]} == set(kind.split("+"))
    assert sum(c.probability for c in e.causes) == pytest.approx(1.0)
    assert report_of(e).causes[0].kind == kind


def test_what_is_solved_of_two_is_what_was_planted():
    form = both_at_once(PAIRS["wrong star, slip"][0]).causes[0].judged
    assert isinstance(form.form, Both)
    _, slip = form.form.parts(form)
    assert slip.extra_deg(0)[0] == pytest.approx(5.0, abs=4 * slip.extra_deg(0)[1])
    assert slip.extra_deg(0)[1] < 1.0


def test_a_single_fault_is_not_called_two():
    for fault in (SlipFault(2, "azimuth", 5.0), WrongStarFault(4, "Pollux"), ClockFault(-3600.0)):
        for seed in range(tries(1, 3)):
            assert "+" not in why(fault, seed).causes[0].kind


def test_the_rate_of_several_holds_that_of_all_pairs():
    two = pair_rates(FAULT_RATES, PAIRED)
    assert sum(two.values()) < FAULT_RATES["several"]
    assert ("slip", "slip") in two  # two slips are two things
    assert ("stop_off", "stop_off") not in two


# ---- that it happened, alone or beside something else --------------------------------------------


def test_a_cause_counts_inside_the_pairs_that_hold_it():
    e = both_at_once(PAIRS["wrong star, slip"][0])
    by_kind = {c.kind: c for c in e.causes}
    for kind in ("wrong_star", "slip"):
        inside = sum(c.probability for c in e.causes if kind in c.kind.split("+"))
        assert inside - 1e-9 <= by_kind[kind].at_all <= 1.0
        assert by_kind[kind].at_all > 0.9
        assert by_kind[kind].probability < 0.1  # nothing else: no
    assert by_kind["nothing"].at_all == pytest.approx(by_kind["nothing"].probability)


def test_beside_a_single_fault_something_else_is_not_ruled_out():
    e = why(WrongStarFault(4, "Pollux"))
    first = e.causes[0]
    assert first.kind == "wrong_star"
    assert first.at_all > first.probability
    beside = first.at_all - first.probability
    assert f"({chance(first.at_all)})" in e.verdict
    assert ("Something else may have gone wrong too" in e.verdict) == (beside > 0.1)


def test_of_three_faults_it_is_said_that_there_is_more_than_one():
    parts = (
        WrongStarFault(4, "Pollux"),
        SlipFault(2, "azimuth", 7.0),
        SlipFault(0, "altitude", 4.0),
    )
    e = explain(sight(SeveralFaults(parts), 2), PRIOR, NOISE, site=RIDGE, kit=KIT)
    several = sum(c.probability for c in e.causes if c.kind == "several" or "+" in c.kind)
    assert several > 0.85
    assert not any(c.kind.endswith("several") and c.kind != "several" for c in e.causes)


def test_beside_a_slip_a_coarse_hand_may_be_several_small_things():
    """Of the two it is the slip that is sure."""
    e = both_at_once((CoarseFault(5.0), SlipFault(2, "azimuth", 15.0)))
    at_all = {c.kind: c.at_all for c in e.causes}
    assert at_all["slip"] > at_all["coarse_centring"]
    assert at_all["coarse_centring"] < 0.95
    assert at_all["several"] > 0.05


# ---- one chance for one question -----------------------------------------------------------------


def test_a_second_thing_that_does_not_show_counts_at_every_place_where_it_may_be(monkeypatch):
    """At the eight best alone, a cause was stated too high with nothing beside it; at all others
    fewer forms do."""
    seen = sight(WrongStarFault(4, "Pollux"), 2)

    def alone() -> float:
        judged = explain(seen, PRIOR, NOISE, site=RIDGE, kit=KIT).causes
        return next(c.probability for c in judged if c.kind == "wrong_star")

    stated = alone()
    monkeypatch.setattr(pairs, "_CLOSER", 60)
    in_all_forms = alone()
    monkeypatch.setattr(pairs, "_CLOSER", 8)
    monkeypatch.setattr(pairs, "_FURTHER", 0)
    assert abs(stated - in_all_forms) < 0.01
    assert alone() - in_all_forms > 0.015


def test_a_wrong_count_that_does_badly_alone_is_found_beside_a_slip():
    """Ranked by how they do alone, the right one of some thirty counts was not among those tried: a
    circle off centre was stated beside the slip at over 99 in 100."""
    row = load("why_came_true").one(41, 385)
    assert row["truth"] == ["slip", "ticks"]
    assert row["first"] == "slip+ticks"
    assert row["at_all"].get("runout", 0.0) < 0.5


def test_the_right_hour_promises_most_though_a_star_is_another():
    o = Observations.of(
        sight(SeveralFaults((WrongStarFault(1, "Betelgeuse"), ClockFault(-7200.0))), 3),
        PRIOR, NOISE, SkyAtSightings.of(sight(ClockFault(-7200.0), 3), RIDGE), KIT,
    )  # fmt: skip
    hours = [v for v in CAUSES["clock_or_site"].forms(o) if getattr(v.form, "how", "") == "zone"]
    best = hours[int(np.argmax(promise(o, hours)))]
    assert best.form.clock_late_s == -7200.0


@pytest.mark.parametrize("stop_deg", [1.9, 3.0])
def test_a_measured_stop_beyond_the_usual_is_the_cause_that_is_named(stop_deg):
    """It was named in 1 of 12 evenings at 3 degrees, and in none at 1.9. One evening is so badly
    centred that it comes first as that."""
    named, evenings = 0, tries(4, 12)
    for seed in range(evenings):
        e = why(TermFault("stop_off", ("altitude_zero",), (stop_deg - 0.9,)), seed)
        first = e.causes[0]
        if first.kind != "stop_off":
            continue
        named += 1
        assert first.title.startswith("The upright stop is off by ")
        # "Nothing is wrong" would be a second chance for the same question.
        assert "nothing" not in {c.kind for c in e.causes}
        assert "nothing" in first.judged.also
        if e.can_tell:
            # What is said is that nothing else shows, and its chance is that of just that.
            assert first.probability < first.at_all
            assert ", and nothing else shows (" in e.verdict
            assert f"({chance(first.at_all)})" in e.verdict
            assert e.verdict.startswith(first.title)
            assert e.verdict.count(" in 100)") == 1
    assert named >= tries(4, 11)


def test_the_named_stop_and_the_measured_stop_are_one_number():
    e = why(TermFault("stop_off", ("altitude_zero",), (2.1,)))
    value, sigma = e.causes[0].judged.term_deg("altitude_zero")
    off = e.measured[0].off
    assert (value, sigma) == pytest.approx((math.degrees(off.size), math.degrees(off.sigma)))
    assert e.also_measured == ()  # the cause tells it


def test_a_stop_within_the_usual_is_told_and_is_no_cause():
    e = why(TermFault("stop_off", ("altitude_zero",), (-0.3,)), 1)
    assert e.causes[0].kind == "nothing", e.verdict
    assert e.measured[0].off.terms == ("altitude_zero",)
    assert "stop_off" not in {c.kind for c in e.causes}


def test_a_fault_beside_a_measured_stop_has_one_chance():
    """A slip with that stop and a slip alone differ in a name."""
    parts = (SlipFault(2, "azimuth", 5.0), TermFault("stop_off", ("altitude_zero",), (6.0,)))
    e = both_at_once(parts)
    kinds = {c.kind for c in e.causes}
    assert ("slip" in kinds) + ("stop_off+slip" in kinds) == 1
    assert e.causes[0].kind == "stop_off+slip", e.verdict
    assert ("altitude_zero",) not in [m.off.terms for m in e.also_measured]


# ---- honesty, by a simulator that shares nothing with it ------------------------------------


def test_what_is_nearly_certain_comes_true_in_evenings_of_another_making():
    """design/why_came_true.py has hundreds; its sizes, mounts and hands are its own."""
    experiment = load("why_came_true")
    said = [
        (p, experiment.came_true(kind, row))
        for row in (experiment.one(7, number) for number in range(19, 19 + tries(6, 12)))
        for kind, p in row["p"].items()
    ]
    sure = [true for p, true in said if p > 0.9]
    assert len(sure) >= tries(3, 5)
    assert sum(sure) >= len(sure) - 1
