"""A choice of stars as the records that programs are given."""

from __future__ import annotations

from plumbstar.choose import say
from plumbstar.choose.candidates import Candidate
from plumbstar.choose.lookalikes import LookAlike
from plumbstar.choose.ranking import NextStar, StarSet
from plumbstar.contract.answers.pointing import (
    CandidateReport,
    LookAlikeReport,
    NextStarReport,
    StarSetReport,
)
from plumbstar.sky.lists.catalogue import Star
from plumbstar.text import words


def set_answer(s: StarSet) -> StarSetReport:
    return StarSetReport(
        stars=tuple(c.star.label for c in s.stars),
        mean_hit_chance=s.mean_hit_chance,
        after_costs=s.mean_hit_chance - s.cost,
        hit_chance_trusting_stop=s.trusting_stop,
        push_deg=s.push_deg,
        cautions=say.cautions(s.stars),
    )


def candidate_answer(c: Candidate) -> CandidateReport:
    return CandidateReport(
        star=c.star.label,
        key=c.star.key,
        v_mag=c.star.v_mag,
        colour=words.colour(c.star.bv),
        az_deg=c.az_deg,
        alt_deg=c.alt_deg,
        where=words.where(c.az_deg, c.alt_deg),
        visible_from_utc=c.visible_from.iso() if c.visible_from else None,
        lookalikes=tuple(_look_alike(a, c.star) for a in c.lookalikes),
    )


def _look_alike(a: LookAlike, wanted: Star) -> LookAlikeReport:
    return LookAlikeReport(
        name=a.star.label,
        distance_deg=a.distance_deg,
        right_deg=a.right_deg,
        up_deg=a.up_deg,
        v_mag=a.star.v_mag,
        colour=words.colour(a.star.bv),
        sentence=say.look_alike(a, wanted),
    )


def next_answer(step: NextStar, notes: list[str]) -> NextStarReport:
    return NextStarReport(
        star=step.candidate.star.label,
        mean_hit_chance_now=step.now,
        mean_hit_chance_after=step.after,
        sentence=say.next_sentence(step),
        notes=tuple(notes),
    )
