"""Actions by name: what each takes, checked, and the one call that it makes.

A handler reads its input, calls one method of the evening, and answers. ``received`` is the steady
clock at the first byte of the request, before anything was waited for.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from plumbstar.contract.done import CheckDone, Done, SightedDone
from plumbstar.contract.mending import CheckVerdict
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.logbook.shown import DisplayEntry
from plumbstar.sky.local_time import zone_named
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening.plan import NAMELESS
from plumbstar.web.evening.sighted import Sighted
from plumbstar.web.live import kit_actions, looking_actions, rehearsal_actions
from plumbstar.web.live.bodies import (
    ActionBody,
    BrighterAnswer,
    CheckBody,
    CirclesTurned,
    ColourAnswer,
    Confirmed,
    ControllerTicked,
    DoubtAnswer,
    Entered,
    EnteredAnew,
    HandOrders,
    LookTold,
    MessageId,
    MoveAnswer,
    Named,
    Nothing,
    OneStar,
    OwnObject,
    PhoneTime,
    Rehearsed,
    Said,
    SetAside,
    Shimmed,
    Shown,
    SiteBody,
    Sketched,
    SkyTold,
    Stars,
    StarTap,
    StopWay,
    SunSeen,
    Tap,
    TargetTap,
    TelescopeAnswers,
    TelescopeTyped,
    TimesConsent,
    Toml,
    Wanted,
    Which,
    WhichAndWhy,
)
from plumbstar.web.live.station import Station

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening

Handler = Callable[[Station, Any, float], Awaitable[Done]]
#: What a press of "centred" does in the evening: with the reading and the moment of the press.
Centred = Callable[["Evening", Reading, Instant], Sighted]
B = TypeVar("B", bound=ActionBody)
TABLE: dict[str, tuple[type[ActionBody], Handler]] = {}


def read_body(raw: bytes, body_type: type[B], name: str) -> B:
    """A request's body. Raises :class:`UserError` for one that is not of that shape."""
    try:
        return msgspec.json.decode(raw or b"{}", type=body_type)
    # Broken UTF-8 inside a key comes as Python's own error.
    except (msgspec.ValidationError, msgspec.DecodeError, UnicodeDecodeError) as e:
        raise UserError(
            f"What this page sent could not be read (request '{name}': {e})",
            "",
            "Reload the page: it may be of an older version of the program",
        ) from None


async def run(station: Station, name: str, raw: bytes, received: float) -> Done:
    """Do it. Raises :class:`KeyError` for an unknown name, :class:`UserError` for a bad body."""
    body_type, handler = TABLE[name]
    body = read_body(raw, body_type, name)
    await station.evening_ready()
    if not isinstance(body, Tap):  # that one is recorded when its reading is looked up
        station.record(lambda r, now: r.press(now, name, raw or b"{}", received))
    return await handler(station, body, received)


def _plain(name: str, body: type[ActionBody], call: Callable[[Evening, Any], Any]) -> None:
    """An action that is one method of the evening."""

    async def handler(station: Station, b: Any, received: float) -> Done:
        _, version = await station.do(lambda e: call(e, b))
        return Done(version=version)

    TABLE[name] = (body, handler)


def _site(e: Evening, b: SiteBody) -> None:
    zone = zone_named(b.time_zone)
    e.preparing.set_site(
        Site(
            b.lat_deg, b.lon_deg, b.elevation_m, name=b.name.strip(),
            time_zone="" if zone == "UTC" else zone, zenith_mag=b.zenith_mag,
        )
    )  # fmt: skip


def _own_add(e: Evening, b: OwnObject) -> None:
    from plumbstar.web.evening import own_objects  # the catalogues come with it

    own_objects.add(msgspec.structs.asdict(b))


def _own_remove(e: Evening, b: Named) -> None:
    from plumbstar.web.evening import own_objects

    own_objects.remove(b.name)


