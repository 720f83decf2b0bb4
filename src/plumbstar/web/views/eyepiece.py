"""What the eyepiece should show of the target: the picture and the sentence, for the Find page."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from plumbstar.contract.eyepiece import EyepieceView
from plumbstar.diagnose import own_eye
from plumbstar.errors import UserError
from plumbstar.eyeview import eye_view, finder_view, say, svg, thumbnail
from plumbstar.eyeview.drawing import Dress
from plumbstar.kit import Eyepiece, Kit
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets import say_asked, say_minor
from plumbstar.targets.asked import Place, Visibility, chance_now, verdict_of
from plumbstar.targets.learnt_eye import LearntEye
from plumbstar.targets.model import conditions_of
from plumbstar.targets.verdict import difficulty_of
from plumbstar.targets.wishes import hours_or_hour
from plumbstar.web.evening.evening import Evening


@dataclass(frozen=True)
class EyepieceInputs:
    """All that the picture depends on."""

    target: Target
    now: Instant
    site: Site
    kit: Kit
    eyepiece: Eyepiece
    skyline: Skyline
    eye: LearntEye | None = None


def inputs_of(e: Evening) -> EyepieceInputs:
    """As the evening stands. Raises UserError without a site or a target."""
    if e.target is None:
        raise UserError("No target is chosen", "", "Choose a target first")
    return EyepieceInputs(
        e.target,
        e.now(),
        e.ground.need_site(),
        e.kit,
        e.instrument.eyepiece,
        e.ground.skyline,
        e.instrument.eye,
    )


def _seen(
    target: Target, now: Instant, place: Place, eye: LearntEye | None
) -> tuple[str, tuple[str, ...]]:
    """Whether it can be seen in this night, in words."""
    start, dawn = hours_or_hour(now, place.site)
    # Once an hour, and once for what the next nights bring: the picture is asked for more often.
    hour = Instant(start.jd1, math.floor(start.jd2 * 24.0) / 24.0)
    v = _verdict(target, hour, Instant(dawn.jd1, round(dawn.jd2 * 1440.0) / 1440.0), place)
    zone = place.site.time_zone
    said = (
        *(say_minor.about(target, now) if v.tonight is None else ()),
        say_asked.seen_as(v),
        "" if v.tonight is None else say_asked.how(v.tonight, zone, now),
        say_asked.why_not(v),
        say_asked.later(v, zone),
        own_eye.sentence(eye),
    )
    return f"{say_asked.answer(v)}.", tuple(x for x in said if x)


@lru_cache(maxsize=32)
def _verdict(target: Target, start: Instant, end: Instant, place: Place) -> Visibility:
    return verdict_of(target, start, end, place)


def inputs_for(e: Evening, name: str, eyepiece: str) -> EyepieceInputs:
    """The same for an object of tonight's list, in the eyepiece that is advised. Raises
    UserError for a name that nothing has."""
    found = next((x for x in e.kit.eyepiece if x.name == eyepiece), e.instrument.eyepiece)
    return EyepieceInputs(
        find_target(name), e.now(), e.ground.need_site(), e.kit, found, e.ground.skyline
    )


def small(q: EyepieceInputs, dress: str) -> str:
    """The field alone, as SVG, for a row of the list."""
    view = eye_view(q.target, q.now, q.site, q.kit, q.eyepiece)
    return thumbnail(view, "day" if dress == "day" else "night")


def told(q: EyepieceInputs, dress: str) -> EyepieceView:
    """The sentence, and the drawing as SVG in "night" or "day" dress. Some hundredths of a second.

    For the thinking thread: the list of faint stars is read the first time.
    """
    place = Place(q.site, q.kit, conditions_of(q.site, q.kit, own=q.eye), q.skyline)
    chance = chance_now(q.target, q.now, q.eyepiece, place)
    view = eye_view(
        q.target, q.now, q.site, q.kit, q.eyepiece,
        shows=chance is None or difficulty_of(chance) != "unlikely",
    )  # fmt: skip
    wide = finder_view(q.target, q.now, q.site, kit=q.kit)
    chosen: Dress = "day" if dress == "day" else "night"
    seen, seen_notes = _seen(q.target, q.now, place, q.eye)
    return EyepieceView(
        label=view.label,
        seen=seen,
        seen_notes=seen_notes,
        eyepiece=view.eyepiece,
        sentence=say.sentence(view),
        ways=say.ways(view),
        notes=say.notes(view),
        svg=svg(view, chosen),
        finder="your finder" if q.kit.finder.field_deg > 0.0 else "by eye",
        finder_sentence=say.sentence(wide),
        finder_ways=say.ways(wide),
        finder_svg=svg(wide, chosen),
    )
