"""Names in the log and the places they stand for. Apart from the store, as it loads catalogues."""

from __future__ import annotations

from functools import lru_cache

from plumbstar.errors import UserError
from plumbstar.mount.sightings_file import Place
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.naming import lookup
from plumbstar.sky.naming.names import fold
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant


def log_name(target: Target) -> str:
    """The name for the log, by which it can be looked up again: a star's own, else the key."""
    if isinstance(target, DeepSky) and target.names:
        return target.names[0]
    return target.label if isinstance(target, Star) else target.key


def placing(site: Site) -> Place:
    """Gives the log's name of whatever a name stands for, and its observed place, from there."""

    def place(name: str, utc: Instant) -> tuple[str, float, float]:
        target = lookup.find_target(name)
        return (log_name(target), *place_of(target, utc, site))

    return place


@lru_cache(maxsize=4096)
def target_named(name: str) -> Target | None:
    """What the log's name stands for; None where no list has it now."""
    try:
        return lookup.find_target(name)
    except UserError:
        return None


def key_of(name: str) -> str:
    """The same for every name of one object; a name that no list has stands for itself."""
    target = target_named(name)
    if target is None:
        return fold(name) or name
    return target.star.key if isinstance(target, Double) else target.key
