"""What to put under the stop, as the record that several commands answer with."""

from __future__ import annotations

import msgspec

from plumbstar.contract.answers.mending import (
    ShimHitsReport,
    ShimMoveReport,
    ShimPlanReport,
    ShimsLackingReport,
)
from plumbstar.diagnose.shims import StopAdvice

Unset = msgspec.UnsetType


def lacking_answer(advice: StopAdvice | None) -> ShimsLackingReport | Unset:
    """Why nothing can be said of shims, where they were wanted."""
    if advice is None or advice.plan is not None:
        return msgspec.UNSET
    e = advice.lacking
    return ShimsLackingReport(error=str(e) if e else advice.sentence, remedy=e.remedy if e else "")


def shims_answer(advice: StopAdvice | None) -> ShimPlanReport | Unset:
    """What to put under the stop, where that is known."""
    if advice is None or advice.plan is None:
        return msgspec.UNSET
    p = advice.plan
    c = p.chances
    return ShimPlanReport(
        offset_deg=p.offset_deg,
        offset_sigma_deg=p.offset_sigma_deg,
        deg_per_mm=p.deg_per_mm,
        wanted_mm=p.wanted_mm,
        wanted_sigma_mm=p.wanted_sigma_mm,
        moves=tuple(ShimMoveReport(thickness_mm=m.thickness_mm, count=m.count) for m in p.moves),
        moved_mm=p.moved_mm,
        left_deg=p.left_deg,
        left_sigma_deg=p.left_sigma_deg,
        short_of=p.short_of,
        field_deg=p.field_deg,
        hit_chance=ShimHitsReport(
            trusting_stop_before=c.trusting_before,
            trusting_stop_after=c.trusting_after,
            solving_stop_before=c.solving_before,
            solving_stop_after=c.solving_after,
            solving_with_third_star=c.third_star,
        ),
        verdict=p.verdict,
        sentence=advice.sentence,
        steps=advice.steps,
    )
