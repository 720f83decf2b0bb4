"""Objects that share a field are one visit: which lead, and which come with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.targets.model import Prospect
from plumbstar.units import Array

#: Together when they stand no further apart than this part of the widest field, and never
#: further off than this. Judgement.
_OF_FIELD, _MOST_ARCMIN = 0.7, 45.0
#: What comes with it adds this much of its own worth, for so many of them; less is no company.
_ADDS, _SO_MANY, _LEAST_CHANCE, _LEAST_WORTH = 0.4, 4, 0.7, 0.6
_MOST_ADDED = 1.2
#: A whole (two clusters with a name together) leads its parts when it is worth so much of them.
_WHOLE = 0.6
#: How much longer to look for each that comes with it, minutes.
_LONGER_MINUTES = 2.0


def together(found: Sequence[Prospect], field_arcmin: float) -> list[Prospect]:
    """The same prospects, in their order: each with what comes with it, or with what leads it.

    ``field_arcmin`` is the widest field of the kit.
    """
    out = list(found)
    rows = [
        i
        for i, p in enumerate(found)
        if isinstance(p.target, DeepSky) and not isinstance(p.target, Double)
        and p.chance >= _LEAST_CHANCE and p.interest * p.chance >= _LEAST_WORTH
    ]  # fmt: skip
    if len(rows) < 2:
        return out
    near = _near([found[i] for i in rows], min(_OF_FIELD * field_arcmin, _MOST_ARCMIN))
    worth = [found[i].interest * found[i].chance for i in rows]
    taken: set[int] = set()
    for a in sorted(range(len(rows)), key=lambda k: (-worth[k], k)):
        if a in taken or not near[a]:
            continue
        lead = _whole_of(a, near[a], [found[i] for i in rows], worth, taken)
        others = [b for b in sorted(near[lead], key=lambda k: (-worth[k], k)) if b not in taken]
        others = [b for b in others if b != lead][:_SO_MANY]
        if not others:
            continue
        taken.update((lead, *others))
        head = found[rows[lead]]
        out[rows[lead]] = replace(
            head,
            interest=head.interest + min(_ADDS * sum(worth[b] for b in others), _MOST_ADDED),
            minutes=head.minutes + _LONGER_MINUTES * len(others),
            company=tuple(found[rows[b]].target for b in others),
        )
        for b in others:
            out[rows[b]] = replace(found[rows[b]], led_by=head.target.key)
    return out


def _near(found: Sequence[Prospect], reach_arcmin: float) -> list[list[int]]:
    """For each, those within reach; by declination first, as few are."""
    ra, dec = (np.radians([getattr(p.target, x) for p in found]) for x in ("ra_deg", "dec_deg"))
    v: Array = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    close = v.T @ v > np.cos(np.radians(reach_arcmin / 60.0))
    np.fill_diagonal(close, val=False)
    first, second = np.nonzero(close)
    out: list[list[int]] = [[] for _ in found]
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        out[a].append(b)
    return out


def _whole_of(
    a: int, near: Sequence[int], found: Sequence[Prospect], worth: Sequence[float], taken: set[int]
) -> int:
    """The larger object of its kind that holds it, where there is one that shows; or itself."""
    own = found[a].target
    assert isinstance(own, DeepSky)
    for b in near:
        other = found[b].target
        if (
            b not in taken and isinstance(other, DeepSky) and other.kind == own.kind
            and other.size_arcmin > 1.5 * own.size_arcmin and worth[b] >= _WHOLE * worth[a]
        ):  # fmt: skip
            return b
    return a
