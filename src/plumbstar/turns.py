"""Angles within one turn, for a float and for an array alike. Needs no numpy."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from plumbstar.units import Array

TURN = 2.0 * math.pi
#: A number or an array of them: what goes in comes out.
T = TypeVar("T", float, "Array")


def one_turn(rad: T) -> T:
    """The same direction from 0 up to one turn, radians."""
    return rad % TURN


def one_turn_deg(deg: T) -> T:
    """The same direction from 0 up to 360, degrees."""
    return deg % 360.0


def half_turn(rad: T) -> T:
    """The shorter way round: from -pi up to pi, radians; half a turn itself is -pi."""
    return (rad + math.pi) % TURN - math.pi


def half_turn_deg(deg: T) -> T:
    """The shorter way round: from -180 up to 180, degrees; half a turn itself is -180."""
    return (deg + 180.0) % 360.0 - 180.0


def line_deg(deg: T) -> T:
    """A line without a head, as the long axis of an ellipse: from 0 up to 180, degrees."""
    return deg % 180.0


def rounded_deg(deg: float, places: int = 0) -> float:
    """Rounded to be shown, from 0 up to 360: what would round to 360 is 0."""
    return round(deg, places) % 360.0
