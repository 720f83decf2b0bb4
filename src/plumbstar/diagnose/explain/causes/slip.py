"""One encoder slips once, between two sightings: its zero differs from then on."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes import rates
from plumbstar.diagnose.explain.causes.claim import Claimed
from plumbstar.diagnose.explain.causes.fault import Fault, Scene, normal, pick
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Judged, Observations, Variant, blank_shift
from plumbstar.diagnose.explain.sizes import (
    ALLOWED_FOR,
    AXES,
    PLAIN_AXIS,
    gap,
    low,
    moved_as_told,
)
from plumbstar.mount.terms import INDEX
from plumbstar.units import Array

_KIND = "slip"
_SLIP_DEG = ((1 / 3, 1.0), (1 / 3, 4.0), (1 / 3, 15.0))


@dataclass(frozen=True)
class SlipForm(Claimed):
    after: int
    axis: str

    @property
    def since(self) -> int:
        return self.after

    def amounts_deg(self, j: Judged) -> Mapping[str, float]:
        value, sigma = j.extra_deg(0)
        return {"amount_deg": value, "amount_sigma_deg": sigma}

    def title(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return moved_as_told(o, self.after)
        return f"the {self.axis} encoder slipped between {gap(o, self.after)}"

    def claim(self, o: Observations, j: Judged) -> str:
        amount, sigma = j.extra_deg(0)
        return (
            f"From {o.star(self.after + 1)} on, the {self.axis} would read {low(amount)} "
            f"(± {sigma:.1f}°) against before"
        )

    def mend(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return ALLOWED_FOR
        return f"{self.mend_without_star(o, j).removesuffix('.')}, and add one."

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return ALLOWED_FOR
        return (
            f"Tighten the {self.axis} encoder's grub screw or clamp on its shaft; then use only "
            f"sightings from {o.star(self.after + 1)} on."
        )

    def hand_check(self, o: Observations, j: Judged) -> str:
        if self.is_told(o):
            return ""
        return (
            "draw a pencil line across encoder shaft and coupling, swing the mount, see if it "
            "still meets"
        )

    def happened(self, o: Observations, j: Judged) -> str:
        return (
            f"Your {PLAIN_AXIS[self.axis]} circle seems to have slipped between "
            f"{gap(o, self.after)}: everything from {o.star(self.after + 1)} on is shifted."
        )

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Tighten whatever clamps that circle or sensor, then start again with two stars."


@dataclass(frozen=True)
class SlipFault(Fault):
    kind = _KIND
    after: int
    axis: str
    amount_deg: float

    def turn(self, terms: Array) -> None:
        terms[self.after + 1 :, INDEX[f"{self.axis}_zero"]] += math.radians(self.amount_deg)


def _forms(o: Observations) -> list[Variant]:
    gaps = o.n - 1
    out = []
    for after, axis in itertools.product(range(gaps), AXES):
        shift = blank_shift(o.n)
        shift[after + 1 :, INDEX[f"{axis}_zero"], 0] = 1.0
        for w, deg in _SLIP_DEG:
            form, extras = SlipForm(after, axis), (math.radians(deg),)
            out.append(o.variant(_KIND, w / (2 * gaps), form, extras=extras, shift=shift))
    return out


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    axis = AXES[int(rng.integers(2))]
    after = int(rng.integers(len(scene.plan) - 1))
    return SlipFault(after, axis, *normal(rng, pick(rng, _SLIP_DEG)[0]))


CAUSE = CauseKind(_KIND, rates.SLIP, _forms, _draw)
