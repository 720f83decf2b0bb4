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

#: Changes more probable than that count as found.
FOUND = 0.8
#: A mend likelier than that to have gone the other way is said to have done so. Of 60 that went as
#: told the next outing made none even a fifth likely (tests/diagnose/test_mended.py is like them).
TURNED = 0.6

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
class Held:
    """What is believed of a term in one outing: value and 1 sigma, degrees (scales: percent)."""

    value: float
    sigma: float


@dataclass(frozen=True)
class TermOverOutings:
    """One lasting term over the outings. Degrees, or percent for scales (``unit``).

    ``now`` with ``now_sigma``: the value in the last outing. ``next_sigma``: 1 sigma of the value
    in the next one, scatter and possible changes included. ``told``: how many outings tell of it
    since it was last mended or is known to have changed. ``steady``, ``jumped``, ``drifts``:
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
    told: int
    trust: Trust
    #: For each of ``points``: what is believed of that outing in hindsight, and the chance that it
    #: stands apart.
    held: tuple[Held, ...] = ()
    odd: tuple[float, ...] = ()


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
class StopMended:
    """The last recorded mend of the stop whose thickness was told: what it was to do, and did.

    ``added_mm``: how much thicker it made what is under the stop; ``told_deg``: by how much that
    was to move the stop, as the kit has the direction; ``turned``: the
    chance that all such mends went the other way; ``doubt``: the same before any outing told.
    ``outings``: how many that tell of the stop have come since. ``now_deg`` and its sigma: what the
    stop is thought to be now.
    """

    utc: Instant
    added_mm: float
    told_deg: float
    turned: float
    doubt: float
    outings: int
    now_deg: float
    now_sigma_deg: float

    @property
    def wrong_way(self) -> bool:
        """Whether the kit has the direction the wrong way round."""
        return self.doubt < 0.5 and self.turned > TURNED

    @property
    def to_undo(self) -> bool:
        """Whether it made the stop worse, as an outing since and those before it tell together: it
        went the wrong way, or the kit has been put right since."""
        if self.wrong_way:
            return True
        worse = abs(self.now_deg) - abs(self.now_deg - self.told_deg)
        sure = self.outings > 0 and self.turned < 0.5
        return sure and worse > 2.0 * self.now_sigma_deg

    @property
    def direction_found(self) -> bool:
        """Whether the outings tell a direction that the kit does not say."""
        return self.doubt >= 0.5 and not 1.0 - FOUND <= self.turned <= FOUND

    @property
    def adding(self) -> Literal["raises", "lowers"]:
        """Which way added thickness tips the tube, as far as is known now."""
        raises = (self.told_deg * self.added_mm > 0) != (self.turned > 0.5)
        return "raises" if raises else "lowers"


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
    mended: StopMended | None = None

    def term(self, name: str) -> TermOverOutings:
        """That term. Raises :class:`UserError` when the kit holds it or it does not last."""
        for t in self.terms:
            if t.name == name:
                return t
        have = ", ".join(t.name for t in self.terms)
        raise UserError(f"the term '{name}'", f"one of {have}", "Check the name")
