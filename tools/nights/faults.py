"""What goes wrong: when, what it touches, and whether anybody could see it.

A fault is *shown by the bytes* (a board that restarts, falls silent, is slow, loses lines, or a
count that jumps), or *by the stars* once three or more were sighted and one of them since, or by
neither: a circle that turned on its axle while the hand moved is as good as never moved.
"""

from dataclasses import dataclass, field

from numpy.random import Generator

BYTES = ("restart moving", "restart still", "silence", "power lost", "slow board", "lost lines",
         "azimuth jumps", "altitude jumps")  # fmt: skip
QUIET = ("azimuth slips", "altitude slips", "base knocked")
STARS = ("wrong star", "fumbled star", "rough hand")
OTHER = ("server restarted", "late presses", "clock wrong", "clock set")
ALL = BYTES + QUIET + STARS + OTHER
#: These hold all evening; the others strike between two steps or within a move.
WHOLE_EVENING = ("slow board", "lost lines", "rough hand", "late presses", "clock wrong")


@dataclass
class Fault:
    kind: str
    step: int
    within: float
    """How far into the move of that step, 0 to 1."""
    done: bool = False
    stars_before: int = -1


@dataclass
class Plan:
    faults: list[Fault] = field(default_factory=list)

    def at(self, step: int) -> list[Fault]:
        return [f for f in self.faults if f.step == step and not f.done]


def draw(rng: Generator, steps: int, only: tuple[str, ...] | None = None) -> Plan:
    """Up to four faults, of kinds drawn evenly; one evening in eight has none."""
    if only is not None:
        kinds = list(only)
    elif rng.random() < 0.125:
        kinds = []
    else:
        kinds = list(rng.choice(ALL, rng.integers(1, 5), replace=False))
    faults = []
    for kind in kinds:
        step = 0 if kind in WHOLE_EVENING else int(rng.integers(1, steps))
        faults.append(Fault(str(kind), step, float(rng.uniform(0.1, 0.95))))
    return Plan(faults)


def can_be_shown(fault: Fault, stars_now: int) -> str:
    """By the bytes, by three stars or more ("stars"), or not ("unseen")."""
    if fault.kind in BYTES:
        return "bytes"
    if fault.kind in WHOLE_EVENING or fault.kind in OTHER:
        return "stars" if stars_now >= 3 else "unseen"
    since = stars_now - fault.stars_before
    return "stars" if stars_now >= 3 and since >= 1 else "unseen"
