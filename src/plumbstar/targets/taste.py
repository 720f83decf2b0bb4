"""What this observer has seen, and of which kinds most: a little more of what is liked, and the new
before the known. Judgement."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from plumbstar.errors import UserError
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target
from plumbstar.targets.wishes import Group, group_of, name_of

#: What was seen before is worth this much of itself; the kind that makes up all finds this much
#: more than one that was never looked at.
_SEEN, _LIKED = 0.75, 0.4
#: So many finds, spread evenly, are taken as made before the first: one evening is no taste.
_BEFORE = 12.0


@dataclass(frozen=True)
class Taste:
    """``seen``: names (:func:`name_of`) of what was found; ``finds``: how many of each group."""

    seen: frozenset[str] = frozenset()
    finds: Counter[Group] = field(default_factory=Counter)

    def factor(self, target: Target) -> float:
        """By how much the observer's past makes it worth more or less; 1 without a past."""
        new = _SEEN if name_of(target) in self.seen else 1.0
        group = group_of(target)
        total = sum(self.finds.values())
        if group is None or not total:
            return new
        usual = 1.0 / 5.0
        share = (self.finds[group] + usual * _BEFORE) / (total + _BEFORE)
        return new * (1.0 + _LIKED * (share - usual))


def taste_of(finds: Iterable[str]) -> Taste:
    """From the names in the log, one for each find; those that mean nothing now are left out."""
    seen, counts = set(), Counter[Group]()
    for name, times in Counter(finds).items():
        try:
            target = lookup.find_target(name)
        except UserError:
            continue
        seen.add(name_of(target))
        group = group_of(target)
        if group is not None:
            counts[group] += times
    return Taste(frozenset(seen), counts)
