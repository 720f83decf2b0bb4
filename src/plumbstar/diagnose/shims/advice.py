"""What to say of a stop that is known to be off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from msgspec import structs

from plumbstar.diagnose.history import Summary
from plumbstar.diagnose.history.jobs import BEFORE_A_SCREW
from plumbstar.diagnose.shims import say
from plumbstar.diagnose.shims.pieces import ShimsNow, shims_now, typed
from plumbstar.diagnose.shims.planning import ShimPlan, plan
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook.records import Mend
from plumbstar.mount.priors import Noise
from plumbstar.mount.terms import STOP
from plumbstar.text.advice import Advice, Do

Adding = Literal["raises", "lowers"]


@dataclass(frozen=True)
class StopAdvice:
    """Of a stop that is known to be off: a plan, or what the kit lacks for one.

    ``pieces``: where the shims are, if mends were recorded. ``adding``: which way added thickness
    tips the tube, where outings tell it and the kit does not, or says the other way.
    """

    plan: ShimPlan | None = None
    lacking: UserError | None = None
    drifts: bool = False
    pieces: ShimsNow | None = None
    adding: Adding | None = None

    @property
    def sentence(self) -> str:
        """What to expect of the work, before its steps."""
        if self.plan is None:
            return say.lacking(f"{self.lacking}.")
        said = [say.DRIFTS] * self.drifts
        said += [say.by_the_outings(self.adding)] if self.adding is not None else []
        said.append(say.sentence(self.plan))
        if self.pieces is not None and self.pieces.recorded:
            said.append(say.where_they_are(self.pieces))
        return " ".join(said)

    @property
    def steps(self) -> tuple[str, ...]:
        """What to do, one step after another."""
        return say.steps(self.plan) if self.plan is not None else ()

    @property
    def then(self) -> Advice | None:
        """What to tell the logbook once it is done."""
        moves = self.plan.moves if self.plan is not None else ()
        if not moves or self.plan is None or not self.plan.verdict.is_work:
            return None
        return Advice(Do.TELL_OF_SHIMS, typed(moves))

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


def advise_from(
    s: Summary, kit: Kit, mends: Sequence[Mend] = (), noise: Noise | None = None
) -> StopAdvice | None:
    """The same of what many outings know, from the same numbers as their hit chances.

    ``mends``: the kit's, oldest first: what they used of its shims, and which way these went.
    ``noise``: with the hand as learnt. None where one outing alone tells of the stop as it is now:
    nobody takes up a screwdriver for that, but to take back a mend that made it worse.
    """
    stop = next((t for t in s.terms if t.name == STOP), None)
    if stop is None:
        return None
    to_undo = s.mended is not None and s.mended.to_undo
    if stop.told < BEFORE_A_SCREW and not to_undo:
        return None
    now, adding = shims_now(kit, mends), _adding(s)
    as_it_is = structs.replace(
        kit,
        shim=now.in_box,
        stop=structs.replace(kit.stop, adding=adding) if adding is not None else kit.stop,
    )
    advice = advise(
        stop.now,
        stop.now_sigma,
        as_it_is,
        field_deg=s.field_deg,
        priors=s.assumed,
        belief=s.belief,
        noise=noise,
        in_place=now.in_place,
    )
    if advice is None or advice.plan is None:
        return advice
    drifts = any(c.kind == "drift" and c.name == STOP for c in s.changes)
    return replace(advice, drifts=drifts, pieces=now, adding=adding)


def _adding(s: Summary) -> Adding | None:
    """Which way added thickness tips the tube, where outings tell what the kit does not say."""
    m = s.mended
    return m.adding if m is not None and (m.wrong_way or m.direction_found) else None
