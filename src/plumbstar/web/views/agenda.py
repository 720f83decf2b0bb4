"""Tonight's order for the pages: what to look at next, kept steady from one asking to the next."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import cast, get_args

import msgspec

from plumbstar.contract.asked import AgendaAnswer, LongerAnswer, VisitRecord, WorthRecord
from plumbstar.diagnose import own_eye
from plumbstar.errors import UserError
from plumbstar.guide.sun import Ban
from plumbstar.logbook.places import log_name
from plumbstar.logbook.seen import seen_names
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.local_time import local
from plumbstar.sky.naming import own_source
from plumbstar.sky.naming.minor_bodies import all_bodies
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.targets import say
from plumbstar.targets.longer import longer
from plumbstar.targets.model import Difficulty, Prospect, Route, Visit, conditions_of
from plumbstar.targets.order import QUICK, THOROUGH, leading, plan, within
from plumbstar.targets.prospects import prospects
from plumbstar.targets.reasons import reason
from plumbstar.targets.taste import taste_of
from plumbstar.targets.tonight import Survey, survey
from plumbstar.targets.wishes import Wishes, group_named, hours_of, known, name_of
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.numbers import number, rounded
from plumbstar.web.views.setup import Setup
from plumbstar.web.views.supposed import DarkNight, Supposition, supposition_of

#: So many others are named; the rest are counted.
MOST_OTHERS = 30
#: So many are named for a moment: the page shows no more.
MOST_WELL_PLACED = 20
#: A visit that begins within this is "now".
SOON_MINUTES = 8.0
#: Later than this against the order is worth a word.
LATE_MINUTES = 15.0


@dataclass(frozen=True)
class AgendaInputs:
    """All that the order depends on, as the evening stands. ``past``: what earlier outings found,
    a name for each find."""

    now: Instant
    setup: Setup
    fix: Fix | None
    still_chance: float
    field_deg: float
    outing: int | None
    hours: float
    wishes: Wishes
    done: tuple[str, ...]
    past: tuple[str, ...]
    anew: bool
    supposed: Supposition | None = None


Places = tuple[tuple[float, float], ...]
#: Outing, hours, kinds, the hardest, whether only what is new: an order is kept for each.
_OrderKey = tuple[int | None, float, frozenset[str], str, bool]


@dataclass
class AgendaMemory:
    """What one asking leaves for the next. The thinking thread writes; ``latest`` is frozen."""

    night: Survey | None = None
    setup: Setup | None = None
    found: tuple[Prospect, ...] = ()
    past: tuple[str, ...] | None = None
    orders: dict[_OrderKey, _Order] = field(default_factory=dict)
    latest: tuple[Setup, Route] | None = None
    dark: DarkNight | None = None

    def route(self, setup: Setup) -> Route | None:
        """The order the pages were last told; None if it was for another evening."""
        if self.latest is None or self.latest[0] != setup:
            return None
        return self.latest[1]

    def places(self, setup: Setup) -> Places:
        """Where the objects last put in order will stand, degrees; none for another evening."""
        route = self.route(setup)
        return tuple((v.az_deg, v.alt_deg) for v in route.visits) if route is not None else ()


@dataclass(frozen=True)
class _Order:
    route: Route
    end: Instant
    past: tuple[Visit, ...] = ()


def inputs_of(e: Evening, asked: Mapping[str, str]) -> AgendaInputs:
    """From the page's query. Raises UserError without a site, or for words that mean nothing."""
    hours = _hours(asked.get("hours", "3"))
    kind, hardest = asked.get("kind", "all"), asked.get("hardest", "fair")
    if hardest not in get_args(Difficulty):
        raise UserError(
            f"the difficulty '{hardest[:20]}'", "easy, fair or hard", "Choose one of them"
        )
    ban = e.guidance.unsure()
    if ban is not None and ban.ban is Ban.CLOCKS:
        raise ban.refusal()  # which night, and where things stand in it, is not known
    own = own_source.listed()
    here = seen_names(e.book, [e.outing.id]) if e.outing is not None else []
    done = tuple(sorted(known(set(here))))
    now = e.outing.id if e.outing is not None else None
    earlier = [o.id for o in e.book.outings() if o.id != now]
    past = tuple(sorted(seen_names(e.book, earlier)))
    seen: frozenset[str] = frozenset()
    if asked.get("new") == "1":
        seen = known(set(past)) - set(done)
    supposed = supposition_of(e, asked)
    return AgendaInputs(
        e.now(), Setup.of(e) if supposed is None else supposed.setup,
        e.fix if e.fix_holds else None, e.still_chance(),
        e.instrument.field_deg,
        e.outing.id if e.outing is not None else None, hours,
        Wishes(
            kinds=frozenset() if kind == "all" else frozenset({group_named(kind[:20])}),
            hardest=cast("Difficulty", hardest),
            own=frozenset(o.key for o in own) if own is not None else frozenset(),
            seen=seen,
        ),
        done, past, asked.get("anew") == "1", supposed,
    )  # fmt: skip


