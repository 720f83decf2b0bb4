"""Why tonight's fix is what it is: every cause with its probability.

The question is frozen, and is answered on the thinking thread: it may take a second.
"""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.contract.mending import CauseDeed, CauseRecord, MeasuredSaid, WhyAnswer
from plumbstar.contract.parts import WasAnotherRecord
from plumbstar.diagnose.explain import Explanation, explain
from plumbstar.diagnose.explain.causes.base_moved import BaseMoved
from plumbstar.diagnose.explain.causes.both import Both
from plumbstar.diagnose.explain.causes.careless_sighting import NumberWrong
from plumbstar.diagnose.explain.causes.several import Several
from plumbstar.diagnose.explain.causes.slip import SlipForm
from plumbstar.diagnose.explain.causes.ticks import Ticks
from plumbstar.diagnose.explain.causes.wrong_star import AnotherStar, TwoOtherStars
from plumbstar.diagnose.explain.forms import Form
from plumbstar.kit import Kit
from plumbstar.logbook.slips import cuts, still
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import words
from plumbstar.text.advice import Advice
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.next_step import STARS_AFTER_BASE
from plumbstar.web.views.fixed import entering
from plumbstar.web.views.numbers import rounded


@dataclass(frozen=True)
class Case:
    """What an explanation depends on. ``still``: before which sightings nothing moved, as the
    observer says; ``moved``: before which something did; ``moved_since``: or may have after the
    last of them, and no star has shown how it stands now."""

    sightings: tuple[Sighting, ...]
    priors: Priors
    noise: Noise
    kit: Kit
    site: Site | None
    now: Instant
    sun_forbids: bool
    read_by_eye: bool
    ids: tuple[int, ...] = ()
    still: tuple[int, ...] = ()
    moved: tuple[int, ...] = ()
    moved_since: bool = False

    @property
    def no_star(self) -> str:
        """Why no star is to be pointed at for this, empty where one may be."""
        if self.sun_forbids:
            return "By day no star is named: wait until the Sun is down."
        if self.moved_since:
            return "First sight the star that is asked for: how it stands now is not known yet."
        return ""

    @property
    def key(self) -> tuple[object, ...]:
        """The same for the same question: the answer is kept for it."""
        how = (self.no_star, self.read_by_eye, self.still, self.moved)
        return (self.sightings, self.ids, self.priors.key, self.noise, self.kit, self.site, *how)


def case_of(e: Evening) -> Case:
    """Tonight's. While the Sun is up no star is named to be pointed at."""
    now = e.now()
    almanac, confirmed = e.ground.almanac, e.guidance.aim.filter_confirmed
    by_day = almanac is not None and almanac.now(now).up and not confirmed
    by_day = by_day or e.guidance.unsure() is not None
    by_eye = not e.kit.connection.heard or any(s.origin == "typed" for s in e.sightings.used)
    used = tuple(s.sighting for s in e.sightings.used)
    believed = e.instrument.priors, e.instrument.noise  # those of the fix
    ids = e.sightings.used_ids
    known = tuple(still(e.slips.all, ids))
    moved = tuple(k for k, _ in cuts(e.slips.all, ids) if 0 < k < len(ids))
    base = e.slips.base_after is not None and len(e.slips.sighted_since_base) < STARS_AFTER_BASE
    since = base or e.slips.open is not None
    return Case(used, *believed, e.kit, e.site, now, by_day, by_eye, ids, known, moved, since)


