"""Every sighting centred less well than stated."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes import rates
from plumbstar.diagnose.explain.causes.fault import Fault, Scene, pick
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant
from plumbstar.diagnose.explain.sizes import arc

_KIND = "coarse_centring"
#: (weight, how many times coarser than stated), all coarser than an ordinary hand
#: (``ORDINARY_TO`` in explain/tails.py). How often one comes is the share of ``COARSER`` beyond
#: that (solve/stories.py). How coarse it then is, is not taken from there: that table is of all
#: evenings, this of those that somebody asks about, and the coarser the hand, the rather. So
#: three times and more are 64 in 100 here and 52 there.
FACTORS = (
    (0.18, 1.7),
    (0.18, 2.3),
    (0.18, 3.2),
    (0.18, 4.5),
    (0.13, 6.5),
    (0.1, 12.0),
    (0.05, 25.0),
)


@dataclass(frozen=True)
class CoarseCentring(Form):
    factor: float

    def title(self, o: Observations, j: Judged) -> str:
        return "merely coarse centring"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        return f"{self.claim(o, j)}."

    def claim(self, o: Observations, j: Judged) -> str:
        stated = math.degrees(o.noise.centring)
        return (
            f"The sightings scatter as if each star was centred to {arc(stated * self.factor)}, "
            f"not {stated * 60:.0f}′"
        )

    def mend(self, o: Observations, j: Judged) -> str:
        return (
            "Centre with the highest power you have, throw the star out of focus to judge the "
            "middle, and let the tube come to rest before you note the reading."
        )

    @property
    def checked_at_star(self) -> bool:
        return True

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "sight one star twice, coming from either side, and compare the readings"

    def happened(self, o: Observations, j: Judged) -> str:
        return (
            "Nothing is broken. The stars were only roughly in the middle when you took the "
            "numbers, so the numbers do not quite fit together."
        )

    def try_next(self, o: Observations, j: Judged) -> str:
        return (
            "Use your strongest eyepiece and make the star blurry; a blurry disc is easier to put "
            "in the middle. Then take the numbers again."
        )


@dataclass(frozen=True)
class CoarseFault(Fault):
    kind = _KIND
    coarser: float = 1.0


def _forms(o: Observations) -> list[Variant]:
    c2 = o.noise.centring**2
    return [
        o.variant(_KIND, w, CoarseCentring(f), weight=1.0 / (o.variance + c2 * (f * f - 1.0)))
        for w, f in FACTORS
    ]


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    return CoarseFault(pick(rng, FACTORS)[0])


CAUSE = CauseKind(_KIND, rates.COARSE_CENTRING, _forms, _draw)
