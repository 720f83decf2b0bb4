"""The mount over its outings: the sentence, what to mend first, and term by term."""

from __future__ import annotations

from plumbstar.contract.mending import (
    ChangeSaid,
    JobRecord,
    MountAnswer,
    NightPoint,
    ShimsSaid,
    TermHistoryRecord,
)
from plumbstar.diagnose import history, shims
from plumbstar.diagnose.hand import hand_sentence
from plumbstar.diagnose.history import drawing, from_logbook
from plumbstar.diagnose.score import score_of, score_sentence
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.text import words
from plumbstar.text.advice import Do
from plumbstar.web.views.numbers import rounded
from plumbstar.web.views.stop_work import stop_work

#: A smaller gain in hit chance is not spoken of.
WORTH_SAYING = 0.005
#: Less than this is no gain to whoever sights two stars.
NO_GAIN = 0.01


def mount_answer(book: Logbook, kit: Kit, field_deg: float) -> MountAnswer:
    """The mount over its outings: the sentence, what to mend first, and term by term."""
    try:
        summary, told = from_logbook.summary_of(book, kit, field_deg)
    except UserError as e:
        came = words.upper_first(e.came)
        return MountAnswer(
            sentence=f"{came}. {e.remedy_on_pages}.",
            outings=0,
            stop_work=stop_work(book, kit, None),
        )
    advice = shims.advise_from(summary, kit, book.mends(kit.name), told.noise(kit))
    lead, *lines = history.sentences(summary, on_pages=True)
    mended = summary.mended
    turned = mended is not None and (mended.wrong_way or mended.direction_found)
    return MountAnswer(
        sentence=lead,
        lines=tuple(lines),
        adding=mended.adding if mended is not None and turned else "",
        outings=summary.outings,
        hand=hand_sentence(told.hand),
        pushes=score_sentence(score_of(book, kit)),
        jobs=tuple(JobRecord(what=_job_words(j), gain_words=gain_words(j)) for j in summary.jobs),
        # The first stands in the sentences above it already: each thing is said once.
        changes=tuple(ChangeSaid(sentence=history.change_sentence(c)) for c in summary.changes[1:]),
        shims=_shims(advice) if advice is not None else None,
        left_out=_left_out(told.left_out),
        terms=tuple(_term(t) for t in summary.terms),
        picture=drawing.svg(from_logbook.strip_from(book, kit, summary, told), width=drawing.PHONE),
        stop_work=stop_work(book, kit, advice, mended),
    )


def _left_out(outings: tuple[int, ...]) -> tuple[str, ...]:
    """One sentence, however many."""
    if not outings:
        return ()
    which = words.joined([str(n) for n in outings])
    if len(outings) == 1:
        return (f"Outing {which} is left out: its sightings contradict one another.",)
    return (f"Outings {which} are left out: their sightings contradict one another.",)


def _shims(advice: shims.StopAdvice) -> ShimsSaid:
    if advice.lacking is None:
        return ShimsSaid(sentence=advice.sentence, steps=advice.steps)
    return ShimsSaid(sentence=shims.lacking(advice.lacking.on_pages()), steps=())


def _term(t: history.TermOverOutings) -> TermHistoryRecord:
    percent = t.unit == "percent"
    value, sigma = rounded(t.now, 3), rounded(t.now_sigma, 3)
    return TermHistoryRecord(
        label=words.term(t.name),
        value_deg=None if percent else value,
        sigma_deg=None if percent else sigma,
        value_percent=value if percent else None,
        sigma_percent=sigma if percent else None,
        trust=t.trust,
        points=tuple(
            NightPoint(outing=p.outing_id, value=rounded(p.value, 3), sigma=rounded(p.sigma, 3))
            for p in t.points
            if p.tells
        ),
    )


def _job_words(j: history.Job) -> str:
    what, advice = history.job_words(j), history.job_advice(j)
    if advice is None:
        return what
    here = "below, under Shims" if advice.do is Do.READ_OF_SHIMS else advice.on_pages()
    return f"{what}: {here}"


def gain_words(job: history.Job) -> str:
    """For whom the job's gain is largest, and how large; and whether two stars need it at all."""
    after_two = (job.gain_two_stars, "After two stars,")
    best = max(
        (job.gain_one_star, "After one star,"),
        after_two,
        (job.gain_trusting, "With the stop taken as true and the mount as perfect,"),
        key=lambda g: g[0],
    )
    gain, whom = best
    said = []
    if gain > WORTH_SAYING:
        more = words.many(round(100 * gain), "more target")
        said.append(f"{whom} to have it right would bring {more} in 100 into the field.")
    if best is not after_two and job.gain_two_stars < NO_GAIN:
        said.append("After two stars it changes nothing: the fix allows for it.")
    return " ".join(said)
