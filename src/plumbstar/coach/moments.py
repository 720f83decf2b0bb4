"""Where and when a message's stars were sighted, as far as anybody said."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.coach.told import StarTold
from plumbstar.diagnose.explain.coach import moment
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

#: Lower than this, degrees, no star is seen; the air's bending and a hill are in it.
LOWEST_DEG = -2.0


@dataclass(frozen=True)
class Circumstances:
    """Where and when it was, as far as is known: ``when`` is the evening (``whole_day``) or the
    moment; ``timed``: whether anybody said so. ``zone`` of the clock times (local_time)."""

    site: Site | None
    when: Instant
    whole_day: bool
    timed: bool
    zone: str | None


def moment_of(s: StarTold, at: Circumstances) -> tuple[Instant, list[str]] | None:
    """When it was sighted, with what had to be assumed; None where nobody said."""
    said: list[str] = []
    if at.site is None or (s.clock is None and (at.whole_day or not at.timed)):
        return None
    height = s.alt.degrees if s.alt is not None else 45.0
    return (
        moment(s.clock, at.when, at.whole_day, at.zone, at.site, s.thing, height, said),
        said,
    )