def minutes_of(asked: Mapping[str, str]) -> float:
    """How much longer, from the page's query. Raises UserError for what is no such time."""
    text = asked.get("minutes", "10")
    minutes = _number(text)
    if not 1.0 <= minutes <= 120.0:
        raise UserError(f"'{text[:20]}' minutes more", "1 to 120", "Choose how long you will stay")
    return minutes


def _hours(text: str) -> float:
    hours = _number(text)
    if not 0.25 <= hours <= 24.0:
        raise UserError(f"'{text[:20]}' hours", "a quarter to 24", "Choose how long you will look")
    return hours


def _number(text: str) -> float:
    """Not a number: nan, which lies within no bounds."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def answer(q: AgendaInputs, kept: AgendaMemory) -> AgendaAnswer:
    """The page's list. For the thinking thread: a second or two the first time."""
    start, dawn = hours_of(q.now, q.setup.site)
    if q.supposed is not None:
        return _as_supposed(q, q.supposed, kept, start, dawn)
    return _words(q, *_ordered(q, kept, start, dawn))


#: The night, what is wanted of it, the order with what was found of it, what is to be said of being
#: late, and the order's hours.
_Ordered = tuple[
    Survey, list[Prospect], Route, tuple[Visit, ...], str | None, tuple[Instant, Instant]
]


def _ordered(q: AgendaInputs, kept: AgendaMemory, start: Instant, dawn: Instant) -> _Ordered:
    """The order as it now stands, kept for the next asking."""
    night = _night(q.setup, kept, start, dawn, q.past)
    wanted = q.wishes.choose(kept.found)
    key = (q.outing, q.hours, q.wishes.kinds, q.wishes.hardest, bool(q.wishes.seen))
    old = None if q.anew else kept.orders.get(key)
    if old is not None and old.end.minus(start) <= 0.0:
        old = None
    end = old.end if old is not None else min(dawn, start.plus_seconds(3600.0 * q.hours))
    route = plan(
        night, wanted, start, end, done=q.done, previous=old.route if old is not None else None
    )
    past = old.past if old is not None else ()
    if old is not None:
        past += tuple(v for v in old.route.visits if name_of(v.prospect.target) in q.done)
    kept.orders[key] = _Order(route, end, past)
    kept.latest = (q.setup, route)
    while len(kept.orders) > 12:
        kept.orders.pop(next(iter(kept.orders)))
    return night, wanted, route, past, _late(old, q, start), (start, end)


def longer_here(q: AgendaInputs, kept: AgendaMemory, minutes: float) -> LongerAnswer:
    """What so many minutes more at the same object cost of the order. For the thinking thread."""
    night, wanted, route, _, _, (start, end) = _ordered(q, kept, *hours_of(q.now, q.setup.site))
    found = longer(night, wanted, route, start, end, minutes, q.done)
    return LongerAnswer(
        answer=say.longer(found, end, q.setup.site.time_zone),
        minutes=round(minutes),
        lost=tuple(name_of(v.prospect.target) for v in found.lost),
    )


def _as_supposed(
    q: AgendaInputs, what: Supposition, kept: AgendaMemory, start: Instant, dawn: Instant
) -> AgendaAnswer:
    """The list as it would be. The order of what is stays as it was told."""
    if kept.dark is None or not kept.dark.holds(q.setup, q.past, start, dawn):
        kept.dark = DarkNight.of(q.setup, q.past, start, dawn)
    end = min(dawn, start.plus_seconds(3600.0 * q.hours))
    night = kept.dark.judged(what.supposed, q.wishes, (start, end))
    wanted = q.wishes.choose(prospects(night, taste=kept.dark.taste))
    effort = THOROUGH if what.settled else QUICK
    route = plan(night, wanted, start, end, done=q.done, effort=effort)
    return _words(q, night, wanted, route, (), None, (start, end))


def well_placed(setup: Setup, now: Instant, kept: AgendaMemory) -> list[Target]:
    """What is worth pointing at now, the most rewarding first; nothing by day.

    For the thinking thread, as :func:`answer`. A double star is its star.
    """
    _night(setup, kept, *hours_of(now, setup.site))
    found = leading(Wishes().choose(kept.found))
    worth = [p.target for p in found if p.first <= now <= p.last]
    return [t.star if isinstance(t, Double) else t for t in worth[:MOST_WELL_PLACED]]


