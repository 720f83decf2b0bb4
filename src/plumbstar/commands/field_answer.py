"""What the eyepiece should show, as the record that programs are given.

Places are told to a ten-thousandth of the field's radius: nobody draws finer.
"""

from __future__ import annotations

import math
from typing import Literal

from plumbstar.contract.answers.drawn import (
    DiscReport,
    EyeMoonReport,
    EyePairReport,
    EyeStarReport,
    EyeViewReport,
    OutlineReport,
)
from plumbstar.contract.answers.seen import OwnEyeReport
from plumbstar.eyeview import say
from plumbstar.eyeview.model import Disc, EyeMoon, EyePair, EyeView, Outline, Way
from plumbstar.sky.jovian import Hidden
from plumbstar.sky.times import Instant
from plumbstar.targets import say_minor


def _r(x: float) -> float:
    return round(x, 4)


def _or_none(x: float) -> float | None:
    return _r(x) if math.isfinite(x) else None


def _way(w: Way) -> tuple[float, float]:
    return _r(w[0]), _r(w[1])


def _outline(o: Outline | None) -> OutlineReport | None:
    if o is None:
        return None
    return OutlineReport(
        x=_r(o.x),
        y=_r(o.y),
        half_length=_r(o.half_length),
        half_breadth=_r(o.half_breadth),
        angle_deg=_or_none(o.angle_deg),
    )


def _disc(d: Disc | None) -> DiscReport | None:
    if d is None:
        return None
    return DiscReport(
        radius=_r(d.radius),
        lit_fraction=_r(d.lit),
        sunward=_way(d.sunward),
        ring=_outline(d.ring),
        ring_tilt_deg=_or_none(d.ring_tilt_deg),
    )


def _pair(p: EyePair | None) -> EyePairReport | None:
    if p is None:
        return None
    return EyePairReport(
        mag_a=_r(p.mag_a),
        mag_b=_r(p.mag_b),
        separation_arcsec=_r(p.separation_arcsec),
        position_angle_deg=_r(p.position_angle_deg),
        x=_r(p.x),
        y=_r(p.y),
        shows=p.shows,
    )


_STATES: dict[Hidden, Literal["open", "in front", "behind", "in shadow"]] = {
    Hidden.NOT: "open",
    Hidden.IN_FRONT: "in front",
    Hidden.BEHIND: "behind",
    Hidden.IN_SHADOW: "in shadow",
}


def _moon(m: EyeMoon) -> EyeMoonReport:
    return EyeMoonReport(
        name=m.name,
        x=_r(m.x),
        y=_r(m.y),
        v_mag=round(m.v_mag, 1),
        state=_STATES[m.hidden],
        shadow=_way(m.shadow) if m.shadow is not None else None,
    )


def notes_of(v: EyeView) -> tuple[str, ...]:
    """What else to know, of a comet or minor planet how bright it is and how old its elements."""
    return (*say_minor.about(v.target, Instant.parse(v.utc)), *say.notes(v))


def field_answer(v: EyeView, eye: OwnEyeReport | None = None) -> EyeViewReport:
    return EyeViewReport(
        label=v.label,
        kind=v.kind,
        utc=v.utc,
        az_deg=_r(v.az_deg),
        alt_deg=_r(v.alt_deg),
        field_deg=_r(v.field_deg),
        eyepiece=v.eyepiece,
        magnification=_r(v.magnification),
        view=v.view,
        stars=tuple(
            EyeStarReport(x=_r(s.x), y=_r(s.y), v_mag=_r(s.v_mag), colour=s.colour, name=s.name)
            for s in v.stars
        ),
        outline=_outline(v.outline),
        disc=_disc(v.disc),
        pair=_pair(v.pair),
        moons=tuple(_moon(m) for m in v.moons),
        north=_way(v.north),
        east=_way(v.east),
        zenith=_way(v.zenith),
        drift=_way(v.drift) if v.drift is not None else None,
        minutes_to_edge=_or_none(v.minutes_to_edge),
        parallactic_deg=_r(v.parallactic_deg),
        limit_mag=_r(v.limit_mag),
        telescope_limit_mag=_r(v.telescope_limit_mag),
        list_is_limit=v.list_is_limit,
        sentence=say.sentence(v),
        notes=notes_of(v),
        mirrored=v.mirrored,
        own_eye=eye,
    )
