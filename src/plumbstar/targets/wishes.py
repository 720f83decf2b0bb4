"""What the observer would like of the evening: which hours, kinds, how hard, only what is new."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from plumbstar.errors import UserError
from plumbstar.sky.bodies import Body
from plumbstar.sky.events import sun_crossings
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets.model import Difficulty, Prospect
from plumbstar.targets.night_view import SUN_DOWN_DEG

Group = Literal["cluster", "nebula", "galaxy", "double", "body", "own"]
GROUPS: tuple[Group, ...] = get_args(Group)
_ORDER: tuple[Difficulty, ...] = get_args(Difficulty)
_KINDS: dict[str, Group] = {
    "open cluster": "cluster",
    "globular cluster": "cluster",
    "cluster with nebula": "cluster",
    "group of stars": "cluster",
    "star cloud": "cluster",
    "nebula": "nebula",
    "planetary nebula": "nebula",
    "reflection nebula": "nebula",
    "supernova remnant": "nebula",
    "dark nebula": "nebula",
    "double star": "double",
}


def group_of(target: Target) -> Group | None:
    """Which of the groups a target belongs to; None for what belongs to none."""
    if isinstance(target, Body):
        return "body"
    if isinstance(target, Double):
        return "double"
    return "galaxy" if "galax" in target.kind else _KINDS.get(target.kind)


def name_of(target: Target) -> str:
    """The name by which the look-up finds it and the log keeps it: a pair's is its star's."""
    return target.star.key if isinstance(target, Double) else target.key


def known(names: Iterable[str]) -> frozenset[str]:
    """As :func:`name_of`, for the log's names; those that mean nothing now are left out."""
    out = set()
    for name in names:
        try:
            out.add(name_of(lookup.find_target(name)))
        except UserError:
            continue
    return frozenset(out)


@dataclass(frozen=True)
class Wishes:
    """``kinds`` empty for all; ``own`` keys of the observer's objects;
    ``seen`` names (:func:`name_of`) of what is not wanted again."""

    kinds: frozenset[Group] = frozenset()
    hardest: Difficulty = "fair"
    own: frozenset[str] = frozenset()
    seen: frozenset[str] = frozenset()

    def choose(self, found: Iterable[Prospect]) -> list[Prospect]:
        """Those that fit, in the order they come."""
        most = _ORDER.index(self.hardest)
        return [
            p
            for p in found
            if _ORDER.index(p.difficulty) <= most
            and name_of(p.target) not in self.seen
            and self._kind(p.target)
        ]

    def _kind(self, target: Target) -> bool:
        if not self.kinds:
            return True
        if target.key in self.own:
            return "own" in self.kinds
        return group_of(target) in self.kinds


def group_named(text: str) -> Group:
    """Read a group's name. Raises :class:`UserError`."""
    word = text.strip().lower()
    for group in GROUPS:
        if word in (group, group + "s") or (group, word) in (
            ("galaxy", "galaxies"), ("nebula", "nebulae"), ("body", "planets"), ("body", "moon"),
            ("body", "bodies"),
        ):  # fmt: skip
            return group
    raise UserError(f"the kind '{text}'", f"one of {', '.join(GROUPS)}", "Leave it out for all")


def hours_of(now: Instant, site: Site) -> tuple[Instant, Instant]:
    """The night under way, from now to its end; by day, the next one. Sun 4 degrees down.

    A whole day where the Sun stays down. Raises :class:`UserError` where it stays up.
    """
    dusk, dawn = sun_crossings(now, site, SUN_DOWN_DEG)
    _, sun = place_of(Body("Sun"), now, site, airless=True)
    if sun < SUN_DOWN_DEG:
        return now, dawn.instant or now.plus_seconds(86400.0)
    if dusk.instant is None:
        raise UserError(
            f"The Sun does not set in the day after {now}",
            "",
            "Give a time when the nights are dark",
        )
    _, after = sun_crossings(dusk.instant.plus_seconds(60.0), site, SUN_DOWN_DEG)
    return dusk.instant, after.instant or dusk.instant.plus_seconds(86400.0)


def hours_or_hour(now: Instant, site: Site) -> tuple[Instant, Instant]:
    """As :func:`hours_of`; where the Sun does not set, an hour in which nothing shows."""
    try:
        return hours_of(now, site)
    except UserError:
        return now, now.plus_seconds(3600.0)
