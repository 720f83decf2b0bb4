"""What an evening's order is made from: what each object is worth, and where it stands, by step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from plumbstar.sky.times import Instant
from plumbstar.targets.model import Prospect
from plumbstar.targets.prospects import repeated
from plumbstar.targets.tonight import Survey
from plumbstar.units import Array, Indices

#: After the Moon the eye takes so long to see faint things again. Common practice, no source.
DAZZLED_MINUTES = 10.0
#: Between these altitudes the worth falls by a third: overhead, pushes are long and miss.
_STEEP_DEG = (70.0, 86.0)
#: After a bright planet, in any telescope. Common practice, no source.
PLANET_MINUTES = 5.0
_BRIGHT = ("Venus", "Mars", "Jupiter", "Saturn")


@dataclass(frozen=True)
class NightPool:
    """What the order is made from: the pool's worth, place and time by step (:func:`night_pool`).

    ``worth``, ``az`` and ``alt`` have shape (n, steps), degrees; ``minutes`` (n,) is the looking.
    ``rest`` (n, n): minutes to wait after one before the other. ``begins``, ``ends`` in minutes.
    """

    worth: Array
    az: Array
    alt: Array
    minutes: Array
    rest: Array
    begins: float
    ends: float
    push_seconds: float

    @cached_property
    def plain(self) -> PlainPool:
        """The same as Python's own numbers."""
        return PlainPool(
            self.worth.tolist(), self.az.tolist(), self.alt.tolist(), self.rest.tolist(),
            self.minutes.tolist(), next_worth(self.worth).tolist(),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlainPool:
    """Rows of :class:`NightPool` as lists, for who looks at one number at a time."""

    worth: list[list[float]]
    az: list[list[float]]
    alt: list[list[float]]
    rest: list[list[float]]
    minutes: list[float]
    rises: list[list[int]]


def next_worth(worth: Array) -> Indices:
    """For objects at steps (n, steps): the first step from there on with any worth; the number of
    steps if there is none."""
    n, steps = worth.shape
    table = np.full((n, steps + 1), steps)
    for k in range(steps - 1, -1, -1):
        table[:, k] = np.where(worth[:, k] > 0.0, k, table[:, k + 1])
    return np.asarray(table)


def night_pool(s: Survey, pool: Sequence[Prospect], start: Instant, end: Instant) -> NightPool:
    """The pool's worth through the survey's steps."""
    i = np.array([s.index_of(p.target.key) for p in pool], dtype=np.intp)
    chance = s.chances_through(i).astype(np.float64)
    az, alt = (x.T for x in s.courses.through(i))
    best = np.array([p.alt_deg for p in pool]).reshape(-1, 1)
    height = _sine(alt) / _sine(best)
    steep = np.clip((alt - _STEEP_DEG[0]) / (_STEEP_DEG[1] - _STEEP_DEG[0]), 0.0, 1.0)
    interest = (np.array([p.interest for p in pool]) * _variety(pool))[:, None]
    worth = interest * chance * (0.6 + 0.4 * np.minimum(height, 1.0)) * (1.0 - steep / 3.0)
    dazzles = np.array([dazzle_minutes(p) for p in pool])
    dim = np.array([p.difficulty != "easy" for p in pool], dtype=bool)
    first = s.light.instants[0]
    return NightPool(
        worth, az, alt, np.array([p.minutes for p in pool]),
        np.where(dim[None, :], dazzles[:, None], 0.0),
        start.minus(first) / 60.0, end.minus(first) / 60.0, s.kit.push_seconds,
    )  # fmt: skip


def dazzle_minutes(p: Prospect) -> float:
    """How long the eye needs after it before it sees faint things again."""
    if p.target.key == "Moon":
        return DAZZLED_MINUTES
    return PLANET_MINUTES if p.target.key in _BRIGHT else 0.0


def _sine(alt_deg: Array) -> Array:
    return np.asarray(np.sin(np.radians(np.clip(alt_deg, 1.0, 90.0))))


def _variety(pool: Sequence[Prospect]) -> Array:
    """The tenth cluster of an evening gives less than the first: judgement."""
    met: dict[str, int] = {}
    out = []
    for p in pool:
        kind = p.target.kind
        out.append(repeated(met.get(kind, 0)))
        met[kind] = met.get(kind, 0) + 1
    return np.array(out)
