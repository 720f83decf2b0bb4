"""What goes wrong: when, what it touches, and whether anybody could see it.

A fault is *shown by the bytes* (a board that restarts, falls silent, is slow, loses lines, or a
count that jumps), or *by the stars* once three or more were sighted and a right one of them since,
or by neither: a circle that turned on its axle while the hand moved is as good as never moved. A
wrong star never checks itself: two right ones must stand beside it, with nothing moved between.
Nor does the star that the bytes asked for check anything: it settles what they lost.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from numpy.random import Generator

BYTES = ("restart moving", "restart still", "silence", "power lost", "slow board", "lost lines",
         "azimuth jumps", "altitude jumps")  # fmt: skip
QUIET = ("azimuth slips", "altitude slips", "base knocked")
STARS = ("wrong star", "fumbled star", "rough hand")
OTHER = ("server restarted", "late presses", "clock wrong", "clock set")
#: Came later than the others, and are drawn apart from them: a seed's other faults stay the same.
#: Each with its share of the evenings.
LATER = {"counts from zero": 0.3, "says nothing moved": 0.15, "daytime": 0.1}
ALL = (*BYTES, *QUIET, *STARS, *OTHER, *LATER)
#: These hold all evening; the others strike between two steps or within a move.
WHOLE_EVENING = ("slow board", "lost lines", "rough hand", "late presses", "clock wrong", *LATER)


@dataclass
class Fault:
    kind: str
    step: int
    within: float
    """How far into the move of that step, 0 to 1."""
    done: bool = False
    stars_before: int = -1


@dataclass(frozen=True)
class Event:
    """In the order in which they were: a star (or a find) tapped, wrong by ``fault`` or right; or
    ``fault`` struck and may have moved something. ``at_s``: of the steady clock. ``settles``: that
    star was tapped while the screen asked for one, a possible slip being open."""

    at_s: float
    fault: Fault | None = None
    star: bool = False
    settles: bool = False


@dataclass
class Plan:
    faults: list[Fault] = field(default_factory=list)

    def at(self, step: int) -> list[Fault]:
        return [f for f in self.faults if f.step == step and not f.done]


def draw(rng: Generator, later: Generator, steps: int, only: tuple[str, ...] | None = None) -> Plan:
    """Up to four faults, of kinds drawn evenly; one evening in eight has none. Besides, by
    ``later``, those of LATER."""
    if only is not None:
        kinds = list(only)
    elif rng.random() < 0.125:
        kinds = []
    else:
        kinds = list(rng.choice(BYTES + QUIET + STARS + OTHER, rng.integers(1, 5), replace=False))
    faults = []
    for kind in kinds:
        step = 0 if kind in WHOLE_EVENING else int(rng.integers(1, steps))
        faults.append(Fault(str(kind), step, float(rng.uniform(0.1, 0.95))))
    if only is None:
        faults += [Fault(kind, 0, 0.5) for kind, p in LATER.items() if later.random() < p]
    return Plan(faults)


def can_be_shown(fault: Fault, course: Sequence[Event]) -> str:
    """By the bytes, by three stars or more ("stars"), or not ("unseen"); "denied": somebody says
    that nothing moved, whatever did; empty for what harms nothing."""
    if fault.kind in BYTES:
        return "bytes"
    if fault.kind in LATER:
        return "denied" if fault.kind == "says nothing moved" else ""
    course = sorted(course, key=lambda e: e.at_s)
    stars = [e for e in course if e.star]
    if fault.kind in WHOLE_EVENING or fault.kind in OTHER:
        return "stars" if len(stars) >= 3 else "unseen"
    struck = next((k for k, e in enumerate(course) if e.fault is fault), None)
    if struck is None:  # its press is still on the phone
        return "unseen"
    if fault.kind in STARS:
        # A star that settles a slip begins a stretch of its own.
        moves = [k - 0.5 * e.star for k, e in enumerate(course) if not e.star or e.settles]
        first = max((k for k in moves if k < struck), default=-1.0)
        last = min((k for k in moves if k > struck), default=float(len(course)))
        beside = sum(e.star and e.fault is None and first < k < last for k, e in enumerate(course))
        return "stars" if beside >= 2 else "unseen"
    free = _settling_nothing(course)
    return "stars" if len(free) >= 3 and any(k > struck for k in free) else "unseen"


def _settling_nothing(course: Sequence[Event]) -> list[int]:
    """The right stars, by their places, but for the first after the bytes asked for one: that
    settles what they lost, and checks nothing."""
    out, settling = [], False
    for k, e in enumerate(course):
        if e.star and e.fault is None:
            if not (settling or e.settles):
                out.append(k)
            settling = False
        elif not e.star and e.fault is not None and e.fault.kind in BYTES:
            settling = True
    return out
