"""``plumbstar tonight NAME...``: can I see it?"""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.contract.answers.seen import OwnEyeReport
from plumbstar.contract.answers.sky import HelpReport, SeenReport, TonightAskedReport
from plumbstar.sky.naming import lookup
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets import say, say_asked, say_minor
from plumbstar.targets.asked import Place, Visibility, verdict_of
from plumbstar.targets.wishes import hours_or_hour, name_of
from plumbstar.text import words


def verdicts(names: Sequence[str], now: Instant, place: Place) -> tuple[Visibility, ...]:
    """One for each name, in their order. Raises :class:`UserError` for a name nobody knows."""
    targets = [lookup.find_target(name) for name in names]
    start, dawn = hours_or_hour(now, place.site)
    return tuple(verdict_of(t, start, dawn, place) for t in targets)


def lines_of(asked: Sequence[Visibility], zone: str, now: Instant) -> list[str]:
    """What the terminal says: for each the answer, then with what, why, and when else."""
    out: list[str] = []
    for v in asked:
        if out:
            out.append("")
        out.append(f"{v.target.label}: {say_asked.answer(v)}.")
        out.append(f"  {words.upper_first(say.what(v.target))}.")
        told = [
            *(say_minor.about(v.target, now) if v.tonight is None else ()),
            say_asked.seen_as(v),
            say_asked.how(v.tonight, zone) if v.tonight is not None else "",
            say_asked.why_not(v),
            say_asked.later(v, zone),
        ]
        out += [f"  {line}" for line in told if line]
    return out


def answer_of(
    asked: Sequence[Visibility], now: Instant, site: Site, eye: OwnEyeReport | None = None
) -> TonightAskedReport:
    """The record that programs are given."""
    start, end = hours_or_hour(now, site)
    return TonightAskedReport(
        own_eye=eye, start_utc=start.iso(), end_utc=end.iso(), rows=tuple(row_of(v) for v in asked)
    )


def row_of(v: Visibility) -> SeenReport:
    """One object's row."""
    p = v.tonight
    return SeenReport(
        name=name_of(v.target),
        label=v.target.label,
        what=say.what(v.target),
        chance_seen=round(v.chance, 4),
        word=p.difficulty if p else "not tonight",
        reason=say_asked.seen_as(v) or say_asked.why_not(v),
        why_not=say_asked.why_not(v),
        eyepiece=p.eyepiece if p else "",
        second_eyepiece=p.second if p else "",
        filter=p.filter if p else "",
        magnification=round(p.magnification, 1) if p else None,
        best_utc=p.best.iso() if p else None,
        alt_deg=round(p.alt_deg, 2) if p else None,
        next_good_utc=v.later.best.iso() if v.later else None,
        next_good_chance=round(v.later.chance, 4) if v.later else None,
        helps=tuple(
            HelpReport(what=say_asked.help_words(h), chance_seen=round(c, 4)) for h, c in v.helps
        ),
    )
