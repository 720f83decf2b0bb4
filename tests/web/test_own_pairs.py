"""Pairs of a closed controller's list in which no two stars stand well: an answer, no failure."""

from __future__ import annotations

from plumbstar.kit import Controller
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.web.evening.choosing import RankingInputs, pairs

RIDGE = thornback_ridge()


def ranking(*stars: str):
    return pairs(
        RankingInputs(
            RIDGE.start, RIDGE.site, RIDGE.skyline, RIDGE.kit.telescope,
            Priors.from_kit(RIDGE.kit), Noise.from_kit(RIDGE.kit), 1.0, "32 mm",
            controller=Controller(stars=stars),
        )
    )  # fmt: skip


def test_two_stars_that_stand_too_close_together_are_told() -> None:
    """Castor and Pollux, 4.5 degrees apart."""
    found = ranking("Castor", "Pollux")
    assert found.pairs == ()
    assert "too close together" in found.sentence
    assert "later time" in found.sentence


def test_with_a_third_there_are_pairs() -> None:
    found = ranking("Castor", "Pollux", "Capella")
    assert {frozenset(p.stars) for p in found.pairs} == {
        frozenset(("Castor", "Capella")), frozenset(("Pollux", "Capella"))
    }  # fmt: skip
