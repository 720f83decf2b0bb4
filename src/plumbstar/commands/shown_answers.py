"""What ``plumbstar why --shown`` answers, as records."""

from __future__ import annotations

import math
from collections.abc import Sequence

from plumbstar import controller
from plumbstar.commands.shims_answer import lacking_answer, shims_answer
from plumbstar.contract.answers.controller import (
    NightReport,
    NumberPartReport,
    NumberReport,
    NumbersReport,
    PairReport,
    RuleReport,
    SignReport,
    WrongStarReport,
)
from plumbstar.diagnose.shims import StopAdvice


def pair_answer(p: controller.Pair) -> PairReport:
    return PairReport(
        star_a=p.star_a,
        star_b=p.star_b,
        a_az_deg=p.a_deg[0],
        a_alt_deg=p.a_deg[1],
        b_az_deg=p.b_deg[0],
        b_alt_deg=p.b_deg[1],
        true_deg=math.degrees(p.together),
        drift_deg=math.degrees(p.drift),
        air_deg=math.degrees(p.air),
        seconds=p.seconds,
        upright_seconds=p.upright_seconds,
    )


def rule_answers(rules: Sequence[controller.Rule]) -> tuple[RuleReport, ...]:
    return tuple(
        RuleReport(
            source="common practice, no source",
            agrees=r.agrees,
            **controller.rule_words(r)._asdict(),
        )
        for r in rules
    )


def number_answer(
    j: controller.Judgement, pair: controller.Pair, notes: Sequence[str], advice: StopAdvice | None
) -> NumberReport:
    """What one number says."""
    return NumberReport(
        shown_deg=j.shown_deg,
        misclosure_deg=j.misclosure_deg,
        sensitivity=j.sensitivity,
        parts=tuple(
            NumberPartReport(
                what=controller.part_name(p), deg=p.deg, sigma_deg=p.sigma_deg, known=p.known
            )
            for p in j.parts
        ),
        rest_deg=j.rest_deg,
        rest_sigma_deg=j.rest_sigma_deg,
        stop_alone_deg=j.stop_alone_deg,
        stop_deg=j.stop_deg,
        stop_sigma_deg=j.stop_sigma_deg,
        stop_prior_sigma_deg=j.stop_prior_sigma_deg,
        right_stars_probability=j.right_stars,
        fumbled_probability=j.fumbled,
        wrong_stars=tuple(
            WrongStarReport(
                meant=w.meant,
                star=w.star,
                probability=w.probability,
                would_show_deg=w.would_show_deg,
            )
            for w in j.wrong_stars
        ),
        clockless_probability=j.clockless,
        decides=j.decides,
        sentence=controller.sentence(j),
        next_step=controller.next_step(j),
        rules=rule_answers(j.rules),
        pair=pair_answer(pair),
        notes=tuple(notes),
        shims=shims_answer(advice),
        shims_lacking=lacking_answer(advice),
    )


def numbers_answer(
    c: controller.Combined, notes: Sequence[str], advice: StopAdvice | None
) -> NumbersReport:
    """What the numbers of several nights say together."""
    return NumbersReport(
        stop_deg=c.stop_deg,
        stop_sigma_deg=c.stop_sigma_deg,
        stop_prior_sigma_deg=c.stop_prior_sigma_deg,
        clockless_probability=c.clockless,
        centring_deg=c.centring_deg,
        centring_sigma_deg=c.centring_sigma_deg,
        evenings=tuple(
            NightReport(
                label=e.label,
                shown_deg=e.shown_deg,
                sensitivity=e.sensitivity,
                drift_deg=e.drift_deg,
                left_deg=e.left_deg,
                bad_probability=e.bad,
            )
            for e in c.evenings
        ),
        decides=c.decides,
        sentence=controller.run_sentence(c),
        next_step=controller.run_next_step(c),
        rules=rule_answers(c.rules),
        notes=tuple(notes),
        shims=shims_answer(advice),
        shims_lacking=lacking_answer(advice),
    )


def sign_answer(learnt: controller.SignLearnt) -> SignReport:
    """What a shim's effect on the number says of its sign."""
    return SignReport(
        measured_minus_true_probability=learnt.measured_minus_true,
        sign=learnt.sign,
        adding_if_measured_minus_true=learnt.adding,
        per_mm_deg=learnt.per_mm_deg,
        per_mm_sigma_deg=learnt.per_mm_sigma_deg,
        to_zero_mm=learnt.to_zero_mm,
        size_ratio=learnt.size_ratio,
        sentence=controller.sign_sentence(learnt),
    )