def _undo(e: Evening, b: Nothing) -> None:
    if not e.beside.undo():
        e.observing.undo()


def _shimmed(e: Evening, b: Shimmed) -> None:
    e.mending.shimmed(b.id, tuple((p.thickness_mm, p.count) for p in b.pieces))


def _set_target(e: Evening, b: Named) -> None:
    e.beside.give_up()
    e.targeting.set_target(b.name)


def _clear_target(e: Evening, b: Nothing) -> None:
    e.beside.give_up()
    e.targeting.clear_target()


_plain("set_site", SiteBody, _site)
_plain("use_site", Named, lambda e, b: e.preparing.use_site(b.name))
_plain("forget_site", Named, lambda e, b: e.book.forget_site(b.name))
_plain("set_eyepiece", Named, lambda e, b: e.preparing.set_eyepiece(b.name))
_plain("set_skyline", Said, lambda e, b: e.preparing.set_skyline(b.text))
_plain("pick", Stars, lambda e, b: e.plan.pick(b.stars))
_plain("plan_add", OneStar, lambda e, b: e.plan.add(b.star))
_plain("plan_remove", OneStar, lambda e, b: e.plan.remove(b.star))
_plain("aim_at", OneStar, lambda e, b: e.plan.aim_at(b.star))
_plain("start_outing", Nothing, lambda e, b: e.outings.start())
_plain("end_outing", Nothing, lambda e, b: e.outings.end())
_plain("set_aside", WhichAndWhy, lambda e, b: e.observing.set_aside(b.id, b.reason))
_plain("set_aside_these", SetAside, lambda e, b: e.observing.set_aside_these(b.ids, b.reason))
_plain(
    *("enter_as", EnteredAnew),
    lambda e, b: e.observing.enter_as([(x.id, x.star) for x in b.those]),
)
_plain("restore", Which, lambda e, b: e.observing.restore(b.id))
_plain(
    "brighter_said", BrighterAnswer, lambda e, b: e.observing.brighter_said(b.id, b.other, b.was)
)
_plain("colour_said", ColourAnswer, lambda e, b: e.observing.colour_said(b.id, b.orange))
_plain("forget_nameless", Nothing, lambda e, b: e.observing.forget_nameless())
_plain("delete_sighting", Which, lambda e, b: e.observing.delete_sighting(b.id))
_plain("undo", Nothing, _undo)
_plain("redo", Nothing, lambda e, b: e.observing.redo())
_plain("answer_move", MoveAnswer, lambda e, b: e.observing.answer_move(b.after, b.moved))
_plain("set_target", Named, _set_target)
_plain("clear_target", Nothing, _clear_target)
_plain("not_in_field", Nothing, lambda e, b: e.targeting.not_in_field())
_plain("one_field_back", Nothing, lambda e, b: e.targeting.one_field_back())
_plain("answer_sun", SunSeen, lambda e, b: e.clock_setting.answer_sun(b.below, b.screen))
_plain("confirm_filter", Confirmed, lambda e, b: e.outings.confirm_filter(b.confirmed))
_plain("own_add", OwnObject, _own_add)
_plain("own_remove", Named, _own_remove)
_plain("controller_back", Nothing, lambda e, b: e.beside.take_back())
_plain("controller_not_here", Nothing, lambda e, b: e.beside.not_here())
_plain("controller_rehearsed", Rehearsed, lambda e, b: e.display.rehearsed(b.seconds))
_plain("shimmed", Shimmed, _shimmed)
_plain("undo_mend", Which, lambda e, b: e.mending.take_back(b.id))
_plain("look", LookTold, looking_actions.look)
_plain("tell_sky", SkyTold, looking_actions.sky)
_plain("sketch", Sketched, looking_actions.sketch)
_plain("note", Said, lambda e, b: e.outings.note(b.text))
_plain("clock_is_right", Nothing, lambda e, b: e.clock_setting.is_right())
_plain("correct_times", TimesConsent, lambda e, b: e.clock_setting.correct_saved(b.count, b.by))
_plain("leave_times", Nothing, lambda e, b: e.clock_setting.leave_saved())
_plain("dismiss", MessageId, lambda e, b: e.messages.dismiss(b.id))