def why(case: Case) -> WhyAnswer:
    """Every cause with its probability, evidence, check and mend; the answer first."""
    if len(case.sightings) < 2:
        n = len(case.sightings)
        return WhyAnswer(
            sentence=f"{'One star is' if n else 'No star is'} sighted: two or more are needed "
            f"to see whether they agree. Sight {'another' if n else 'a'} star first.",
            causes=(),
            measured=(),
            notes=(),
        )
    found = explain(
        case.sightings,
        case.priors,
        case.noise,
        site=case.site,
        kit=case.kit,
        check_at=case.now,
        read_by_eye=case.read_by_eye,
        still=case.still,
        moved=case.moved,
        at_star=not case.no_star,
    )
    return WhyAnswer(
        sentence=f"{found.verdict} {case.no_star}".strip(),
        causes=tuple(
            CauseRecord(
                kind=c.kind,
                title=c.title,
                probability=rounded(c.probability, 4),
                at_all=rounded(c.at_all, 4),
                probability_words=words.chance(c.at_all),
                evidence=c.evidence,
                check=c.check,
                mend=_with_advice(c.mend, c.advice),
                deeds=_deeds(c.judged.form, case),
            )
            for c in found.causes
            if c.probability > 0.005
        ),
        measured=tuple(
            MeasuredSaid(sentence=m.sentence, mend=_with_advice(m.mend, m.advice))
            for m in found.also_measured
        ),
        notes=tuple(found.notes),
        deeds=_first(found, case),
        star_first=case.moved_since and not case.sun_forbids,
    )


def _with_advice(mend: str, advice: Advice | None) -> str:
    return mend if advice is None else f"{mend} {advice.on_pages()}."


def _deeds(form: Form, case: Case) -> tuple[CauseDeed, ...]:
    """What the mend of that cause advises, as buttons."""
    if not case.ids:
        return ()
    if isinstance(form, Several):
        return (_aside(case, tuple(range(len(case.ids))), "Set all sightings aside"),)
    if isinstance(form, TwoOtherStars):
        return _entered(case, *form.stars)
    if isinstance(form, Both):
        each = (*_deeds(form.first, case), *_deeds(form.second, case))
        return tuple(dict.fromkeys(each))  # both may be mended by one
    if isinstance(form, Ticks) and form.factor == -1:
        return (_turned(form, case.kit),)
    if isinstance(form, AnotherStar):
        return _entered(case, form)
    if isinstance(form, NumberWrong):
        return (_one_aside(case, form.sighting),)
    if isinstance(form, BaseMoved | SlipForm) and form.after + 1 not in case.moved:
        first = case.sightings[form.after + 1].star
        return (_aside(case, tuple(range(form.after + 1)), f"Use only those from {first} on"),)
    return tuple(_one_aside(case, i) for i in form.set_aside)


def _entered(case: Case, *stars: AnotherStar) -> tuple[CauseDeed, ...]:
    """Enter them as what they were, or set them aside."""
    told = sorted(stars, key=lambda s: s.sighting)
    others = tuple(WasAnotherRecord(sighting_id=case.ids[s.sighting], star=s.star) for s in told)
    enter = CauseDeed(do="enter_as", ids=(), others=others, button=entering(others))
    if len(stars) == 1:
        return (enter, _one_aside(case, stars[0].sighting))
    return (enter, _aside(case, tuple(s.sighting for s in stars), "Set both aside"))


def _first(found: Explanation, case: Case) -> tuple[CauseDeed, ...]:
    """What the first sentence advises."""
    two = found.unmoved
    if two is not None and case.ids:
        return (_one_aside(case, two.first), _one_aside(case, two.second))
    return _deeds(found.causes[0].judged.form, case) if found.can_tell else ()


def _turned(form: Ticks, kit: Kit) -> CauseDeed:
    falls = {"azimuth": kit.azimuth.reversed, "altitude": kit.altitude.reversed}
    push = {"azimuth": "Turn the telescope to the right", "altitude": "Lift the tube"}
    asks = [
        f"{push[axis]}: do the {axis} figures {'grow' if falls[axis] else 'fall'}?"
        for axis in form.each
    ]
    return CauseDeed(
        do="turn_circles", ids=(), button="Yes: turn the figures round",
        axes=form.each, asks=" ".join(asks),
    )  # fmt: skip


def _one_aside(case: Case, i: int) -> CauseDeed:
    return _aside(case, (i,), f"Set {case.sightings[i].star} aside")


def _aside(case: Case, which: tuple[int, ...], button: str) -> CauseDeed:
    ids = tuple(case.ids[i] for i in which)
    return CauseDeed(do="set_aside", ids=ids, button=button)
