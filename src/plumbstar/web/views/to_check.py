"""Whether one more star should put the fix to the test before it is gone by, and why: said of the
push, and the next thing to do on every page."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from plumbstar.solve.doubts import BadAmong, WasAnother, Weak
from plumbstar.solve.since import last_contradicts, suspected
from plumbstar.solve.weighing import SURE
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.notices import moved_record

#: A mount that the kit does not expect is believed when so many stars agree with it: two mistakes
#: among four look the same to it. Common practice, no source.
FAR_OFF_STARS = 5


class WhyCheck(Enum):
    """What is to be put to the test."""

    LAST_CONTRADICTS = auto()
    ONE_SUSPECTED = auto()
    NAMES = auto()  # some were of other stars than they were called, and it is not sure which
    ONE_IS_WRONG = auto()  # and it is not clear which
    FAR_OFF = auto()  # the stars agree only with a mount that the kit does not expect


@dataclass(frozen=True, slots=True)
class ToCheck:
    """``stars``: those that do not go with the others; empty where no one is named."""

    check: WhyCheck
    stars: tuple[str, ...] = ()


def to_check(e: Evening) -> ToCheck | None:
    """None where nothing is, and by day, when no star is asked for."""
    fix = e.fix
    if fix is None or not e.fix_holds or e.guidance.allowed_stops() is not None:
        return None
    if moved_record(e) is None:  # else it is asked about above the page
        if last_contradicts(fix.stories, len(fix.sightings)):
            return ToCheck(WhyCheck.LAST_CONTRADICTS, (fix.sightings[-1].star,))
        k = suspected(fix.stories, fix.set_aside) if len(fix.sightings) > 2 else None
        if k is not None:
            return ToCheck(WhyCheck.ONE_SUSPECTED, (fix.sightings[k].star,))
    unsure = [d for d in fix.doubts if isinstance(d, WasAnother) and d.probability < SURE]
    if unsure:
        unsure.sort(key=lambda d: d.sighting)
        return ToCheck(WhyCheck.NAMES, tuple(d.called for d in unsure))
    if any(isinstance(d, BadAmong) for d in fix.doubts):
        return ToCheck(WhyCheck.ONE_IS_WRONG)
    if Weak.FAR_OFF in fix.doubts and len(e.sightings.used) < FAR_OFF_STARS:
        return ToCheck(WhyCheck.FAR_OFF)
    return None
