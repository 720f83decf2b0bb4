"""Ring and shadow as set by eye: eyes that are drawn, with a bias and a scatter of their own."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar.collimate import Setting, combine, judge_by_eye
from plumbstar.collimate.by_eye import BIAS
from plumbstar.errors import UserError


def eye(rng: np.random.Generator, right: float, down: float, one: float, bias: float):
    off = rng.normal(0, bias, 2)
    return [
        Setting(right + off[0] + x, down + off[1] + y, 0.25) for x, y in rng.normal(0, one, (3, 2))
    ]


@pytest.mark.parametrize("one", [0.01, 0.02, 0.04])
def test_the_sigma_holds_for_steady_and_rough_eyes(one: float) -> None:
    rng = np.random.default_rng(5)
    along, screws = [], 0
    for _ in range(400):
        c = judge_by_eye(eye(rng, 0.09, -0.05, one, 0.018))
        x, y = c.offset_right / c.offset_fraction, c.offset_down / c.offset_fraction
        along.append(abs((c.offset_right - 0.09) * x + (c.offset_down + 0.05) * y) / c.offset_sigma)
        screws += judge_by_eye(eye(rng, 0.0, 0.0, one, 0.018)).severity != "centred"
    for k, low, high in ((1, 0.60, 0.82), (2, 0.90, 1.0), (3, 0.97, 1.0)):
        assert low <= (np.array(along) < k).mean() <= high
    assert screws / 400 < 0.10  # of mirrors in line; 5 % are meant


def test_settings_that_agree_are_not_perfect_and_those_that_do_not_are_wide() -> None:
    alike = judge_by_eye([Setting(0.03, 0.0, 0.25)] * 3)
    assert alike.severity == "centred"
    assert alike.offset_sigma > 0.015
    apart = judge_by_eye([Setting(x, 0.0, 0.25) for x in (-0.05, 0.1, 0.25)])
    assert apart.severity == "centred"
    assert apart.offset_sigma > 2 * alike.offset_sigma


def test_it_is_told_in_the_eyepieces_view_and_of_no_picture() -> None:
    c = judge_by_eye([Setting(0.0, -0.2, 0.25)] * 3)
    assert c.severity == "strong"
    assert "12 o'clock in the eyepiece" in c.verdict
    assert "star drifts toward 12 o'clock in the eyepiece" in c.turn
    assert "picture" not in " ".join((c.verdict, c.turn, *c.caveats))


def test_the_other_side_of_focus_parts_coma_from_what_turns_over() -> None:
    """Coma 10 % up; a secondary 6 % to the right, which turns over with the disc."""
    out = judge_by_eye([Setting(0.06, -0.10, 0.25)] * 3, 5.2)
    inn = judge_by_eye([Setting(-0.06, -0.10, 0.25)] * 3, 5.2)
    c = combine(out, inn)
    assert (c.offset_right, c.offset_down) == pytest.approx((0.0, -0.10))
    assert (c.fixed_right, c.fixed_down) == pytest.approx((0.06, 0.0))
    assert c.sides == 2
    assert c.by_eye
    # What an eye is off by both times does not average; and nobody knows the discs' sizes.
    assert BIAS < c.across_sigma < c.offset_sigma < out.offset_sigma * 1.25
    assert not any("One side" in x for x in c.caveats)
    assert "12 o'clock in the eyepiece" in c.verdict


def test_a_large_offset_is_less_sure_across_for_a_phone_that_is_turned() -> None:
    c = judge_by_eye([Setting(0.0, 0.3, 0.25)] * 3)
    assert c.across_sigma > 1.5 * c.offset_sigma
    assert c.direction_sigma_deg > 6.0


@pytest.mark.parametrize(
    "settings",
    [
        [],
        [Setting(0, 0, 0.25)] * 2,
        [Setting(0, 0, 0.25)] * 10,
        [Setting(0, 0, 0.02)] * 3,
        [Setting(0.9, 0, 0.25)] * 3,
        [Setting(math.nan, 0, 0.25)] * 3,
    ],
)
def test_what_is_no_setting_is_refused(settings: list[Setting]) -> None:
    with pytest.raises(UserError, match="again"):
        judge_by_eye(settings)
