"""What ``plumbstar mount`` and ``plumbstar log priors`` answer, as records."""

from __future__ import annotations

import math

import msgspec

from plumbstar.commands.shims_answer import lacking_answer, shims_answer
from plumbstar.contract.answers.base import in_unit
from plumbstar.contract.answers.mending import (
    CentringLearntReport,
    JobReport,
    LearntTermReport,
    MountReport,
    PushesKeptReport,
    SkyHitsReport,
    StopMendedReport,
    TermChangeReport,
    TermHistoryReport,
    TermPointReport,
)
from plumbstar.diagnose import history
from plumbstar.diagnose.hand import LearntHand, hand_sentence
from plumbstar.diagnose.history import Job, StopMended, Summary, TermChange, TermOverOutings
from plumbstar.diagnose.learn import TermLearnt
from plumbstar.diagnose.score import Score, score_sentence
from plumbstar.diagnose.shims import StopAdvice
from plumbstar.diagnose.teach import OutingsTold
from plumbstar.mount.terms import shown_in


def mount_answer(
    s: Summary,
    kit: str,
    eyepiece: str,
    told: OutingsTold,
    advice: StopAdvice | None,
    score: Score | None,
) -> MountReport:
    """Everything that the outings say about the mount."""
    return MountReport(
        kit=kit,
        eyepiece=eyepiece,
        left_out=told.left_out,
        centring=centring_answer(told.hand),
        pushes=pushes_answer(score),
        outings=s.outings,
        sentence=history.sentence(s),
        steady_probability=s.steady,
        field_deg=s.field_deg,
        hit_chance=SkyHitsReport(
            one_star=s.chance_one_star,
            two_stars=s.chance_two_stars,
            trusting_stop=s.chance_trusting,
        ),
        terms=tuple(_term(t) for t in s.terms),
        changes=tuple(_change(c) for c in s.changes),
        jobs=tuple(_job(j) for j in s.jobs),
        shims=shims_answer(advice),
        shims_lacking=lacking_answer(advice),
        stop_mended=_stop_mended(s.mended),
    )


def _stop_mended(m: StopMended | None) -> StopMendedReport | msgspec.UnsetType:
    if m is None:
        return msgspec.UNSET
    return StopMendedReport(
        utc=m.utc.iso(),
        added_mm=m.added_mm,
        told_deg=m.told_deg,
        other_way_probability=m.turned,
        outings=m.outings,
        adding=m.adding,
    )


def _term(t: TermOverOutings) -> TermHistoryReport:
    points = tuple(
        TermPointReport(
            outing=p.outing_id,
            utc=p.utc.iso() if p.utc is not None else None,
            **in_unit(
                t.unit,
                value=p.value if p.tells else None,
                sigma=p.sigma if p.tells else None,
            ),
        )
        for p in t.points
    )
    values = in_unit(
        t.unit,
        value=t.now,
        sigma=t.now_sigma,
        next_sigma=t.next_sigma,
        kit_value=t.kit_value,
        kit_sigma=t.kit_sigma,
    )
    return TermHistoryReport(
        term=t.name,
        steady_probability=t.steady,
        jumped_probability=t.jumped,
        drifts_probability=t.drifts,
        trust=t.trust,
        points=points,
        **values,
    )


def _change(c: TermChange) -> TermChangeReport:
    return TermChangeReport(
        kind=c.kind,
        term=c.name,
        probability=c.probability,
        outing=c.outing_id,
        before=c.before_id,
        utc=c.utc.iso() if c.utc is not None else None,
        outing_probability=c.outing_probability,
        sentence=history.change_sentence(c),
        **in_unit(c.unit, size=c.size, size_sigma=c.size_sigma),
    )


def _job(j: Job) -> JobReport:
    advice = history.job_advice(j)
    return JobReport(
        term=j.name,
        what=history.job_words(j),
        advice=str(advice) if advice is not None else "",
        gain=j.gain,
        gain_one_star=j.gain_one_star,
        gain_two_stars=j.gain_two_stars,
        gain_trusting_stop=j.gain_trusting,
    )


def centring_answer(hand: LearntHand | None) -> CentringLearntReport | None:
    """How closely the observer centres stars, as learnt."""
    if hand is None:
        return None
    low, high = hand.range_arcmin
    return CentringLearntReport(
        centring_arcmin=hand.arcmin,
        low_arcmin=low,
        high_arcmin=high,
        kit_centring_arcmin=math.degrees(hand.stated) * 60.0,
        outings=hand.outings,
        differs=hand.differs,
        sentence=hand_sentence(hand),
    )


def pushes_answer(s: Score | None) -> PushesKeptReport | None:
    """Whether the promises were kept."""
    if s is None:
        return None
    return PushesKeptReport(
        pushes=s.pushes,
        promised=s.promised,
        promised_sigma_pushes=s.sigma,
        landed=s.landed,
        sentence=score_sentence(s),
    )


def learnt_answer(t: TermLearnt) -> LearntTermReport:
    """What past outings teach of one term."""
    factor, unit = shown_in(t.name)
    values = in_unit(
        unit,
        value=t.mean * factor,
        sigma=t.sigma * factor,
        kit_value=t.kit_mean * factor,
        kit_sigma=t.kit_sigma * factor,
        scatter=t.scatter * factor,
    )
    return LearntTermReport(
        term=t.name,
        outings=t.outings,
        odd_outings=t.odd,
        since_utc=t.since.iso() if t.since is not None else None,
        **values,
    )
