"""Nothing is wrong: the kit's priors and the stated centring."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant
from plumbstar.diagnose.explain.sizes import arc, lean, low

_KIND = "nothing"


@dataclass(frozen=True)
class NothingWrong(Form):
    def title(self, o: Observations, j: Judged) -> str:
        return "nothing is wrong"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        stop, sigma = j.term_deg("altitude_zero")
        centring = f"{math.degrees(o.noise.centring) * 60:.0f}′"
        return (
            f"The sightings agree to {arc(j.agree_deg())} (stated centring {centring}) with a stop "
            f"that reads {low(stop)} (± {sigma:.1f}°) and a base leaning {lean(j)}, as is usual "
            "for such mounts."
        )

    def mend(self, o: Observations, j: Judged) -> str:
        return "Nothing to mend; use the fix."

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "push to a star you have not sighted; it should be in the field"

    def happened(self, o: Observations, j: Judged) -> str:
        return "Your numbers fit together well. Nothing looks wrong with your telescope."

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Go on and enjoy it."


@dataclass(frozen=True)
class NoFault(Fault):
    kind = _KIND


def _forms(o: Observations) -> list[Variant]:
    return [o.variant(_KIND, 1.0, NothingWrong())]


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    return NoFault()


CAUSE = CauseKind(_KIND, 0.27, _forms, _draw)
