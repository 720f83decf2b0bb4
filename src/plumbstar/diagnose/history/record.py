"""What many outings say of the mount, as frozen records."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto
from typing import Literal

from plumbstar.choose.forecast import Belief
from plumbstar.errors import UserError
from plumbstar.mount.priors import Priors
from plumbstar.sky.times import Instant

Trust = Literal["trusted", "partly", "open"]


class Work(Enum):
    """What is to be done about a term: by :mod:`.say`, what that means for each."""

    #: it drifts: find the cause first
    FIND_THE_DRIFT = auto()
    #: it is off: mend its value
    MEND = auto()
    #: more outings have to tell of it
    LEARN = auto()
    #: it is near zero, but does not stay the same
    STEADY = auto()


@dataclass(frozen=True)
class Point:
    """What one outing alone says of one term: value and 1 sigma, degrees (scales: percent).

    The other lasting terms are integrated out under the kit's priors; ``sigma`` is infinite where
    the outing does not see the term.
    """

    outing_id: int
    utc: Instant | None
    value: float
    sigma: float

    @property
    def tells(self) -> bool:
        """Whether the outing says anything of the term."""
        return math.isfinite(self.sigma)


@dataclass(frozen=True)
class TermOverOutings:
    """One lasting term over the outings. Degrees, or percent for scales (``unit``).

    ``now`` with ``now_sigma``: the value in the last outing. ``next_sigma``: 1 sigma of the value
    in the next one, scatter and possible changes included. ``steady``, ``jumped``, ``drifts``:
    probabilities that sum to one.
    """

    name: str
    unit: str
    points: tuple[Point, ...]
    now: float
    now_sigma: float
    next_sigma: float
    kit_value: float
    kit_sigma: float
    steady: float
    jumped: float
    drifts: float
    trust: Trust


@dataclass(frozen=True)
class TermChange:
    """A step or a slope of one term that the outings suggest.

    ``outing_id``: the first outing after the step (most probable), with ``outing_probability``
    among all outings given that there was a step; None for a drift, whose ``size`` is over the
    whole span. ``found``: probable enough to count; else it is only perhaps so.
    """

    kind: Literal["jump", "drift"]
    name: str
    unit: str
    probability: float
    size: float
    size_sigma: float
    outing_id: int | None
    before_id: int | None
    utc: Instant | None
    outing_probability: float
    found: bool


@dataclass(frozen=True)
class Job:
    """One thing to mend, and what it buys: hit chances, mean over the sky above 20 deg.

    ``gain_one_star`` and ``gain_two_stars``: with a fix that solves all terms under these learnt
    priors; ``gain_trusting``: with a recipe that trusts the stop and takes the mount as perfect.
    """

    name: str
    work: Work
    gain_one_star: float
    gain_two_stars: float
    gain_trusting: float

    @property
    def gain(self) -> float:
        """The largest of the three, by which the list is ordered."""
        return max(self.gain_one_star, self.gain_two_stars, self.gain_trusting)


@dataclass(frozen=True)
class Summary:
    """Everything the outings say about the mount. See :func:`summarise`."""

    outings: int
    terms: tuple[TermOverOutings, ...]
    changes: tuple[TermChange, ...]
    jobs: tuple[Job, ...]
    field_deg: float
    chance_one_star: float
    chance_two_stars: float
    chance_trusting: float
    steady: float
    #: Where the terms are in the next outing, and what a fix under these outings' priors assumes:
    #: for further forecasts (shims.py), so that they start from the same numbers.
    belief: Belief
    assumed: Priors

    def term(self, name: str) -> TermOverOutings:
        """That term. Raises :class:`UserError` when the kit holds it or it does not last."""
        for t in self.terms:
            if t.name == name:
                return t
        have = ", ".join(t.name for t in self.terms)
        raise UserError(f"the term '{name}'", f"one of {have}", "Check the name")
