"""Why an evening beside a closed controller is as it is: what went wrong, what was measured."""

from __future__ import annotations

import math

from plumbstar.contract.mending import CauseRecord, MeasuredSaid, WhyAnswer
from plumbstar.controller.say import stop_words
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views import beside
from plumbstar.web.views.numbers import rounded

#: A cause less likely than this is not named.
NAMED = 0.005
_TITLES = {
    "none": "All is well",
    "star": "A wrong or badly centred star",
    "number": "The number misread",
    "sign": "The number with the wrong sign",
    "find": "What was centred was another thing, or misread",
    "slip": "Something slipped",
    "hand": "A rougher hand than the kit says",
    "mount": "A mount further off than the kit expects",
}


def why_beside(e: Evening) -> WhyAnswer:
    """For the Mend page. Before the number there is nothing to tell it by."""
    seen = e.beside.outlook
    if seen is None or e.display.number is None:
        return WhyAnswer(
            sentence="First the stop, two stars and the number: from these it can be told.",
            causes=(), measured=(), notes=(),
        )  # fmt: skip
    stop, sigma = (math.degrees(x) for x in seen.stop())
    causes = []
    for m, p in seen.mistakes():
        if p < NAMED:
            continue
        well = m.kind == "none"
        causes.append(
            CauseRecord(
                kind=m.kind,
                title=_TITLES[m.kind],
                probability=rounded(p, 4),
                at_all=rounded(p, 4),
                probability_words=words.chance(p),
                evidence=(
                    "What was shown fits a mount of this kind."
                    if well
                    else beside.mistake_evidence(e, m)
                ),
                check=(
                    "Look again whether each star is the one: its colour, its neighbours."
                    if m.kind == "star"
                    else "Find one more object, centre it, and type what is left."
                    if e.display.finds or e.display.look_back
                    else "Look back to the second star: it costs five seconds."
                ),
                mend="Nothing is to be mended."
                if well
                else beside.mistake_mend(m, len(e.display.centred), p > 0.5),
            )
        )
    measured = (
        (MeasuredSaid(sentence=stop_words(stop, sigma), mend=_stop_mend(stop)),)
        if abs(stop) > 2.0 * sigma
        else ()
    )
    notes = [stop_words(stop, sigma)] if not measured else []
    if e.display.look_back is not None:
        notes.append(beside.sharing_words(seen))
    likeliest = causes[0]
    sentence = (
        f"Nothing went wrong: {likeliest.probability_words}."
        if likeliest.kind == "none"
        else f"{likeliest.title}: {likeliest.probability_words}. {likeliest.evidence}"
    )
    return WhyAnswer(sentence=sentence, causes=tuple(causes), measured=measured, notes=tuple(notes))


def _stop_mend(stop_deg: float) -> str:
    way = "lower" if stop_deg > 0 else "higher"
    return (
        f"Change the thickness under the stop so that the tube stands {abs(stop_deg):.1f}° "
        f"{way}. One night may mislead: see Many nights. The pushes on this phone allow for it."
    )