def _night(
    setup: Setup,
    kept: AgendaMemory,
    start: Instant,
    dawn: Instant,
    past: tuple[str, ...] | None = None,
) -> Survey:
    """The survey of the night, made anew only when what it rests on has changed.

    ``past`` None: the list stays by what was found before as last told.
    """
    held = kept.night
    if (
        held is None
        or kept.setup != setup
        or start.minus(held.light.instants[0]) < 0.0
        or dawn.minus(held.light.instants[-1]) > 600.0
    ):
        site, kit, skyline, eye = setup
        held = survey(
            deepsky.load(), doubles.load(), start, dawn, site, kit,
            conditions_of(site, kit, own=eye), skyline,
            own=own_source.listed(), bodies=all_bodies(),
        )  # fmt: skip
        kept.night, kept.setup, kept.orders = held, setup, {}
        kept.past, past = None, past or kept.past or ()
    if past is not None and past != kept.past:
        kept.past = past
        kept.found = tuple(prospects(held, taste=taste_of(past)))
    return held


def _late(old: _Order | None, q: AgendaInputs, start: Instant) -> str | None:
    """How far behind the order the evening is, in words; None when it is not."""
    if old is None:
        return None
    waiting = [v for v in old.route.visits if name_of(v.prospect.target) not in q.done]
    if not waiting:
        return None
    minutes = start.minus(waiting[0].start) / 60.0
    if minutes < LATE_MINUTES:
        return None
    return (
        f"About {5 * round(minutes / 5):.0f} minutes later than planned: what there is no time "
        "for is left out."
    )


def _words(
    q: AgendaInputs,
    night: Survey,
    wanted: list[Prospect],
    route: Route,
    past: tuple[Visit, ...],
    late: str | None,
    hours: tuple[Instant, Instant],
) -> AgendaAnswer:
    taken = {name_of(v.prospect.target) for v in route.visits} | set(q.done)
    others = [
        p for p in leading(wanted)
        if name_of(p.target) not in taken and within(p, hours[0], hours[1])
    ]  # fmt: skip
    visits = tuple(_visit(q, v, done=False) for v in route.visits)
    until = local(hours[1], q.setup.site.time_zone)
    if not visits:
        said = f"Nothing of that kind can be seen until {until}."
        if q.done:
            said = f"That was all of that kind until {until}."
    else:
        said = f"{words.many(len(visits), 'object')} until {until}."
    return AgendaAnswer(
        answer=said,
        light=f"{own_eye.sentence(q.setup.eye)} ".lstrip()
        + f"{say.darkness(night.light)} {say.moon(night.light)} "
        f"Times are {say.zone_words(night.light)}."
        + f" {night.judged:,} objects were looked through."
        * (q.supposed is None),
        late=late,
        next=visits[0] if visits else None,
        visits=(*(_visit(q, v, done=True) for v in past), *visits),
        more=tuple(
            _worth(p, local(p.best, q.setup.site.time_zone))
            for p in others[: MOST_OTHERS if q.supposed is None else 0]
        ),
        more_count=len(others),
        order_note="What sets first comes first, pushes are short, and nothing overhead is chosen "
        "without need. If you are late, the order stays.",
        difficulties={str(k): said for k, said in say.DIFFICULTY.items()},
        supposed=q.supposed.words(night.sky) if q.supposed is not None else "",
        zenith_mag=rounded(night.sky.zenith_mag, 2),
        seeing_arcsec=rounded(night.sky.seeing_arcsec, 2),
    )


def _visit(q: AgendaInputs, v: Visit, *, done: bool) -> VisitRecord:
    chance = None
    if q.fix is not None and not done:
        hit = float(q.fix.hit_chance(v.az_deg, v.alt_deg, q.field_deg))
        chance = number(hit * q.still_chance, 3)
    worth = _worth(v.prospect, local(v.start, q.setup.site.time_zone))
    return msgspec.convert(
        {
            **msgspec.structs.asdict(worth),
            "soon": v.start.minus(q.now) < 60.0 * SOON_MINUTES,
            "note": say.note(v.note),
            "push": f"{v.push_deg:.0f}° of push" if v.push_deg >= 0.5 else "",
            "hit_chance": chance,
            "hit_chance_words": words.chance(chance),
            "where": words.where(v.az_deg, v.alt_deg),
            "alt_deg": rounded(v.alt_deg, 1),
            "done": done,
        },
        VisitRecord,
    )


def _worth(p: Prospect, start: str) -> WorthRecord:
    return WorthRecord(
        name=name_of(p.target),
        # As the state names it once it is the target: by this the page knows the two as one.
        target_name=log_name(p.target.star if isinstance(p.target, Double) else p.target),
        label=p.target.label,
        short=words.spoken(p.target.label.split(" (")[0]),
        difficulty=p.difficulty,
        reason=reason(p),
        what=words.upper_first(say.what(p.target)),
        eyepiece=p.eyepiece,
        with_what=say.with_what(p),
        second_eyepiece=p.second,
        minutes=round(p.minutes),
        chance=rounded(p.chance, 3),
        chance_words=words.chance(p.chance),
        start=start,
    )
