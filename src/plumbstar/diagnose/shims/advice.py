"""What to say of a stop that is known to be off."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from plumbstar.diagnose.history import Summary
from plumbstar.diagnose.shims import say
from plumbstar.diagnose.shims.planning import STOP, ShimPlan, plan
from plumbstar.errors import UserError
from plumbstar.kit import Kit


@dataclass(frozen=True)
class StopAdvice:
    """Of a stop that is known to be off: a plan, or what the kit lacks for one."""

    plan: ShimPlan | None = None
    lacking: UserError | None = None
    drifts: bool = False

    @property
    def sentence(self) -> str:
        """What to expect of the work, before its steps."""
        if self.plan is None:
            return say.lacking(f"{self.lacking}.")
        return " ".join([say.DRIFTS] * self.drifts + [say.sentence(self.plan)])

    @property
    def steps(self) -> tuple[str, ...]:
        """What to do, one step after another."""
        return say.steps(self.plan) if self.plan is not None else ()

    @property
    def text(self) -> str:
        """The sentence, then the steps with their numbers, line by line."""
        return "\n".join([self.sentence, *(f"  {n}. {s}" for n, s in enumerate(self.steps, 1))])


def advise(stop_deg: float, sigma_deg: float, kit: Kit, **how: Any) -> StopAdvice | None:
    """By day, of a stop off by so much; None where it may be right. ``how`` as for :func:`plan`."""
    if abs(stop_deg) < 2 * sigma_deg:
        return None
    try:
        p = plan(math.radians(stop_deg), math.radians(sigma_deg), kit, after_dark=False, **how)
    except UserError as e:
        return StopAdvice(lacking=e)
    return StopAdvice(p)


def advise_from(s: Summary, kit: Kit) -> StopAdvice | None:
    """The same of what many outings know, from the same numbers as their hit chances."""
    stop = next((t for t in s.terms if t.name == STOP), None)
    if stop is None:
        return None
    advice = advise(
        stop.now,
        stop.now_sigma,
        kit,
        field_deg=s.field_deg,
        priors=s.assumed,
        belief=s.belief,
    )
    if advice is None or advice.plan is None:
        return advice
    if any(c.kind == "drift" and c.name == STOP for c in s.changes):
        return replace(advice, drifts=True)
    return advice
