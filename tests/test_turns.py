"""Angles within one turn: scalars and arrays alike, at the edges, against the definition."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from plumbstar import turns

ANYWHERE = [-720.0, -541.0, -360.0, -180.0, -90.5, -1e-9, 0.0, 37.25, 179.5, 180.0, 359.9, 1000.0]


@pytest.mark.parametrize("deg", ANYWHERE)
def test_the_direction_stays_and_the_range_holds(deg: float) -> None:
    rad = math.radians(deg)
    for got, low, high in (
        (turns.one_turn(rad), 0.0, turns.TURN),
        (turns.half_turn(rad), -math.pi, math.pi),
        (math.radians(turns.one_turn_deg(deg)), 0.0, turns.TURN),
        (math.radians(turns.half_turn_deg(deg)), -math.pi, math.pi),
    ):
        assert low <= got <= high
        assert (math.cos(got), math.sin(got)) == pytest.approx((math.cos(rad), math.sin(rad)))
    line = math.radians(turns.line_deg(deg))
    assert 0.0 <= line <= math.pi
    assert math.cos(2 * line) == pytest.approx(math.cos(2 * rad))


def test_arrays_as_numbers() -> None:
    deg = np.array(ANYWHERE)
    for f in (turns.one_turn_deg, turns.half_turn_deg, turns.line_deg):
        assert f(deg).tolist() == [f(x) for x in ANYWHERE]
    for f in (turns.one_turn, turns.half_turn):
        assert f(np.radians(deg)).tolist() == [f(float(x)) for x in np.radians(deg)]


def test_what_would_round_to_a_whole_turn_is_nought() -> None:
    assert turns.rounded_deg(359.996, 2) == 0.0
    assert turns.rounded_deg(359.994, 2) == 359.99
    assert turns.rounded_deg(-0.004, 2) == 0.0


def test_nobody_wraps_by_hand() -> None:
    """One place for it: a remainder by 360, 180 or a turn stands in turns.py alone."""
    by_hand = re.compile(
        r"%=? *\(?(?:360|180)\b|%=? *\(?2(?:\.0)? \* (?:np|math)\.pi|angle\(np\.exp\(1j"
    )
    src = Path(__file__).parent.parent / "src" / "plumbstar"
    found = [
        f"{p.name}:{n}: {line.strip()}"
        for p in sorted(src.rglob("*.py"))
        if p.name != "turns.py"
        for n, line in enumerate(p.read_text().splitlines(), 1)
        if by_hand.search(line) and "strftime" not in line
    ]
    assert found == []


def test_an_array_means_one_thing() -> None:
    """The types of arrays have their names in units.py, and nobody names them again."""
    src = Path(__file__).parent.parent / "src" / "plumbstar"
    named = re.compile(r"NDArray\[np\.(float64|intp|bool_)\]")
    found = [p.name for p in sorted(src.rglob("*.py")) if named.search(p.read_text())]
    assert found == ["units.py"]
