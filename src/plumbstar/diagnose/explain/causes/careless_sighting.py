"""One sighting not centred, or, where a person read the circles, one of its numbers misread."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from plumbstar.diagnose.explain.causes import rates
from plumbstar.diagnose.explain.causes.claim import Claimed
from plumbstar.diagnose.explain.causes.fault import Fault, Scene, normal, pick
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant, blank_shift
from plumbstar.diagnose.explain.sizes import AXES, PLAIN_AXIS, arc, expected_reading, low
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array

_KIND = "careless_sighting"
#: Careless centring of one sighting, on each axis of the sky.
_CENTRING_DEG = ((0.22, 0.5), (0.18, 1.0), (0.12, 2.5), (0.08, 8.0))
#: ... or one number of one sighting misread or mistyped by exactly this many degrees,
_MISREAD_WEIGHT = 0.2
_MISREAD_DEG = (1.0, -1.0, 10.0, -10.0)
#: ... or by any amount.
_ANY_DEG = ((0.1, 2.0), (0.1, 15.0))


@dataclass(frozen=True)
class _Careless(Form):
    """What the forms have in common: the sighting is to be done again."""

    sighting: int

    @property
    def about(self) -> int:
        return self.sighting

    @property
    def sights_again(self) -> int | None:
        return self.sighting

    @property
    def checked_at_star(self) -> bool:
        return True

    def hand_check(self, o: Observations, j: Judged) -> str:
        az, alt = expected_reading(o, j, self.sighting)
        return (
            f"sight {o.star(self.sighting)} again with care: at the same moment it should have "
            f"read azimuth {az:.1f}°, altitude {alt:.1f}°"
        )

    def try_next(self, o: Observations, j: Judged) -> str:
        return (
            f"Point at {o.star(self.sighting)} once more, make sure it is the right star, and take "
            "both numbers again."
        )


@dataclass(frozen=True)
class _Loose(_Careless):
    """The sighting tells nothing in one direction, or in neither."""

    @property
    def set_aside(self) -> tuple[int, ...]:
        return (self.sighting,)

    def claim(self, o: Observations, j: Judged) -> str:
        off = arc(math.degrees(float(np.linalg.norm(j.residuals[self.sighting]))))
        return f"{o.star(self.sighting)} lies {off} from where the others put it"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        return (
            f"{self.claim(o, j)}; without it they agree to {arc(j.agree_deg())}, with it they miss "
            f"by {arc(nothing.agree_deg())}."
        )

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Set that sighting aside and sight {o.star(self.sighting)} again with care."

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        return "Set that sighting aside."

    def happened(self, o: Observations, j: Judged) -> str:
        return f"The numbers for {o.star(self.sighting)} do not fit the others."


@dataclass(frozen=True)
class NotCentred(_Loose):
    how: str = field(default="hand", init=False)

    def title(self, o: Observations, j: Judged) -> str:
        noted = ", or its reading was noted wrongly" if o.read_by_eye else ""
        return f"{o.star(self.sighting)} was not well centred{noted}"


@dataclass(frozen=True)
class NumberWrong(_Careless, Claimed):
    """By how much is solved for, as the model's first extra number."""

    axis: str
    how: str = field(default="number", init=False)

    def shift_next(self, shift: Array) -> Array:
        return np.zeros_like(shift[-1])

    def amounts_deg(self, j: Judged) -> Mapping[str, float]:
        value, sigma = j.extra_deg(0)
        return {"amount_deg": -value, "amount_sigma_deg": sigma}

    def title(self, o: Observations, j: Judged) -> str:
        return f"the {self.axis} of {o.star(self.sighting)} was noted wrongly"

    def claim(self, o: Observations, j: Judged) -> str:
        amount, sigma = j.extra_deg(0)
        star = o.star(self.sighting)
        return f"The {self.axis} written for {star} would be {low(amount)} (± {arc(sigma)})"

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Set that sighting aside and sight {o.star(self.sighting)} again with care."

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        return "Set that sighting aside."

    def hand_check(self, o: Observations, j: Judged) -> str:
        mean = j.mean.copy()
        mean[N_TERMS] = 0.0
        return super().hand_check(o, replace(j, mean=mean))

    def happened(self, o: Observations, j: Judged) -> str:
        return (
            f"The {PLAIN_AXIS[self.axis]} number for {o.star(self.sighting)} does not fit the "
            "others."
        )


