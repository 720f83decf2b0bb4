"""The fix: the sentence first, then the terms, then what is weak; and what past outings taught."""

from __future__ import annotations

import math
from collections.abc import Sequence

from plumbstar.contract.parts import WasAnotherRecord
from plumbstar.contract.picture import (
    CutRecord,
    FixRecord,
    LearntTerm,
    MisclosureRecord,
    PriorsRecord,
    TermRecord,
)
from plumbstar.mount.terms import TERMS
from plumbstar.solve.doubts import WasAnother, Weak
from plumbstar.solve.fix import Fix
from plumbstar.solve.say import fix_notes
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.notices import moved_record
from plumbstar.web.views.numbers import in_its_unit, rounded


def fix_record(e: Evening) -> FixRecord | None:
    """The present fix; None without one."""
    fix = e.fix
    if fix is None:
        return None
    sentence, mean = e.fix_words()
    slip = e.slips.open
    if slip is not None and "base" in slip.axes:
        sentence = "Doubtful until two stars are sighted again: the base was moved or knocked."
    elif slip is not None:
        sentence = "Doubtful until one star is sighted again: something may have moved."
    names = [s.star for s in fix.sightings]
    # The question above the page says what seems to have moved: once is enough.
    since = _slip_notes(e, fix)
    noted = fix_notes(fix, moved_is_asked=moved_record(e) is not None, mount_kept=bool(since))
    others = _others(e, fix)
    return FixRecord(
        sentence=sentence,
        mean_hit_chance=rounded(mean, 3),
        terms=_terms(e, fix),
        notes=(*since, *noted, *(f"{a.on_pages()}." for a in fix.advice)),
        contradictory=fix.contradictory,
        cuts=_cuts(e),
        misclosures=tuple(
            MisclosureRecord(
                stars=(names[m.first], names[m.second]),
                true_deg=rounded(m.true_deg, 3),
                misclosure_deg=rounded(m.misclosure_deg, 3),
            )
            for m in fix.misclosures
        ),
        rms_arcmin=rounded(fix.rms_arcsec / 60.0, 2),
        others=others,
        others_button=entering(others),
    )


def entering(others: Sequence[WasAnotherRecord]) -> str:
    """The button that enters them as what they were."""
    stars = words.joined([o.star for o in others])
    return f"Enter {'it' if len(others) == 1 else 'them'} as {stars}" if others else ""


def _others(e: Evening, fix: Fix) -> tuple[WasAnotherRecord, ...]:
    """Which sightings were of another star than they were called, in the order of sighting."""
    parts = e.solved.parts
    if not parts:
        return ()
    ids = [e.solved.used[i].id for i in parts[-1].indices]
    told = sorted(
        (d for d in fix.doubts if isinstance(d, WasAnother)), key=lambda d: ids[d.sighting]
    )
    return tuple(WasAnotherRecord(sighting_id=ids[d.sighting], star=d.star) for d in told)


def _terms(e: Evening, fix: Fix) -> tuple[TermRecord, ...]:
    before = e.instrument.priors.sigma
    out = []
    for i, name in enumerate(TERMS):
        if fix.prior.sigma[i] == 0 and fix.mean[i] == 0:
            continue
        value_deg, sigma_deg, value_percent, sigma_percent = in_its_unit(
            name, float(fix.mean[i]), float(fix.sigma[i])
        )
        out.append(
            TermRecord(
                name=name,
                label=words.term(name),
                value_deg=value_deg,
                sigma_deg=sigma_deg,
                value_percent=value_percent,
                sigma_percent=sigma_percent,
                from_data=rounded(_share(float(fix.sigma[i]), float(before[i])), 2),
                meaning=words.TERM_WORDS[name].positive,
            )
        )
    return tuple(out)


def _share(sigma: float, before: float) -> float:
    """How much of a term the sightings settled, 0 to 1.

    ``before``: the evening's own prior. After a slip the fix's prior holds sightings already.
    """
    if before == 0:
        return 0.0
    if math.isinf(before):
        return 1.0
    return min(1.0, max(0.0, 1.0 - (sigma / before) ** 2))


def _cuts(e: Evening) -> tuple[CutRecord, ...]:
    """Where the observer agreed that something had moved; it can be taken back."""
    out = []
    for slip in e.desk.slips:
        before = [s.sighting.star for s in e.sightings.used if s.id <= slip.after]
        since = [s.sighting.star for s in e.sightings.used if s.id > slip.after]
        if slip.told and not slip.nothing_moved and before and since:
            told = f"You said that something moved between {words.both(before[-1], since[0])}."
            if slip.seen:  # asked about the star, not about a move
                told = (
                    f"You said that it was {since[0]}, centred: then something moved after "
                    f"{before[-1]}."
                )
            out.append(CutRecord(after=slip.after, sentence=told))
    return tuple(out)


def _slip_notes(e: Evening, fix: Fix) -> list[str]:
    if len(e.solved.parts) < 2 or e.slips.open is not None:
        return []
    if Weak.ONLY_ONE in fix.doubts:
        return [
            "Solved anew from the one star since something moved; the rest of the mount was kept. "
            "A second star would check it."
        ]
    return ["Solved anew from the sightings since something moved; the rest of the mount was kept."]


def priors_record(e: Evening) -> PriorsRecord | None:
    """What past outings with this telescope say; None while they say nothing."""
    learnt = e.instrument.learnt
    told = [t for t in learnt.terms if t.outings] if learnt is not None else []
    if not told:
        return None
    rows = []
    for t in told:
        value_deg, sigma_deg, value_percent, sigma_percent = in_its_unit(t.name, t.mean, t.sigma)
        rows.append(
            LearntTerm(
                name=t.name,
                label=words.term(t.name),
                value_deg=value_deg,
                sigma_deg=sigma_deg,
                value_percent=value_percent,
                sigma_percent=sigma_percent,
                outings=len(t.outings),
            )
        )
    count = len({o for t in told for o in t.outings})
    about = " see Mend for what they say."
    for t in told:
        if t.name == "altitude_zero":
            stop_deg = math.degrees(t.mean)
            about = (
                f" the stop should read {abs(stop_deg):.1f}° {'low' if stop_deg > 0 else 'high'}, "
                f"give or take {math.degrees(t.sigma):.1f}°."
            )
    return PriorsRecord(
        sentence=f"From {'one outing' if count == 1 else f'{count} outings'} with this "
        f"telescope:{about}",
        outings=count,
        terms=tuple(rows),
    )
