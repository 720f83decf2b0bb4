"""One observer's hand, in every table that holds how rough it may be."""

from __future__ import annotations

import pytest

from plumbstar.controller.mistakes import USUAL_HANDS
from plumbstar.diagnose.explain.causes import coarse_centring, rates
from plumbstar.diagnose.explain.tails import HAND, ORDINARY_TO
from plumbstar.solve.stories import COARSER


def _beyond(times_least: float) -> float:
    return sum(share for share, times in COARSER if times > times_least)


def test_a_rough_hand_is_as_frequent_beside_a_controller_as_for_a_fix() -> None:
    rough = sum(p for times, p in USUAL_HANDS if times > 1.0)
    assert rough == pytest.approx(_beyond(ORDINARY_TO), abs=0.01)
    assert sum(p for _, p in USUAL_HANDS) == pytest.approx(1.0)


def test_no_hand_is_both_ordinary_and_a_cause_of_what_went_wrong() -> None:
    share = rates.COARSE_CENTRING / rates.ASKED
    assert share == pytest.approx(_beyond(ORDINARY_TO))
    factors = [times for _, times in coarse_centring.FACTORS]
    assert min(factors) > ORDINARY_TO
    assert sum(weight for weight, _ in coarse_centring.FACTORS) == pytest.approx(1.0)


def test_every_hand_is_counted_once() -> None:
    assert sum(share for share, _ in HAND) == pytest.approx(1.0)
    # What COARSER leaves is the hand as stated, by far the commonest.
    assert 0.5 < 1.0 - sum(share for share, _ in COARSER) < 1.0
