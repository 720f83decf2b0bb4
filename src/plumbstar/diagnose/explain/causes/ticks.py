"""Wrong tick count or direction, on either circle or both: reading = factor times true turn."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant
from plumbstar.diagnose.explain.sizes import AXES, PLAIN_AXIS, then
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX
from plumbstar.text.advice import Advice, Do
from plumbstar.turns import half_turn
from plumbstar.units import Array

_KIND = "ticks"
#: Common count mix-ups (edges counted once, twice or four times; one usual disc taken for another),
#: then small slips of the pen or of the gearing.
_FACTORS = (
    (0.07, 2.0),
    (0.07, 0.5),
    (0.07, 4.0),
    (0.07, 0.25),
    (0.04, 10000 / 8192),
    (0.04, 8192 / 10000),
    (0.04, 1.024),
    (0.04, 1 / 1.024),
    (0.40, -1.0),
)
#: (weight, 1 sigma of the factor about one).
_SCALES = ((0.06, 0.01), (0.06, 0.06), (0.04, 0.2))
#: The altitude circle counts from a tube laid level or stood upright.
_ALTITUDE_REFERENCES_DEG = (0.0, 90.0)
#: About this a circle runs backwards that has its nought overhead and 90 at the horizon.
_FROM_OVERHEAD_DEG = 45.0
#: Which circle is wrong.
_AXES = (("azimuth", 0.5), ("altitude", 0.4), ("both", 0.1))


@dataclass(frozen=True)
class Ticks(Form):
    """``fitted``: the factor is solved for, as a scale term; ``factor`` is then one."""

    axis: str
    factor: float
    reference_deg: float
    fitted: bool

    @property
    def each(self) -> tuple[str, ...]:
        """The circles that it is about."""
        return AXES if self.axis == "both" else (self.axis,)

    @property
    def from_overhead(self) -> bool:
        """Whether it is 90 degrees less the reading that tells the height."""
        return self.factor == -1 and self.reference_deg == _FROM_OVERHEAD_DEG

    def as_read(self, reading: Array) -> Array:
        return _geared(reading, self.axis, self.factor, self.reference_deg)

    def title(self, o: Observations, j: Judged) -> str:
        axis = "azimuth and altitude" if self.axis == "both" else self.axis
        circle = getattr(o.kit, "altitude" if self.axis == "altitude" else "azimuth", None)
        ticked = circle is None or circle.ticks_per_turn
        what = "wrong tick count" if ticked else "wrong scale (ticks, gearing or gauge)"
        what = "direction reversed" if self.factor == -1 else what
        return f"{axis}: {what}"

    def together(self, o: Observations, j: Judged) -> str:
        return f"the {self._which(j)}"

    def claim(self, o: Observations, j: Judged) -> str:
        return f"The {self._which(j)}"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        return f"If the {self._which(j)}, {then(j, nothing)}."

    def _which(self, j: Judged) -> str:
        axis = "azimuth and the altitude" if self.axis == "both" else self.axis
        if self.fitted:
            i = INDEX[f"{axis}_scale"]
            off, sigma = 100 * j.mean[i], 100 * math.sqrt(max(0.0, j.covariance[i, i]))
            way = "too little" if off > 0 else "too far"
            return f"{axis} reading turns {abs(off):.2g} % {way} (± {sigma:.2g} %)"
        if self.from_overhead:
            return f"{axis} reading counts from overhead, not from the horizon"
        if self.factor == -1:
            return f"{axis} reading runs backwards"
        if self.factor >= 1:
            return f"{axis} reading turns {self.factor:.4g} times too far"
        return f"{axis} reading turns only {self.factor:.4g} of what it should"

    def mend(self, o: Observations, j: Judged) -> str:
        if self.from_overhead:
            return "Write 90 less what the altitude circle shows, or turn its figures round."
        if self.factor == -1:
            circle = getattr(o.kit, self.each[0]) if o.kit is not None else None
            wires = circle is None or circle.ticks_per_turn
            way = f"Let the {' and the '.join(self.each)} figures run the other way"
            return way + (", or exchange the encoder's two signal wires." if wires else ".")
        return " ".join(self._mend_one(o, j, axis) for axis in self.each)

    def _mend_one(self, o: Observations, j: Judged, axis: str) -> str:
        factor = self.factor
        if self.fitted:
            factor = 1.0 / (1.0 + float(j.mean[INDEX[f"{axis}_scale"]]))
        circle = getattr(o.kit, axis) if o.kit is not None else None
        if circle is None or not circle.ticks_per_turn:
            return (
                f"The {axis} circle reads {factor:.3f} of the true turn: check its scale or "
                "gearing."
            )
        right = circle.ticks_per_turn * factor
        count = (
            "turn the mount once round and take the count it changes by"
            if axis == "azimuth"
            else "lift the tube from level to upright and take four times the count it changes by"
        )
        return (
            f"Set ticks_per_turn of the {axis} near {right:.0f} (now {circle.ticks_per_turn}): "
            f"{count}."
        )

    def advice(self, o: Observations, j: Judged) -> Advice | None:
        if self.factor != -1 or self.from_overhead:
            return None
        where = " and ".join(f"[{k}]" for k in self.each)
        return Advice(Do.TURN_CIRCLES, where)

    def hand_check(self, o: Observations, j: Judged) -> str:
        return (
            "turn the mount once round, or lift the tube from level to upright: the reading must "
            "change by 360° or 90°, growing to the right and upward"
        )

    def happened(self, o: Observations, j: Judged) -> str:
        if self.from_overhead:
            return "Your up-down numbers count from overhead: 0 straight up, 90 at the horizon."
        if self.factor == -1:
            return f"Your {PLAIN_AXIS[self.axis]} numbers run backwards."
        pace = "too fast or too slowly"
        if not self.fitted:
            size = max(self.factor, 1 / self.factor)
            pace = f"{size:.3g} times too {'fast' if self.factor > 1 else 'slowly'}"
        return f"Your {PLAIN_AXIS[self.axis]} numbers grow {pace} as the telescope turns."

    def try_next(self, o: Observations, j: Judged) -> str:
        if self.from_overhead:
            return (
                "Write 90 less what the up-down circle shows, for these and from now on. "
                "Tell me whether objects are then where they should be."
            )
        if self.axis == "altitude":
            return (
                "Lift the tube from level to straight up: the up-down number must grow by 90. Tell "
                "me what it does."
            )
        return (
            "Turn the telescope once all the way round to the right: the left-right number must "
            "grow, and come back to where it began. Tell me what it does."
        )


@dataclass(frozen=True)
class TicksFault(Fault):
    """``factor``: reading over true turn."""

    kind = _KIND
    axis: str
    factor: float
    reference_deg: float = 0.0

    def gear(self, readings: Array) -> None:
        readings[:] = _geared(readings, self.axis, self.factor, self.reference_deg)


def _geared(reading: Array, axis: str, factor: float, reference_deg: float) -> Array:
    """What circles (m, 2) with wrong ticks show where sound ones would show ``reading``."""
    out = reading.copy()
    if axis in ("azimuth", "both"):
        out[:, 0] *= factor
    if axis in ("altitude", "both"):
        reference = math.radians(reference_deg)
        out[:, 1] = reference + factor * (out[:, 1] - reference)
    return out


def _turned(o: Observations, axis: str, factor: float, reference_deg: float) -> Array:
    """Readings (n, 2) as they would have been with the right ticks.

    A reading that was written down within one turn may hide whole turns; each azimuth is taken to
    be the one that agrees best with the push from the star before.
    """
    out = o.readings.copy()
    if axis in ("azimuth", "both"):
        step = half_turn(np.diff(o.true[:, 0]))
        turn = 2 * np.pi / abs(factor)
        x = out[:, 0] / factor
        for i in range(1, o.n):
            x[i] += turn * round((x[i - 1] + step[i - 1] - x[i]) / turn)
        out[:, 0] = x
    if axis in ("altitude", "both"):
        reference = math.radians(reference_deg)
        out[:, 1] = reference + (out[:, 1] - reference) / factor
    return out


@dataclass(frozen=True)
class _Choice:
    """``sigma``: of the factor about one; 0 for a factor that is stated."""

    probability: float
    axis: str
    factor: float
    reference_deg: float
    sigma: float


def _choices() -> list[_Choice]:
    """Every form with its probability, summing to one."""
    out = []
    forms = [(w, f, 0.0) for w, f in _FACTORS]
    forms += [(w, 1.0, s) for w, s in _SCALES]
    for axis, share in _AXES:
        usable = [(w, f, s) for w, f, s in forms if axis != "both" or s == 0.0]
        total = sum(w for w, _, _ in usable)
        for w, factor, sigma in usable:
            many = axis != "azimuth" and sigma == 0.0
            references = _ALTITUDE_REFERENCES_DEG if many else (0.0,)
            if factor == -1 and axis == "altitude":
                references = (*references, _FROM_OVERHEAD_DEG)
            for ref in references:
                out.append(_Choice(share * w / total / len(references), axis, factor, ref, sigma))
    return out


def _forms(o: Observations) -> list[Variant]:
    out = []
    for c in _choices():
        prior = o.prior
        if c.sigma:
            spread = prior.sigma.copy()
            k = INDEX[f"{c.axis}_scale"]
            spread[k] = math.hypot(spread[k], c.sigma)
            if c.axis == "altitude":
                # A tube that starts upright has its scale error about 90 deg; let the zero take it.
                zero = INDEX["altitude_zero"]
                spread[zero] = math.hypot(spread[zero], c.sigma * math.pi / 4)
            prior = Priors(prior.mean, spread)
        readings = _turned(o, c.axis, c.factor, c.reference_deg)
        form = Ticks(c.axis, c.factor, c.reference_deg, bool(c.sigma))
        out.append(o.variant(_KIND, c.probability, form, prior=prior, readings=readings))
    return out


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    choices = _choices()
    p = np.array([c.probability for c in choices])
    c = choices[int(rng.choice(len(choices), p=p / p.sum()))]
    factor, reference = c.factor, c.reference_deg
    if c.sigma:
        # True turn is (1 + error) times the reading.
        factor = 1.0 / (1.0 + float(c.sigma * rng.standard_normal()))
        if c.axis == "altitude":
            reference = _ALTITUDE_REFERENCES_DEG[int(rng.integers(2))]
    return TicksFault(c.axis, factor, reference)


CAUSE = CauseKind(_KIND, 0.05, _forms, _draw)
