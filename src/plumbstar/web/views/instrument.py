"""The telescope, the Sun that limits it, and the outing in progress."""

from __future__ import annotations

from plumbstar.contract.picture import (
    CirclesRecord,
    EyepieceRecord,
    KitRecord,
    OutingNow,
    SkylineRecord,
    SunRecord,
)
from plumbstar.encoders.reading import press_kept_s
from plumbstar.kit import Eyepiece
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.numbers import rounded


def kit_record(e: Evening) -> KitRecord:
    """The kit, with the eyepiece in use."""
    kit = e.kit
    eyepieces: tuple[Eyepiece, ...] = kit.eyepiece or (kit.finder_eyepiece(),)
    return KitRecord(
        name=kit.name,
        eyepieces=tuple(
            EyepieceRecord(
                name=x.name,
                field_deg=rounded(kit.true_field_deg(x), 3),
                magnification=round(kit.magnification(x)),
            )
            for x in eyepieces
        ),
        eyepiece=e.instrument.eyepiece.name,
        field_deg=round(e.instrument.field_deg, 4),
        connection=kit.connection.kind,
        presses_kept_s=press_kept_s(kit.connection.heard),
        circles=CirclesRecord(az_reversed=kit.azimuth.reversed, alt_reversed=kit.altitude.reversed),
        toml=e.instrument.kit_text,
    )


def skyline_record(e: Evening) -> SkylineRecord:
    """The skyline as it is typed, and its points."""
    skyline = e.ground.skyline
    return SkylineRecord(text=skyline.text(), points_deg=tuple(skyline.points))


def sun_record(e: Evening, now: Instant) -> SunRecord | None:
    """The Sun; None without a site."""
    if e.ground.almanac is None:
        return None
    sun = e.ground.almanac.now(now)
    return SunRecord(
        alt_deg=rounded(sun.alt_deg, 2),
        az_deg=rounded(sun.az_deg, 2),
        up=sun.up,
        filter_confirmed=bool(e.outing is not None and e.outing.solar_filter),
        sentence=sun.sentence,
    )


def outing_now(e: Evening) -> OutingNow | None:
    """The outing in progress."""
    o = e.outing
    if o is None:
        return None
    ended = o.ended.iso() if o.ended else None
    return OutingNow(id=o.id, number=o.id, started_utc=o.started.iso(), ended_utc=ended)
