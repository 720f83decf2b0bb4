"""That nothing went wrong that shows: what its chance holds, and what it leaves out."""

from __future__ import annotations

import pytest

from diagnose.ridge import why
from plumbstar.diagnose.explain import Cause, Explanation, unseen
from plumbstar.diagnose.explain.causes.coarse_centring import CoarseFault
from plumbstar.diagnose.explain.causes.nothing import NoFault
from plumbstar.diagnose.explain.causes.slip import SlipFault
from plumbstar.diagnose.explain.causes.term import TermFault
from plumbstar.text.words import chance


def _nothing(e: Explanation) -> Cause:
    return next(c for c in e.causes if c.kind == "nothing")


@pytest.mark.parametrize("fault", [NoFault(), SlipFault(2, "azimuth", 0.02)])
def test_a_fault_too_small_to_show_is_in_the_chance_that_nothing_shows(fault):
    e = why(fault)
    nothing = _nothing(e)
    assert e.causes[0] is nothing
    assert nothing.probability + 0.1 < nothing.at_all < 1.0
    assert f"({chance(nothing.at_all)})" in e.verdict
    assert "that these sightings show" in e.verdict
    assert nothing.title == "Nothing went wrong that shows"  # of the mount a stop is measured


def test_a_fault_that_shows_is_not():
    nothing = _nothing(why(SlipFault(2, "azimuth", 3.0)))
    assert nothing.at_all < 0.01


def test_a_hand_coarser_than_usual_always_shows(monkeypatch):
    """It leaves no misfit under its own model, however small the step from an ordinary one."""
    e = why(CoarseFault(1.6))
    coarse = next(c for c in e.causes if c.kind == "coarse_centring")
    assert coarse.probability > 0.02
    monkeypatch.setattr(unseen, "_ALWAYS_SHOWS", ())
    more = _nothing(why.__wrapped__(CoarseFault(1.6)))  # not the kept one
    assert more.at_all > _nothing(e).at_all + 0.2 * coarse.probability


@pytest.mark.parametrize("sightings", [2, 3])
def test_of_few_sightings_nothing_is_said_of_what_they_cannot_show(sightings):
    e = why(NoFault(), n=sightings)
    nothing = _nothing(e)
    assert nothing.at_all == pytest.approx(nothing.probability)
    assert "show" not in nothing.title + e.verdict
    assert nothing.title.startswith("Nothing ")


def test_a_stop_that_is_all_that_shows_has_the_chance_of_just_that():
    e = why(TermFault("stop_off", ("altitude_zero",), (2.1,)))
    first = e.causes[0]
    assert first.kind == "stop_off"
    assert first.title.endswith(", and nothing else shows")
    assert first.probability + 0.03 < first.at_all <= 1.0
    # That is not the chance of something else beside it.
    assert "Something else" not in e.verdict


def test_a_stop_beside_a_slip_does_not_say_that_nothing_else_shows():
    e = why(SlipFault(2, "azimuth", 3.0))
    assert not any("nothing else shows" in c.title for c in e.causes if "slip" in c.kind)
