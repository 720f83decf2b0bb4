"""The evening's order for the card, where no other has been made: everything known, judged."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.card.evening import evening, looking
from plumbstar.kit import Kit
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.deepsky import DeepSkyList
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.model import Conditions, Route
from plumbstar.targets.order import plan
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import survey
from plumbstar.targets.wishes import Wishes


def order_of(
    asked: Instant,
    site: Site,
    kit: Kit,
    sky: Conditions,
    skyline: Skyline,
    objects: DeepSkyList,
    doubles: Sequence[Double],
    *,
    own: DeepSkyList | None = None,
    bodies: Sequence[Body] | None = None,
    wishes: Wishes | None = None,
    hours: float = 3.0,
) -> Route | None:
    """Targets from the first stars on, for so many hours; None where the Sun does not set."""
    e = evening(asked, site)
    span = looking(e, asked, hours)
    if span is None:
        return None
    # Judged to the night's end, so that what is left out for being better later can say so.
    night = survey(
        objects, doubles, span[0], e.last, site, kit, sky, skyline, own=own, bodies=bodies
    )
    return plan(night, (wishes or Wishes()).choose(prospects(night)), *span)
