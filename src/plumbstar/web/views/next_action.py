"""The next action in words: the sentence and the button that every page shows."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.contract.next_action import NextAction, NextDo, NextPage
from plumbstar.contract.picture import PlannedStar
from plumbstar.guide import say
from plumbstar.guide.course import Course
from plumbstar.logbook.places import log_name
from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.next_step import Because, NextStep, PlannedFact, Situation, Step
from plumbstar.web.views.choice import next_star_of
from plumbstar.web.views.nameless import next_words
from plumbstar.web.views.notices import moved_record
from plumbstar.web.views.to_check import ToCheck, WhyCheck, to_check

_DO: dict[Step, tuple[NextDo, NextPage]] = {
    Step.SITE: ("site", "prepare"),
    Step.CHOOSE: ("choose", "prepare"),
    Step.START: ("start", "prepare"),
    Step.ANSWER: ("answer", "sight"),
    Step.MEND: ("mend", "mend"),
    Step.SIGHT: ("sight", "sight"),
    Step.FIND: ("find", "find"),
}


def situation_of(e: Evening, plan: Sequence[PlannedStar], now: Instant) -> Situation:
    """How the evening stands; ``plan`` as the pages show it."""
    fix, better = e.fix, next_star_of(e)
    return Situation(
        has_site=e.site is not None,
        outing=e.outing is not None and e.outing.ended is None,
        planned=tuple(
            PlannedFact(p.star, p.done, not p.near_sun and (p.alt_deg is None or p.alt_deg > 0.0))
            for p in plan
        ),
        asked=_asked(e),
        controller=e.beside.in_use,
        controller_told=e.beside.in_use and all(p.done for p in plan),
        sighted=len(e.sightings.used),
        others=_others(e, {p.star for p in plan}, now),
        slip=e.slips.open is not None,
        base=e.slips.base_after is not None,
        since_base=e.slips.sighted_since_base,
        contradictory=fix is not None and fix.contradictory,
        to_check=to_check(e) is not None,
        chance=e.fix_words()[1] if fix is not None else None,
        better=better.star if better is not None else "",
        better_known=e.plan.next_star_known,
        worth_it=better is not None and better.worth_it,
        by_day=e.guidance.allowed_stops() is not None,
        nameless=len(e.nameless.waiting),
    )


def _asked(e: Evening) -> Because | None:
    if e.doubts.open:
        return Because.PRESS_DOUBTED
    if e.site is not None and e.sun_question.waits():
        answered = e.sun_question.answer is not None
        return Because.SUN_PERHAPS_UP if answered else Because.SUN_ASKED
    return Because.MOVE_ASKED if moved_record(e) is not None else None


def _others(e: Evening, planned: set[str], now: Instant) -> tuple[str, ...]:
    site = e.site
    if site is None or (e.slips.base_after is None and e.slips.open is None):
        return ()
    known = catalogue.load()
    names = dict.fromkeys(s.sighting.star for s in e.sightings.used)
    stars = [hits[0] for n in names if (hits := known.search(n, 1)) and _is(hits[0], n)]
    return tuple(
        s.label
        for s in stars
        if s.label not in planned
        and place_of(s, now, site)[1] > 0.0
        and e.guidance.forbidden(Course(s, site)) is None
    )


def _is(star: Star, name: str) -> bool:
    return name.casefold() in (star.label.casefold(), star.key.casefold())


def next_action(e: Evening, step: NextStep) -> NextAction:
    """That step in words."""
    do, page = _DO[step.step]
    sentence, button = _said(e, step)
    if step.step is Step.SIGHT and _by_day(e):
        sentence += " Wait until the Sun is down."
    settles = step.settles or (e.fix is None and step.step is Step.SIGHT)
    return NextAction(
        do=do, page=page, star=step.star, settles=settles, sentence=sentence, button=button
    )


def _by_day(e: Evening) -> bool:
    """Whether the Sun is up, and no filter is confirmed: then nothing is swept for."""
    almanac = e.ground.almanac
    return almanac is not None and almanac.now(e.now()).up and not e.guidance.aim.filter_confirmed


def _said(e: Evening, n: NextStep) -> tuple[str, str]:
    match n.step:
        case Step.SITE:
            return "First say where you will stand.", "Say where you stand"
        case Step.CHOOSE if n.because is Because.NONE_UP:
            return "None of the chosen stars can be sighted now.", "Choose other stars"
        case Step.CHOOSE:
            return "No stars are chosen.", "Choose the stars"
        case Step.START:
            return "The stars are chosen. The outing has not begun.", "Start the outing"
        case Step.ANSWER:
            return _ASKED[n.because], "To the question"
        case Step.MEND:
            return _MEND[n.because], "What went wrong?"
        case Step.FIND:
            used = e.sightings.used
            if e.target is not None and used and used[-1].sighting.star == log_name(e.target):
                return f"{log_name(e.target)} is found.", "Find another object"
            if e.target is not None:
                return "The stars are sighted.", f"Go on to {log_name(e.target)}"
            return "The stars are sighted.", "Find an object"
        case Step.SIGHT:
            return _sight(e, n)


_ASKED = {
    Because.PRESS_DOUBTED: "First answer the question above: was it that, and centred?",
    Because.SUN_ASKED: "First answer the question above, about the Sun.",
    Because.SUN_PERHAPS_UP: "The Sun may be up. Once it is below the horizon, say so above.",
    Because.MOVE_ASKED: "First answer the question above: did something move?",
}
_MEND = {
    Because.CONTRADICTORY: "The sightings do not fit together: see which one to set aside.",
    Because.UNSOLVED: "The sightings give no fix. See which one to set aside.",
}


def _sight(e: Evening, n: NextStep) -> tuple[str, str]:
    star = n.star or "another star"
    if n.because is Because.CONTROLLER_UNTOLD:
        return "First the stop, then the two stars.", "To the stop and the stars"
    if n.because is Because.NAMELESS:
        return next_words(e), "Sight one more bright star"
    if n.because is Because.WORTH_ONE_MORE:
        better = next_star_of(e)
        said = better.sentence if better is not None else _LOOKING
        return said, f"Sight {n.star or 'one more star'}"
    if n.because is Because.TO_CHECK:
        return f"{_why_checked(e)} Sight {star}: that tells.", f"Sight {star}"
    said = {
        Because.BASE_MOVED: f"The base was moved or knocked. Sight two stars again, {star} first.",
        Because.BASE_MOVED_ONE_SIGHTED: "Since the base was moved one star is sighted. Sight "
        f"{star} as well: it settles how the base leans.",
        Because.MAY_HAVE_SLIPPED: f"Something may have slipped. Sight {star}: that settles it.",
        Because.CONTRADICTORY: f"Sight {star}: one more star helps to tell which sighting is "
        "wrong.",
        Because.UNSOLVED: f"The sightings give no fix yet. Sight {star}.",
        Because.PLANNED: f"Next star: {star}.",
    }[n.because]
    return said, f"Sight {star}"


def _why_checked(e: Evening) -> str:
    match to_check(e):
        case ToCheck(WhyCheck.LAST_CONTRADICTS, (star,)):
            return f"{star} does not go with what was centred before it."
        case ToCheck(WhyCheck.ONE_SUSPECTED, (star,)):
            return f"{star} may not go with the other stars."
        case ToCheck(WhyCheck.NAMES, stars):
            return say.other_names(stars)
        case ToCheck(WhyCheck.ONE_IS_WRONG):
            return "One sighting looks wrong, but not clearly which."
    return say.FAR_OFF


_LOOKING = "One more star would make the fix better. Which one is being worked out."
