"""What to do next, decided here and nowhere else: every page shows this one.

Arithmetic on facts: :class:`Situation` is how the evening stands, :func:`next_step` what follows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum, auto

from plumbstar.choose.ranking import GOOD

#: After the base was moved one star settles its direction, a second one its lean.
STARS_AFTER_BASE = 2


class Step(Enum):
    """Each is one thing to do."""

    SITE = auto()
    CHOOSE = auto()
    START = auto()
    ANSWER = auto()
    MEND = auto()
    SIGHT = auto()
    FIND = auto()


class Because(Enum):
    """Why it is the next one."""

    NOTHING_YET = auto()
    NAMELESS = auto()  # stars were centred that have no name yet
    NONE_UP = auto()  # stars are chosen, and none of them can be sighted now
    PRESS_DOUBTED = auto()
    SUN_ASKED = auto()
    SUN_PERHAPS_UP = auto()  # as somebody answered: then the answer is what nothing goes on without
    MOVE_ASKED = auto()
    CONTRADICTORY = auto()
    UNSOLVED = auto()
    BASE_MOVED = auto()
    BASE_MOVED_ONE_SIGHTED = auto()
    MAY_HAVE_SLIPPED = auto()
    PLANNED = auto()
    TO_CHECK = auto()  # what the stars agree on, or one of them, is to be put to the test
    WORTH_ONE_MORE = auto()
    STARS_DONE = auto()
    CONTROLLER_UNTOLD = auto()  # a closed controller has not been told its stars


@dataclass(frozen=True)
class NextStep:
    """``star``: to be sighted; empty where any other one will do, or it is still worked out."""

    step: Step
    because: Because
    star: str = ""

    @property
    def settles(self) -> bool:
        """Whether it must be done before the fix, where there is one, may be gone by."""
        return self.step is not Step.FIND and self.because not in _ADVICE


_ADVICE = {Because.PLANNED, Because.WORTH_ONE_MORE, Because.TO_CHECK}


@dataclass(frozen=True)
class PlannedFact:
    """A star of the plan; ``can``: it stands up and not near the Sun."""

    star: str
    done: bool
    can: bool


@dataclass(frozen=True)
class Situation:
    """How the evening stands.

    ``asked``: the question that waits for an answer. ``others``: stars sighted that stand up and
    are not planned. ``slip``: one is open; ``base``: it, or the last that is settled, was of the
    base, and ``since_base`` are the stars sighted after that. ``better``: the star that would help
    most, ``worth_it`` so much that it is advised, ``better_known`` once that is worked out.
    ``to_check``: one more star should put the fix to the test before it is gone by.
    ``nameless``: so many stars were centred that have no name yet.
    ``chance``: the mean hit chance of the fix, 0 to 1; None without a fix.
    """

    has_site: bool = True
    outing: bool = True
    planned: tuple[PlannedFact, ...] = ()
    asked: Because | None = None
    controller: bool = False
    controller_told: bool = False
    sighted: int = 0
    others: tuple[str, ...] = ()
    slip: bool = False
    base: bool = False
    since_base: frozenset[str] = field(default_factory=frozenset)
    contradictory: bool = False
    to_check: bool = False
    chance: float | None = None
    better: str = ""
    better_known: bool = False
    worth_it: bool = False
    by_day: bool = False
    nameless: int = 0


def next_step(s: Situation) -> NextStep:
    """The next step of that evening."""
    if not s.has_site:
        return NextStep(Step.SITE, Because.NOTHING_YET)
    if not s.outing:
        return NextStep(Step.START if s.planned else Step.CHOOSE, Because.NOTHING_YET)
    if s.asked is not None:
        return NextStep(Step.ANSWER, s.asked)
    if s.controller:
        if s.controller_told:
            return NextStep(Step.FIND, Because.STARS_DONE)
        return NextStep(Step.SIGHT, Because.CONTROLLER_UNTOLD)
    return _settling(s) or _sighting(s)


def _left(s: Situation) -> str:
    return next((p.star for p in s.planned if p.can and not p.done), "")


def _again(s: Situation, but: Sequence[str] = ()) -> str:
    """A star to sight once more: of the plan first."""
    names = (*(p.star for p in s.planned if p.can), *s.others)
    return next((n for n in names if n not in but), "")


def _settling(s: Situation) -> NextStep | None:
    """What must be settled before the fix may be gone by."""
    if s.base and len(s.since_base) < STARS_AFTER_BASE:
        star = _left(s) or _again(s, tuple(s.since_base))
        because = Because.BASE_MOVED_ONE_SIGHTED if s.since_base else Because.BASE_MOVED
        return NextStep(Step.SIGHT, because, star)
    if s.nameless:
        return NextStep(Step.SIGHT, Because.NAMELESS)
    if s.slip:
        return NextStep(Step.SIGHT, Because.MAY_HAVE_SLIPPED, _left(s) or _again(s))
    if s.contradictory or (s.sighted and s.chance is None):
        because = Because.CONTRADICTORY if s.contradictory else Because.UNSOLVED
        star = _left(s)
        return NextStep(Step.SIGHT if star else Step.MEND, because, star)
    return None


def _sighting(s: Situation) -> NextStep:
    """Stars while they are worth it, then objects."""
    star = _left(s)
    if star:
        return NextStep(Step.SIGHT, Because.PLANNED, star)
    if s.chance is None:
        return NextStep(Step.CHOOSE, Because.NONE_UP if s.planned else Because.NOTHING_YET)
    if s.by_day:
        return NextStep(Step.FIND, Because.STARS_DONE)
    if s.to_check:
        return NextStep(Step.SIGHT, Because.TO_CHECK, s.better)
    # The same step from the first moment on: only the star's name comes when it is worked out.
    if s.chance < GOOD and (s.worth_it or not s.better_known):
        return NextStep(Step.SIGHT, Because.WORTH_ONE_MORE, s.better)
    return NextStep(Step.FIND, Because.STARS_DONE)
