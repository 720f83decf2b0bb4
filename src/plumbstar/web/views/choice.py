"""The choice of stars: the ranking that was asked for, and the best next star."""

from __future__ import annotations

from plumbstar.contract.parts import ChoiceRecord, NextStarRecord, StarSetRecord
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.ranking import NextToSight, RankedStars, Ranking


def choice_record(r: Ranking) -> ChoiceRecord:
    """The ranking as it stands."""
    return ChoiceRecord(
        status=r.status,
        asked_utc=r.asked_utc,
        pairs=tuple(_set(s) for s in r.pairs),
        triples=tuple(_set(s) for s in r.triples),
        recipe=_set(r.recipe) if r.recipe is not None else None,
        for_objects=r.for_objects,
        visible_from_utc=r.visible,
        sentence=r.sentence,
    )


def _set(s: RankedStars) -> StarSetRecord:
    return StarSetRecord(
        stars=s.stars,
        mean_hit_chance=s.mean_hit_chance,
        mean_hit_chance_words=words.chance(s.mean_hit_chance),
        hit_chance_trusting_stop=s.hit_chance_trusting_stop,
        hit_chance_trusting_stop_words=words.chance(s.hit_chance_trusting_stop),
        cautions=s.cautions,
        push_deg=s.push_deg,
    )


def next_star_of(e: Evening) -> NextToSight | None:
    """What would help the present fix most. Its sentence says where the star stands: nothing while
    the Sun's place is in doubt."""
    return e.plan.next_star if e.guidance.unsure() is None else None


def next_star_record(n: NextToSight) -> NextStarRecord:
    """What would help the present fix most."""
    return NextStarRecord(
        star=n.star,
        mean_hit_chance_now=n.mean_hit_chance_now,
        mean_hit_chance_after=n.mean_hit_chance_after,
        sentence=n.sentence,
        worth_it=n.worth_it,
    )