async def _entered(station: Station, b: Entered, received: float) -> Done:
    def act(e: Evening) -> None:
        unix = station.clock.at(received - b.ago_ms / 1000.0).to_unix()
        e.beside.enter(
            DisplayEntry(
                *(b.id, unix, b.event, b.star, b.number_deg, b.left_az_deg, b.left_alt_deg),
                chosen=b.chosen,
            )
        )

    _, version = await station.do(act)
    return Done(version=version)


async def _choose(station: Station, b: Wanted, received: float) -> Done:
    utc = Instant.parse(b.utc) if b.utc else None
    return Done(version=await station.choose(b.stars, utc))


async def _typed_reading(station: Station, b: Shown, received: float) -> Done:
    station.readings.type_reading(b.az_deg, b.alt_deg)
    _, version = await station.do(lambda e: None)  # the azimuth's turn may have changed
    return Done(version=version)


async def _tap(station: Station, name: str, b: Tap, received: float, call: Centred) -> SightedDone:
    """A press of "centred": the reading and the moment are those of the press, not of now."""
    known = await station.ask(lambda e: e.observing.known(b.id))
    if known is not None:
        return _sighted(known, station.version)
    shown = (b.reading.az_deg, b.reading.alt_deg) if b.reading is not None else None
    station.record(lambda r, now: r.press(now, name, msgspec.json.encode(b), received))
    reading = station.readings.at_tap(received, b.ago_ms, shown)
    counts, slips = station.readings.counts(), station.readings.slips

    def act(e: Evening) -> Sighted:
        # Here, between two other actions, so that the moment and the clock it is kept with agree.
        utc = station.clock.at(received - b.ago_ms / 1000.0)
        station.record(lambda r, now: r.moment(b.id, utc))
        # Before the sighting and not after: a power cut at any moment then finds either no
        # sighting, or one with the counts it was made at. Else a restart would claim a slip.
        e.counts.keep(counts)
        e.observing.slipped(slips)  # the pulse may not have told of them yet
        return call(e, reading, utc)

    done, version = await station.do(act)
    # On disk now. Slips before this reading are settled by it, later ones are not.
    if not done.again and not done.asked:
        station.readings.acknowledge(reading.slips_before)
    return _sighted(done, version)


def _sighted(done: Sighted, version: int) -> SightedDone:
    off = done.residual_arcmin
    return SightedDone(
        version=version,
        sighting_id=done.sighting_id,
        again=done.again,
        asked=done.asked,
        residual_arcmin=round(off, 2) if off is not None else None,
    )


async def sight(station: Station, b: StarTap, received: float) -> SightedDone:
    moment = received - b.ago_ms / 1000.0
    pushed_deg = station.readings.pushed_deg(moment)

    def centred(e: Evening, reading: Reading, utc: Instant) -> Sighted:
        return e.observing.sight(b.star, reading, utc, b.id, pushed_deg)

    if b.star == NAMELESS and await station.ask(lambda e: e.observing.known(b.id)) is None:
        station.readings.refuse_moving(moment)
    return await _tap(station, "sight", b, received, centred)


async def here_centred(station: Station, b: TargetTap, received: float) -> SightedDone:
    pushed_deg = station.readings.pushed_deg(received - b.ago_ms / 1000.0)

    def centred(e: Evening, reading: Reading, utc: Instant) -> Sighted:
        return e.targeting.here_centred(reading, utc, b.id, b.target, pushed_deg)

    return await _tap(station, "here_centred", b, received, centred)


