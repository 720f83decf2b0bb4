"""How to find a star with the eye: the drawing, and the same in words."""

from __future__ import annotations

from plumbstar.choose.candidates import when_to_sight
from plumbstar.contract.asked import WayAnswer
from plumbstar.guide.course import Course
from plumbstar.guide.sun import Ban
from plumbstar.starway import drawing, say
from plumbstar.starway.way import way_to
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.plan import star_named
from plumbstar.web.views.chart import A_MOMENT_S


def way_answer(e: Evening, name: str, dress: str) -> WayAnswer:
    """The way as it is now, by day and in early twilight as it will be when stars can be sighted.

    Nothing leads near the Sun, nor anywhere while it is not known where that is.
    """
    star, now, site = star_named(name), e.now(), e.ground.need_site()
    at = when_to_sight(now, site)
    later = at.minus(now) > A_MOMENT_S
    ban = e.guidance.forbidden(Course(star, site))
    barred = ban is not None and ban.ban in (Ban.TARGET, Ban.CLOCK, Ban.CLOCKS)
    found = None if barred else way_to(star, at, site, e.ground.skyline)
    if found is None:
        return WayAnswer(
            star=star.label, at_utc=at.iso(), later=later, svg="", way="", place="", alike=(),
            hand="",
        )  # fmt: skip
    return WayAnswer(
        star=star.label,
        at_utc=at.iso(),
        later=later,
        svg=drawing.svg(found, "day" if dress == "day" else "night"),
        way=say.way(found),
        place=say.place(found),
        alike=tuple(f"{'ABC'[k]}: {s}" for k, s in enumerate(say.confusing(found))),
        hand=say.HAND,
    )
