"""The rules that observers pass on, each beside what the arithmetic says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plumbstar.controller.pair import BLIND, STOP, Pair, sensitivities


@dataclass(frozen=True)
class Rule:
    """A rule of thumb (common practice, no source), what it says here, and whether we agree."""

    rule: str
    says: str
    agrees: bool | None
    because: str = ""


def rules_of_thumb(
    numbers_deg: Sequence[float],
    pairs: Sequence[Pair],
    stop: float,
    stop_sigma: float,
    adding: str = "unknown",
) -> tuple[Rule, ...]:
    """The rules that observers pass on, beside what the arithmetic says. All: common practice, no
    source. ``numbers_deg`` are measured minus true; ``stop`` in radians."""
    rules = []
    span = max(p.span_s for p in pairs)
    drift = math.degrees(max((abs(p.drift) for p in pairs), default=0.0))
    says = "fine" if span <= 30 else "acceptable" if span <= 60 else "too slow"
    rules.append(
        Rule(
            "stop and both stars within a minute, better half of one",
            f"{span:.0f} s: {says}",
            (says != "too slow") == (drift < 0.25),
            f"the drift between the stars was {drift:.2f} deg"
            + ("; the wait from the stop to the first star adds none" if span > 60 else ""),
        )
    )
    worst = max(abs(x) for x in numbers_deg)
    says = "in the field" if worst <= 0.5 else "usable" if worst <= 1.0 else "not good enough"
    likely = abs(stop) + stop_sigma
    rules.append(
        Rule(
            "within half a degree objects are in the field of a 25 mm eyepiece on about 1.2 m of "
            "focal length; within one degree usable",
            f"{worst:.2f} deg: {says}",
            None if abs(_weakest(pairs)) < BLIND else (worst <= 1.0) == (likely < math.radians(1)),
            f"the stop is off by {math.degrees(stop):+.2f} ± {math.degrees(stop_sigma):.2f} deg, "
            "and the number shows from none to twice of that, as the pair stood",
        )
    )
    low, high = min(numbers_deg), max(numbers_deg)
    if low > 0 and 0.5 <= (low + high) / 2 <= 2.0:
        wanted = "add"
    elif high < 0:
        wanted = "remove"
    else:
        wanted = ""
    if wanted:
        agrees: bool | None = None
        because = "needs the direction: `plumbstar check stop-direction`"
        if adding in ("raises", "lowers"):
            if abs(stop) < 2 * stop_sigma:
                because = "the offset is not yet certain enough to say"
            else:
                ours = "add" if (stop > 0) == (adding == "lowers") else "remove"
                agrees = ours == wanted
                because = f"on this kit adding {adding} the tube, so the arithmetic says {ours}"
        rules.append(
            Rule(
                "numbers always positive, +0.5 to +2 deg: add thickness under the stop; always "
                "negative: remove some",
                f"{wanted} thickness" + ("" if len(numbers_deg) > 1 else " (on one number only)"),
                agrees,
                because,
            )
        )
    return tuple(rules)


def _weakest(pairs: Sequence[Pair]) -> float:
    return min(abs(float(sensitivities(p.places)[STOP])) for p in pairs)
