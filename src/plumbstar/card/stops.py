"""The targets in order, as a person at the telescope wants them: when, where, how to get there."""

from __future__ import annotations

from plumbstar.card.model import CardStop, Dot, Field, clean
from plumbstar.eyeview import finder_view
from plumbstar.kit import Kit
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.targets import say
from plumbstar.targets.model import Route, Visit
from plumbstar.targets.reasons import reason
from plumbstar.text import words
from plumbstar.turns import half_turn_deg

#: So many of a finder's stars are drawn: enough to compare. Judgement.
_DOTS = 40


def stops_of(route: Route, site: Site, kit: Kit) -> tuple[CardStop, ...]:
    """One for each visit, with its finder field if the kit has a finder; the push is from where the
    object before stands by then."""
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
                finder=_finder(p.target, v, k + 1, site, kit) if kit.finder.field_deg else None,
            )
        )
        before = p.target
    return tuple(out)


def _finder(target: Target, v: Visit, number: int, site: Site, kit: Kit) -> Field:
    """The sky about it in the kit's finder, its brightest stars, when it is its turn."""
    seen = finder_view(target, v.start, site, kit=kit)
    stars = seen.stars[:_DOTS]
    half = seen.field_deg / 2.0
    return Field(
        number=number,
        name=clean(target.label),
        designation="",
        instant=v.start,
        where=words.where(v.az_deg, v.alt_deg),
        radius_deg=half,
        dots=tuple(Dot(half * s.x, half * s.y, s.v_mag) for s in stars),
        alike=(),
        up=seen.zenith,
        limit_mag=max((s.v_mag for s in stars), default=seen.limit_mag),
    )


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
