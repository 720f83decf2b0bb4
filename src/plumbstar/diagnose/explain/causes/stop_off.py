"""The altitude zero beyond the prior, or entered a quarter turn wrong."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene, pick
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.causes.term import TermFault, WideTerm, draw_term, wide_forms
from plumbstar.diagnose.explain.forms import Fact, Judged, Observations, Variant
from plumbstar.diagnose.explain.off_zero import clear
from plumbstar.diagnose.explain.sizes import arc, beyond_usual, low
from plumbstar.text.advice import Advice, Do
from plumbstar.units import Array

KIND = "stop_off"
_TERM = "altitude_zero"
#: The upright stop, beyond what the kit's prior already expects.
_STOP_DEG = ((0.41, 1.5), (0.41, 5.0), (0.1, 15.0))
#: ... or the altitude entered a quarter turn wrong: an upright tube called level, or the reverse.
_ENTERED_DEG = ((0.04, 90.0), (0.04, -90.0))
#: No shim mends more than this, degrees: the number was entered wrongly.
_SHIMMED_DEG = 25.0


@dataclass(frozen=True)
class StopOff(WideTerm):
    def title(self, o: Observations, j: Judged) -> str:
        off_deg, sigma_deg = j.term_deg(_TERM)
        if clear(off_deg, sigma_deg) and abs(off_deg) <= _SHIMMED_DEG:
            off = f"is off by {arc(off_deg)}"
        else:
            off = "is far off"
        return f"the upright stop {off}{', and nothing else shows' if j.all_that_shows else ''}"

    def claim(self, o: Observations, j: Judged) -> str:
        return f"The stop would read {low(j.term_deg(_TERM)[0])}"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        off_deg, sigma_deg = j.term_deg(_TERM)
        said = beyond_usual(o, j, _TERM, self.claim(o, j), nothing)
        if clear(off_deg, sigma_deg) and abs(off_deg) <= _SHIMMED_DEG:
            return f"{said} A controller that trusts the stop is off by up to {arc(off_deg)}."
        return said

    def mend(self, o: Observations, j: Judged) -> str:
        entered = abs(j.term_deg(_TERM)[0]) > _SHIMMED_DEG
        return self.deed(o, j) + ("" if entered else " The fix allows for it meanwhile.")

    def deed(self, o: Observations, j: Judged) -> str:
        # Positive: the tube stands higher than the reading says.
        off_deg = j.term_deg(_TERM)[0]
        if abs(off_deg) > _SHIMMED_DEG:
            return (
                f"Set the altitude anew with the tube at the stop: the reading is {arc(off_deg)} "
                f"too {'low' if off_deg > 0 else 'high'}, as when an upright tube is entered as "
                "level."
            )
        which = "lower" if off_deg > 0 else "higher"
        text = f"Make the tube stand {arc(off_deg)} {which} at the stop"
        stop = o.kit.stop if o.kit is not None else None
        if stop is not None and stop.lever_arm_mm > 0:
            mm = stop.lever_arm_mm * math.tan(math.radians(abs(off_deg)))
            if stop.adding == "unknown":
                text += f": {mm:.1f} mm of thickness"
            else:
                add = (stop.adding == "raises") == (off_deg < 0)
                text += f": {'add' if add else 'take away'} {mm:.1f} mm"
        return f"{text}."

    def advice(self, o: Observations, j: Judged) -> Advice | None:
        if o.kit is not None and abs(j.term_deg(_TERM)[0]) <= _SHIMMED_DEG:
            stop = o.kit.stop
            if stop.lever_arm_mm > 0 and stop.adding == "unknown":
                return Advice(Do.FIND_WHICH_WAY_THE_STOP_WORKS)
        return None

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "hold a spirit level along the tube at the stop"

    def happened(self, o: Observations, j: Judged) -> str:
        stop = j.term_deg(_TERM)[0]
        return (
            f"Your up-and-down number starts from the wrong place: it is about {abs(stop):.1f} "
            f"degrees too {'low' if stop > 0 else 'high'} all over the sky."
        )

    def try_next(self, o: Observations, j: Judged) -> str:
        return (
            "Check where the tube stands when you set the up-and-down number; a spirit level along "
            "the tube shows it."
        )


@dataclass(frozen=True)
class EnteredWrong(StopOff):
    """``entered_deg``: so much lower was the altitude entered than the tube stood."""

    entered_deg: float = 0.0

    @property
    def altitude_entered_deg(self) -> float:
        return self.entered_deg

    def as_read(self, reading: Array) -> Array:
        out: Array = reading - np.array([0.0, math.radians(self.entered_deg)])
        return out

    def facts(self) -> Mapping[str, Fact]:
        return {"entered_deg": self.entered_deg}


_wide = wide_forms(KIND, _STOP_DEG, StopOff((_TERM,)))


def _forms(o: Observations) -> list[Variant]:
    out = _wide(o)
    for w, deg in _ENTERED_DEG:
        readings = o.readings + np.array([0.0, math.radians(deg)])
        out.append(o.variant(KIND, w, EnteredWrong(entered_deg=deg), readings=readings))
    return out


_draw_size = draw_term(KIND, _STOP_DEG, _TERM)


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    if rng.random() < sum(w for w, _ in _ENTERED_DEG):
        return TermFault(KIND, (_TERM,), pick(rng, _ENTERED_DEG))
    return _draw_size(rng, scene)


CAUSE = CauseKind(KIND, 0.08, _forms, _draw)
