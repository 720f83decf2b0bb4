"""Nothing is wrong: the kit's priors and the stated centring."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.causes.stop_off import StopOff
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant
from plumbstar.diagnose.explain.off_zero import told_by
from plumbstar.diagnose.explain.sizes import arc, lean, low

_KIND = "nothing"
_STOP = StopOff(("altitude_zero",))


@dataclass(frozen=True)
class NothingWrong(Form):
    def title(self, o: Observations, j: Judged) -> str:
        that_shows = " that shows" if j.all_that_shows else ""
        return f"nothing {'went' if told_by(o, j) else 'is'} wrong{that_shows}"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        stop, _ = j.term_deg("altitude_zero")  # how well it is known is told once, as measured
        centring = f"{math.degrees(o.noise.centring) * 60:.0f}′"
        usual = "" if told_by(o, j) else ", as is usual for such mounts"
        return (
            f"The sightings agree to {arc(j.agree_deg())} ({centring} are expected of a hand) with "
            f"a stop that reads {low(stop)} and a base leaning {lean(j)}{usual}."
        )

    def mend(self, o: Observations, j: Judged) -> str:
        if told_by(o, j):
            return "Use the fix, which allows for what is measured of the mount."
        return "Nothing to mend; use the fix."

    @property
    def checked_at_star(self) -> bool:
        return True

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "push to a star you have not sighted; it should be in the field"

    def happened(self, o: Observations, j: Judged) -> str:
        if self._stop_is_off(o, j):
            return f"Your numbers fit together well. {_STOP.happened(o, j)}"
        return "Your numbers fit together well. Nothing looks wrong with your telescope."

    def try_next(self, o: Observations, j: Judged) -> str:
        return _STOP.try_next(o, j) if self._stop_is_off(o, j) else "Go on and enjoy it."

    def _stop_is_off(self, o: Observations, j: Judged) -> bool:
        """A newcomer's controller trusts the stop: to them it is something that is wrong."""
        return any(x.terms == _STOP.terms for x in told_by(o, j))


@dataclass(frozen=True)
class NoFault(Fault):
    kind = _KIND


def _forms(o: Observations) -> list[Variant]:
    return [o.variant(_KIND, 1.0, NothingWrong())]


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    return NoFault()


CAUSE = CauseKind(_KIND, 0.27, _forms, _draw)
