"""The targets in order, as a person at the telescope wants them: when, where, how to get there."""

from __future__ import annotations

from plumbstar.card.model import CardStop, clean
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.targets import say
from plumbstar.targets.model import Route, Visit
from plumbstar.targets.reasons import reason
from plumbstar.text import words
from plumbstar.turns import half_turn_deg


def stops_of(route: Route, site: Site) -> tuple[CardStop, ...]:
    """One for each visit; the push is from where the object before stands by then."""
    out = []
    before: Target | None = None
    for k, v in enumerate(route.visits):
        p = v.prospect
        out.append(
            CardStop(
                number=k + 1,
                key=p.target.key,
                name=clean(p.target.label),
                what=clean(say.what(p.target)),
                kind=clean(p.target.kind),
                start=v.start,
                minutes=v.minutes,
                eyepiece=clean(say.with_what(p)),
                magnification=p.magnification,
                az_deg=v.az_deg,
                alt_deg=v.alt_deg,
                where=words.where(v.az_deg, v.alt_deg),
                push=push_words(before, v, site),
                difficulty=p.difficulty,
                chance=p.chance,
                reason=clean(reason(p)),
                note=clean(say.note(v.note)),
                sets=p.sets,
            )
        )
        before = p.target
    return tuple(out)


def push_words(before: Target | None, visit: Visit, site: Site) -> str:
    """ "34° right, 12° up" from the object before, the shorter way round; empty for the first."""
    if before is None:
        return ""
    az, alt = place_of(before, visit.start, site)
    turn = round(half_turn_deg(visit.az_deg - az))
    rise = round(visit.alt_deg - alt)
    parts = []
    if turn:
        parts.append(f"{abs(turn)}° {'right' if turn > 0 else 'left'}")
    if rise:
        parts.append(f"{abs(rise)}° {'up' if rise > 0 else 'down'}")
    return ", ".join(parts) or "hardly at all"
