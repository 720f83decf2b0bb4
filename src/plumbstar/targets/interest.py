"""How much an evening gains by an object, and how long to look. All of it judgement."""

from __future__ import annotations

from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.places import Target
from plumbstar.targets.model import Difficulty

_BODIES = {
    "Moon": 4.0, "Saturn": 5.0, "Jupiter": 5.0, "Mars": 2.5, "Venus": 1.5, "Mercury": 1.2,
    "Uranus": 1.2, "Neptune": 1.1,
}  # fmt: skip
_MINUTES: dict[Difficulty, float] = {"easy": 8.0, "fair": 10.0, "hard": 15.0, "unlikely": 15.0}


def interest_of(target: Target, margin_mag: float) -> float:
    """1 for an unknown object at the eye's threshold; more with fame, and as it shows more."""
    if isinstance(target, Body):
        return _BODIES.get(target.name, 1.0)
    fame = 1.0
    if isinstance(target, DeepSky) and target.catalogue == "M":
        fame = 2.0
    elif target.name:
        fame = 1.5
    # What stands well over the threshold shows shape and detail; over three magnitudes no more.
    shows = 0.7 + 0.3 * min(max(margin_mag, 0.0), 3.0)
    return fame * (min(shows, 1.2) if isinstance(target, Double) else shows)


def minutes_for(target: Target, difficulty: Difficulty) -> float:
    """How long to look, finding not counted: the faint takes patience, the planets still air."""
    if isinstance(target, Body):
        return 10.0
    if isinstance(target, Double):
        return 5.0
    return _MINUTES[difficulty]