@dataclass(frozen=True)
class Misread(_Careless, Claimed):
    axis: str
    amount_deg: float
    how: str = field(default="misread", init=False)

    def title(self, o: Observations, j: Judged) -> str:
        star = o.star(self.sighting)
        return f"the {self.axis} of {star} was misread by {abs(self.amount_deg):g}°"

    def claim(self, o: Observations, j: Judged) -> str:
        right = math.degrees(j.best.readings[self.sighting, AXES.index(self.axis)])
        right = one_turn_deg(right) if self.axis == "azimuth" else right
        return (
            f"{o.star(self.sighting)} would have had {self.axis} {right:.1f}°, "
            f"{abs(self.amount_deg):g}° {self._way} than written"
        )

    @property
    def _way(self) -> str:
        return "less" if self.amount_deg > 0 else "more"

    def mend(self, o: Observations, j: Judged) -> str:
        return "Correct that number if you are sure; otherwise set the sighting aside."

    def happened(self, o: Observations, j: Judged) -> str:
        size = abs(self.amount_deg)
        return (
            f"The {PLAIN_AXIS[self.axis]} number for {o.star(self.sighting)} looks misread: it "
            f"fits if it was {size:g} degree{'' if size == 1 else 's'} {self._way}."
        )


@dataclass(frozen=True)
class NotCentredFault(Fault):
    """The star stood off the middle, along azimuth on the sky and up."""

    kind = _KIND
    sighting: int
    az_deg: float
    alt_deg: float

    def push(self, offset: Array) -> None:
        offset[self.sighting] += np.radians([self.az_deg, self.alt_deg])


@dataclass(frozen=True)
class MisreadFault(Fault):
    kind = _KIND
    sighting: int
    axis: str
    amount_deg: float

    def write_down(self, readings: Array) -> None:
        readings[self.sighting, AXES.index(self.axis)] += math.radians(self.amount_deg)


def _forms(o: Observations) -> list[Variant]:
    out = []
    centring = 1.0 if o.read_by_eye else 1.0 / sum(w for w, _ in _CENTRING_DEG)
    for i in range(o.n):
        for w, deg in _CENTRING_DEG:
            weight = 1.0 / o.variance
            weight[i] = 1.0 / (o.variance[i] + math.radians(deg) ** 2)
            out.append(o.variant(_KIND, centring * w / o.n, NotCentred(i), weight=weight))
        if not o.read_by_eye:
            continue
        for axis in AXES:
            shift = blank_shift(o.n)
            shift[i, INDEX[f"{axis}_zero"], 0] = 1.0
            for w, deg in _ANY_DEG:
                form, extras = NumberWrong(i, axis), (math.radians(deg),)
                out.append(o.variant(_KIND, w / (2 * o.n), form, extras=extras, shift=shift))
        each = _MISREAD_WEIGHT / (o.n * 2 * len(_MISREAD_DEG))
        for (k, axis), deg in itertools.product(enumerate(AXES), _MISREAD_DEG):
            readings = o.readings.copy()
            readings[i, k] -= math.radians(deg)
            out.append(o.variant(_KIND, each, Misread(i, axis, deg), readings=readings))
    return out


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    i = int(rng.integers(len(scene.plan)))
    u, any_amount = rng.random(), sum(w for w, _ in _ANY_DEG)
    if u < _MISREAD_WEIGHT + any_amount:
        axis = AXES[int(rng.integers(2))]
        size = float(rng.choice(_MISREAD_DEG))
        if u < any_amount:
            (size,) = normal(rng, pick(rng, _ANY_DEG)[0])
        return MisreadFault(i, axis, size)
    return NotCentredFault(i, *normal(rng, pick(rng, _CENTRING_DEG)[0], 2))


CAUSE = CauseKind(_KIND, rates.CARELESS_SIGHTING, _forms, _draw)
