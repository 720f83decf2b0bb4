"""The target: where it stands, where the circles should, how likely it is then in the field."""

from __future__ import annotations

from plumbstar.contract.parts import PatchRecord
from plumbstar.contract.picture import SunToldRecord, SweepRecord, TargetRecord
from plumbstar.errors import UserError
from plumbstar.guide import say
from plumbstar.guide.aim import way_there
from plumbstar.guide.course import Course
from plumbstar.guide.push import DOWN_DEG, Push, below_horizon, push
from plumbstar.guide.sun import NOT_KNOWN, TOO_NEAR, Ban, Banned, SunRefusal
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.targets import light_age
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.last_seen import seen_last
from plumbstar.web.views.numbers import rounded
from plumbstar.web.views.things import thing
from plumbstar.web.views.to_check import ToCheck, WhyCheck, to_check

#: Less sure than this that nothing has moved since the last star, it is said. Common practice.
CHECKED_ENOUGH = 0.9


def target_record(
    e: Evening, now: Instant, near_az_deg: float, alt_reading_deg: float | None
) -> TargetRecord | None:
    """What to push to; ``near_az_deg`` chooses the side of the azimuth's wrap. With the altitude's
    reading (None while there is none) it says from where the push begins."""
    target, placed = e.target, e.guidance.target_now(now)
    if target is None or placed is None:
        return None
    course, az, alt = placed
    fix, refused = e.fix, e.guidance.ban
    led: Push | None = None
    barred: Banned | None = None
    still = e.still_chance(target.key)
    warnings: tuple[str, ...] = ()
    if fix is not None and refused is None:
        try:
            led = _push(e, fix, target, course, now, (near_az_deg, alt_reading_deg), still)
            warnings = say.warnings(led)
        except SunRefusal as err:
            barred = err.banned
        except UserError as err:
            warnings = (_refusal_words(err),)
        if led is not None and alt_reading_deg is not None:
            # To the stop of a search the way is another one.
            barred = way_there(e.guidance.aim, near_az_deg, alt_reading_deg, now)
        if barred is not None:
            led, warnings = None, ()
    elif refused is None and alt < DOWN_DEG:  # no star to be sighted brings it up
        assert e.ground.almanac is not None
        sun = e.ground.almanac.sun
        warnings = (
            _refusal_words(
                below_horizon(
                    target.label,
                    lambda s: course.az_alt_deg(now.plus_seconds(s)),
                    lambda s: sun.az_alt_deg(now.plus_seconds(s)),
                )
            ),
        )
    # Before it is known whether something moved, any chance would be a guess.
    chance = led.hit_chance if led is not None and e.fix_holds else None
    t = thing(target, now)
    ban = refused.ban if refused is not None else None
    stands = {Ban.TARGET: TOO_NEAR, Ban.CLOCK: NOT_KNOWN, Ban.CLOCKS: NOT_KNOWN}
    return TargetRecord(
        name=t.name,
        label=t.label,
        kind=t.kind,
        constellation=t.constellation,
        v_mag=t.v_mag,
        size_arcmin=t.size_arcmin,
        double=t.double,
        az_deg=rounded(az, 3),
        alt_deg=rounded(alt, 3),
        where=stands[ban] if ban in stands else words.where(az, alt),
        place=e.guidance.aim.place,
        az_reading_deg=rounded(led.to_az_deg) if led else None,
        alt_reading_deg=rounded(led.to_alt_deg) if led else None,
        hit_chance=rounded(chance, 3) if chance is not None else None,
        hit_chance_words=words.chance(chance) if chance is not None else "",
        patch=_patch(led) if led else None,
        warnings=warnings,
        doubt=_doubt(e, fix, still) if fix is not None and led is not None else "",
        seen_before=seen_last(e, target),
        story=_story(target, now, e.ground.need_site()),
        refused=_sun_told(refused),
        way_barred=_sun_told(barred),
        refused_field=ban is Ban.STOP,
        searching=e.search.under_way is not None,
        sweep=_sweep(e, now, near_az_deg) if led else None,
    )


def _refusal_words(err: UserError) -> str:
    return f"{words.upper_first(err.came)}. {err.remedy_on_pages}."


def _push(
    e: Evening,
    fix: Fix,
    target: Target,
    course: Course,
    now: Instant,
    here: tuple[float, float | None],
    still: float,
) -> Push:
    assert e.ground.almanac is not None
    sun = e.ground.almanac.sun
    return push(
        fix,
        target.label,
        lambda s: course.az_alt_deg(now.plus_seconds(s)),
        *here,
        e.instrument.field_deg,
        sun=lambda s: sun.az_alt_deg(now.plus_seconds(s)),
        filter_confirmed=e.guidance.aim.filter_confirmed,
        seconds=e.kit.push_seconds,
        skyline=e.ground.skyline,
        min_alt_deg=e.kit.telescope.min_alt_deg,
        max_alt_deg=e.kit.telescope.max_alt_deg,
        still=still,
        way_checked=True,  # by way_there: as the stream does, so that both say the same
    )


def _doubt(e: Evening, fix: Fix, still: float) -> str:
    """Why to sight a star first; by day no star is asked for."""
    if e.guidance.allowed_stops() is not None or not e.fix_holds:
        return ""
    match to_check(e):
        case ToCheck(WhyCheck.LAST_CONTRADICTS, (star,)):
            return say.contradicts(star)
        case ToCheck(WhyCheck.ONE_SUSPECTED, (star,)):
            return say.suspected(star)
        case ToCheck(WhyCheck.NAMES, stars):
            return say.names_unsure(stars)
        case ToCheck(WhyCheck.ONE_IS_WRONG):
            return say.one_is_wrong()
        case ToCheck(WhyCheck.FAR_OFF):
            return say.far_off()
    return say.unchecked(fix.sightings[-1].star) if still < CHECKED_ENOUGH else ""


def _sun_told(banned: Banned | None) -> SunToldRecord | None:
    if banned is None:
        return None
    told = banned.told()
    return SunToldRecord(answer=told.answer, caution=told.caution, more=told.more)


def _story(target: Target, now: Instant, site: Site) -> str:
    return light_age.sentence(light_age.old_light(target, now, site), now)


def _patch(led: Push) -> PatchRecord:
    return PatchRecord(
        major_deg=rounded(led.patch_major_deg),
        minor_deg=rounded(led.patch_minor_deg),
        angle_deg=rounded(led.patch_angle_deg, 1),
    )


def _sweep(e: Evening, now: Instant, near_az_deg: float) -> SweepRecord | None:
    sweep, goal = e.search.under_way, e.guidance.goal(now, near_az_deg)
    if sweep is None or goal is None:
        return None
    found_by = tuple(rounded(x, 3) for x in sweep.found_by)
    here = found_by[sweep.index] if sweep.index < len(found_by) else None
    return SweepRecord(
        index=sweep.index,
        stops_deg=tuple((round(a, 4), round(b, 4)) for a, b in sweep.stops),
        found_by=found_by,
        found_by_words=words.chance(here),
        az_reading_deg=rounded(goal[0]),
        alt_reading_deg=rounded(goal[1]),
    )
