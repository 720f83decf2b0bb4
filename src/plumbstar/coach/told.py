"""What a message may tell, as records."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from plumbstar.diagnose.explain.written import Angle, ClockTime
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.catalogue import Star


class Remark(enum.Enum):
    """What else a message says that changes the answer."""

    SUN = "sun"
    CLOUD = "cloud"
    MOVED = "moved"
    PICTURE = "picture"
    STUCK = "stuck"
    NORTH = "north"
    NOT_THERE = "not_there"
    CHANCE = "chance"
    CHOOSE = "choose"
    FOLDED = "folded"
    FOREIGN = "foreign"
    FROM_TOP = "from_top"
    HIDDEN = "hidden"


@dataclass(frozen=True)
class StarTold:
    """One star with what was told of it. ``counts``: bare counts of the encoders, their scale
    unknown; ``perhaps``: what else it may have been, as the writer says."""

    thing: Star | Body
    az: Angle | None = None
    alt: Angle | None = None
    clock: ClockTime | None = None
    counts: tuple[int, ...] = ()
    said: tuple[str, ...] = ()
    perhaps: tuple[Star | Body, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether both readings are there."""
        return self.az is not None and self.alt is not None

    @property
    def anything(self) -> bool:
        return bool(self.az or self.alt or self.clock or self.counts)


@dataclass(frozen=True)
class NumberTold:
    """A number that a controller shows, degrees, and the stars that it is about, in their order;
    ``signed``: whether a sign stands before it."""

    deg: float
    signed: bool
    stars: tuple[StarTold, ...] = ()


@dataclass(frozen=True)
class MessageTold:
    """``stars``: those with numbers of their own, or those that the first of a controller's
    ``numbers`` is about; ``named``: the others that are spoken of; ``loose``: readings of nobody
    knows which star, and whether a time was told with them (``timed``)."""

    stars: tuple[StarTold, ...] = ()
    named: tuple[Star | Body, ...] = ()
    numbers: tuple[NumberTold, ...] = ()
    remarks: frozenset[Remark] = frozenset()
    loose: tuple[Angle, ...] = ()
    timed: bool = False

    @property
    def number_deg(self) -> float | None:
        """The first of the controller's numbers, degrees."""
        return self.numbers[0].deg if self.numbers else None
