"""The question whether the Sun is below the horizon, where the clocks known disagree about it."""

from __future__ import annotations

from plumbstar.contract.picture import SunQuestionRecord
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.sun_words import QUESTION, answered_words, why_asked


def sun_question_record(e: Evening, now: Instant) -> SunQuestionRecord | None:
    """None where guidance does not wait for an answer."""
    asked = e.sun_question
    if e.site is None or not asked.waits():
        return None
    zone, answer = e.site.time_zone, asked.answer
    return SunQuestionRecord(
        question=QUESTION,
        why=why_asked(asked.dissent(), now, zone),
        told=answered_words(answer, zone) if answer is not None else "",
    )
