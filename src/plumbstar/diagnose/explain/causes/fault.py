"""A simulated fault, as the simulator applies it step by step; each cause's file has its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes.aims import Aim, places_of
from plumbstar.errors import UserError
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array


class Fault:
    """One thing gone wrong: what it does to an outing. The defaults do nothing."""

    #: The name of the cause.
    kind: str
    #: How many times worse every star is centred.
    coarser: float = 1.0
    #: How slow the observer's clock is, seconds.
    seconds: float = 0.0
    #: Whether the observer's time or site is wrong, so that places must be those of named stars.
    misplaces: bool = False

    @property
    def parts(self) -> tuple[Fault, ...]:
        """The single faults that it is made of."""
        return (self,)

    def recorded_site(self, site: Site) -> Site:
        """The site that the observer believes in while standing at ``site``."""
        return site

    def really_sighted(self) -> tuple[int, Aim] | None:
        """Which sighting was of another star, and of which."""
        return None

    def turn(self, terms: Array) -> None:
        """Change the mount's terms (n, 12) of each sighting, radians, in place."""

    def push(self, offset: Array) -> None:
        """Change how far off the middle each star stood (n, 2), radians on the sky, in place."""

    def gear(self, readings: Array) -> None:
        """Change what the circles show (n, 2), radians, in place."""

    def write_down(self, readings: Array) -> None:
        """Change what the observer wrote of it (n, 2), radians, in place."""


@dataclass(frozen=True)
class Scene:
    """The outing for which a fault is drawn. ``neighbours``: the stars that may be taken for a
    wrong one."""

    plan: Sequence[Star]
    instants: Sequence[Instant]
    site: Site
    neighbours: Sequence[Star] = ()


def believed_places(
    fault: Fault, plan: Sequence[Aim], instants: Sequence[Instant], site: Site
) -> Array:
    """True places (n, 2), degrees, as the observer's clock and site give them. Raises
    :class:`UserError` for bare directions where the fault is one of time or site."""
    shown = [t.plus_seconds(-fault.seconds) for t in instants]
    if fault.misplaces and any(isinstance(a, tuple) for a in plan):
        raise UserError("bare directions", "stars, for a fault of time or site", "Name the stars")
    out: Array = np.degrees(places_of(plan, shown, fault.recorded_site(site)))
    return out


def pick(rng: np.random.Generator, table: Sequence[tuple[float, ...]]) -> tuple[float, ...]:
    """A row of a table by its first column, without that column."""
    weights = np.array([row[0] for row in table])
    return tuple(table[int(rng.choice(len(table), p=weights / weights.sum()))][1:])


def normal(rng: np.random.Generator, sigma: float, count: int = 1) -> tuple[float, ...]:
    """So many numbers about zero."""
    return tuple(float(x) for x in sigma * rng.standard_normal(count))