async def _answer_doubt(station: Station, b: DoubtAnswer, received: float) -> Done:
    shown = b.reading
    reading = station.readings.type_reading(shown.az_deg, shown.alt_deg) if shown else None

    def act(e: Evening) -> Sighted:
        if b.exchanged:
            return e.targeting.readings_exchanged(b.id)
        return e.targeting.answer_doubt(b.id, b.save, b.near, reading)

    done, version = await station.do(act)
    return _sighted(done, version)


async def _acknowledge_slip(station: Station, b: Nothing, received: float) -> Done:
    counts = station.readings.counts()

    def act(e: Evening) -> int:
        # With the count that has jumped: a restart would take it for another slip.
        e.counts.keep(counts)
        return e.observing.nothing_moved()

    number, version = await station.do(act)
    station.readings.acknowledge(number)
    return Done(version=version)


async def _base_moved(station: Station, b: Nothing, received: float) -> Done:
    _, version = await station.do(lambda e: e.observing.base_moved(received))
    return Done(version=version)


async def _tube_on_stop(station: Station, b: Nothing, received: float) -> Done:
    await station.ask(lambda e: e.upright.check())
    read_deg = station.readings.on_stop()
    # No star was sighted yet: whatever slipped is settled.
    slips_before = station.readings.latest.slips_before
    station.readings.acknowledge(slips_before)
    counts = station.readings.counts()

    def act(e: Evening) -> None:
        e.observing.tube_on_stop(read_deg, slips_before)
        e.counts.keep(counts)

    _, version = await station.do(act)
    return Done(version=version)


async def _use_phone_time(station: Station, b: PhoneTime, received: float) -> Done:
    phone_s, trip_s = b.phone_ms / 1000.0, b.round_trip_ms / 1000.0

    def act(e: Evening) -> None:
        e.clock_setting.take_phone(received, phone_s, trip_s)
        e.sun_question.hear("phone", b.phone, phone_s + trip_s / 2.0, received)

    _, version = await station.do(act)
    station.orders.clear()  # tonight's order was for another hour
    return Done(version=version)


async def _check(station: Station, b: CheckBody, received: float) -> Done:
    def judge(e: Evening) -> CheckVerdict:
        from plumbstar.web.views.bench_checks import judge_check

        return judge_check(b.id, b.inputs, e.kit)

    return CheckDone(version=station.version, result=await station.ask(judge))


TABLE["rehearse"] = (Nothing, rehearsal_actions.begin)
TABLE["controller_hand"] = (HandOrders, rehearsal_actions.hand)
TABLE["end_rehearsal"] = (Nothing, rehearsal_actions.end)
TABLE["use_phone_time"] = (PhoneTime, _use_phone_time)
TABLE["check"] = (CheckBody, _check)
TABLE["turn_circles"] = (CirclesTurned, kit_actions.turn_circles)
TABLE["turn_stop"] = (StopWay, kit_actions.turn_stop)
TABLE["take_check"] = (CheckBody, kit_actions.take_check)
TABLE["set_kit"] = (Toml, kit_actions.set_kit)
TABLE["set_controller"] = (ControllerTicked, kit_actions.set_controller)
TABLE["leave_controller"] = (Nothing, kit_actions.leave_controller)
TABLE["describe_telescope"] = (TelescopeAnswers, kit_actions.describe)
TABLE["set_telescope"] = (TelescopeTyped, kit_actions.set_telescope)
TABLE["controller_entry"] = (Entered, _entered)
TABLE["choose"] = (Wanted, _choose)
TABLE["typed_reading"] = (Shown, _typed_reading)
TABLE["sight"] = (StarTap, sight)
TABLE["here_centred"] = (TargetTap, here_centred)
TABLE["answer_doubt"] = (DoubtAnswer, _answer_doubt)
TABLE["tube_on_stop"] = (Nothing, _tube_on_stop)
TABLE["base_moved"] = (Nothing, _base_moved)
TABLE["acknowledge_slip"] = (Nothing, _acknowledge_slip)
