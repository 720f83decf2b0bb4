"""What was said when a push had ended, and what was so."""

from dataclasses import dataclass
from typing import Any

from plumbstar.encoders.reading import Reading


@dataclass
class Claim:
    """What was said when a push had ended, and what was so."""

    target: str
    at_s: float
    stated: float
    in_field: bool  # said
    off_deg: float  # true
    field_deg: float
    warned: tuple[str, ...]
    stars: int
    faults: tuple[tuple[str, str], ...]  # (kind, by what it could be seen) struck by then
    blame: str = ""  # of a silent one: see blame.py
    shown_sigmas: float = 0.0

    @property
    def outside(self) -> bool:
        return self.off_deg > self.field_deg / 2

    @property
    def silent(self) -> bool:
        """Wrong, stated above 80 %, unwarned."""
        return self.in_field and self.outside and self.stated > 0.8 and not self.warned

    @property
    def far(self) -> bool:
        """So far out that no search from there would find it."""
        return self.off_deg > 2 * self.field_deg

    @property
    def against_the_goal(self) -> bool:
        """Silent, by a fault that three right stars or more show, and nobody said otherwise."""
        return self.silent and self.blame == "shown" and self.seen_by != "denied"

    @property
    def seen_by(self) -> str:
        """By what the evening's faults could be seen at best: those that could not make it
        excusable."""
        ways = {w for _, w in self.faults if w}
        for worst in ("denied", "unseen"):
            if worst in ways:
                return worst
        return "+".join(sorted(ways)) or "none"


def warnings_in(p: dict[str, Any], reading: Reading) -> tuple[str, ...]:
    """What of the picture, by its part, says that something may be amiss."""
    fix = p["fix"]
    told = {
        "slip": p["slip"], "moved": p["moved"], "reading": reading.problem,
        "not live": reading.state != "live", "contradictory": fix and fix["contradictory"],
        "doubt": p["target"] and p["target"]["doubt"],
        "clock": p["timing"]["findings"] or p["timing"]["offer"],
        "message": [m for m in p["messages"] if m["kind"] == "problem"],
    }  # fmt: skip
    return tuple(k for k, v in told.items() if v)
