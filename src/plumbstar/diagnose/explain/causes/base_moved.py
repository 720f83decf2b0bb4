"""Between two sightings the base turns, and leans differently from then on."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes import rates
from plumbstar.diagnose.explain.causes.claim import Claimed
from plumbstar.diagnose.explain.causes.fault import Fault, Scene, normal, pick
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Judged, Observations, Variant, blank_shift
from plumbstar.diagnose.explain.sizes import ALLOWED_FOR, arc, gap, moved_as_told
from plumbstar.mount.terms import INDEX, SET_DOWN
from plumbstar.units import Array

_KIND = "base_moved"
#: (weight, turn about the vertical, each component of lean).
_BASE_DEG = ((0.4, 0.5, 0.5), (0.4, 2.0, 1.5), (0.2, 6.0, 4.0))


@dataclass(frozen=True)
class BaseMoved(Claimed):
    after: int

    @property
    def since(self) -> int:
        return self.after

    def amounts_deg(self, j: Judged) -> Mapping[str, float]:
        out = {}
        for k, name in enumerate(("turn", "lean_north", "lean_west")):
            out[f"{name}_deg"], out[f"{name}_sigma_deg"] = j.extra_deg(k)
        return out

    def title(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return moved_as_told(o, self.after)
        return f"the base moved or settled between {gap(o, self.after)}"

    def claim(self, o: Observations, j: Judged) -> str:
        turn = j.extra_deg(0)[0]
        tip = math.hypot(j.extra_deg(1)[0], j.extra_deg(2)[0])
        return (
            f"From {o.star(self.after + 1)} on, the base would be turned by {arc(turn)} and "
            f"tipped by {arc(tip)}"
        )

    def mend(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return ALLOWED_FOR
        return f"{self.mend_without_star(o, j).removesuffix('.')}, and add two."

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return ALLOWED_FOR
        return (
            "Put firm pads under the feet and move the tube without leaning on it; then use only "
            f"sightings from {o.star(self.after + 1)} on."
        )

    @property
    def checked_at_star(self) -> bool:
        return True

    def hand_check(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return ""
        return "press on each corner of the base while watching a star: it should not stir"

    def happened(self, o: Observations, j: Judged) -> str:
        return (
            "The telescope's base seems to have been nudged or to have sunk a little between "
            f"{gap(o, self.after)}."
        )

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Make the feet firm, push the tube gently, and start again with two stars."


@dataclass(frozen=True)
class BaseMovedFault(Fault):
    kind = _KIND
    after: int
    turn_deg: float
    lean_north_deg: float
    lean_west_deg: float

    def turn(self, terms: Array) -> None:
        sizes = np.radians([self.turn_deg, self.lean_north_deg, self.lean_west_deg])
        for name, size in zip(SET_DOWN, sizes, strict=True):
            terms[self.after + 1 :, INDEX[name]] += size


def _forms(o: Observations) -> list[Variant]:
    gaps = o.n - 1
    out = []
    for after in range(gaps):
        shift = blank_shift(o.n)
        for k, name in enumerate(SET_DOWN):
            shift[after + 1 :, INDEX[name], k] = 1.0
        for w, turn, tip in _BASE_DEG:
            extras = tuple(map(math.radians, (turn, tip, tip)))
            out.append(o.variant(_KIND, w / gaps, BaseMoved(after), extras=extras, shift=shift))
    return out


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    turn, tip = pick(rng, _BASE_DEG)
    after = int(rng.integers(len(scene.plan) - 1))
    return BaseMovedFault(after, *normal(rng, turn), *normal(rng, tip, 2))


CAUSE = CauseKind(_KIND, rates.BASE_MOVED, _forms, _draw)
