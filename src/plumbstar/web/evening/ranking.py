"""What was worked out to help choose stars, as it is kept on the desk and shown on the pages."""

from __future__ import annotations

from typing import Literal

import msgspec


class RankedStars(msgspec.Struct, frozen=True):
    """A pair or triple. ``hit_chance_trusting_stop``: with the stop taken as true."""

    stars: tuple[str, ...]
    mean_hit_chance: float
    # Under its older name in the logbook.
    hit_chance_trusting_stop: float = msgspec.field(name="trusted_stop_hit_chance")
    cautions: tuple[str, ...]
    push_deg: float


class Ranking(msgspec.Struct, frozen=True, kw_only=True):
    """The best sets of stars. While it is "working" the triples, or all, are still to come.

    ``recipe``: what common practice would take. ``for_objects``: of how many of tonight's objects
    the chances are the mean; 0 for the whole sky. ``visible``: by a star's name, from when it shows
    in twilight (UTC), None for the whole night.
    """

    status: Literal["working", "ready"] = "working"
    asked_utc: str = ""
    pairs: tuple[RankedStars, ...] = ()
    triples: tuple[RankedStars, ...] = ()
    recipe: RankedStars | None = None
    for_objects: int = 0
    sentence: str = ""
    visible: dict[str, str | None] = {}


class NextToSight(msgspec.Struct, frozen=True):
    """The star that would help the present fix most, and what it buys; ``worth_it``: so much that
    it is advised."""

    star: str
    mean_hit_chance_now: float
    mean_hit_chance_after: float
    sentence: str
    worth_it: bool
