"""What the sightings measure of the mount, told whatever went wrong, with its mend."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from plumbstar.diagnose.explain.causes import several
from plumbstar.diagnose.explain.causes.base_leaning import BaseLeaning
from plumbstar.diagnose.explain.causes.both import Both
from plumbstar.diagnose.explain.causes.coarse_centring import CAUSE as COARSE_HAND
from plumbstar.diagnose.explain.causes.cone import Cone
from plumbstar.diagnose.explain.causes.runout import Runout
from plumbstar.diagnose.explain.causes.squareness import Squareness
from plumbstar.diagnose.explain.causes.stop_off import KIND as STOP_OFF
from plumbstar.diagnose.explain.causes.stop_off import StopOff
from plumbstar.diagnose.explain.causes.term import WideTerm
from plumbstar.diagnose.explain.causes.ticks import Ticks
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.diagnose.explain.off_zero import OffZero, off_zero, over_all, stop_far_off
from plumbstar.diagnose.explain.sizes import arc, lean, low
from plumbstar.diagnose.explain.unseen import LEAST, unseen
from plumbstar.mount.terms import N_TERMS, SCALES
from plumbstar.text.advice import Advice
from plumbstar.text.words import sigma_with_unit
from plumbstar.units import Array

#: From this probability on that nothing explains the sightings, they measure nothing.
_LOST = 0.5
#: Two things are named together only when both are so probable.
_BOTH_SURE = 0.8


@dataclass(frozen=True)
class Measured:
    """A term (or two that are one arrow) well away from zero. ``sentence``: how far and what it
    means; ``mend`` puts it right, with ``advice``."""

    off: OffZero
    sentence: str
    mend: str
    advice: Advice | None


def measured(o: Observations, judged: Sequence[Judged]) -> tuple[Measured, ...]:
    """All of them over all causes together; none where the sightings tell of nothing."""
    lost = sum(j.probability for j in judged if j.kind == several.KIND)
    if lost > _LOST:
        return ()
    mean, covariance = over_all(judged)
    ordinary = next((j for j in judged if j.kind == "nothing"), judged[0])
    ordinary = _with_terms(ordinary, mean, covariance)
    out = []
    for off in off_zero(o, mean, covariance):
        form = _form(off)
        j = replace(ordinary, best=replace(ordinary.best, form=form))
        said = f"{_how_far(off, j)}. {_meaning(off)}"
        mend = form.deed(o, j) if isinstance(form, WideTerm) else form.mend(o, j)
        out.append(Measured(off, said, mend, form.advice(o, j)))
    return tuple(out)


def as_one(
    o: Observations, judged: Sequence[Judged], seen: Sequence[Measured]
) -> tuple[Judged, ...]:
    """The causes, likeliest first; those that differ only in whether they call a term far off which
    is measured are one.

    Such as "nothing" and a stop that is off, or a slip with and without that stop: they differ in a
    name, not in what is so, and two chances for them would answer one question twice. Where nothing
    else went wrong, and the stop is off by more than the kit expects, it is called by the stop.
    From :data:`LEAST` sightings on its ``at_all`` becomes the chance that nothing else shows.
    """
    told = {m.off.terms for m in seen}
    groups: list[list[Judged]] = []
    for j in judged:
        same = next((g for g in groups if _same(g[0], j, told)), None)
        if same is None:
            groups.append([j])
        else:
            same.append(j)
    ordinary = next((g for g in groups if g[0].kind == "nothing"), [])
    if any(stop_far_off(o, m.off) for m in seen):
        ordinary.sort(key=lambda j: j.kind != STOP_OFF)
    one = []
    for g in groups:
        whole = sum(j.probability for j in g)
        # Of two things that differ in a measured term, the wider one holds the other. That nothing
        # else went wrong is said of the whole evening: beside something else it is not so.
        held = max(j.at_all for j in g) if _besides(g[0], told) else 0.0
        also = tuple(j.kind for j in g[1:])
        at_all, all_that_shows = max(whole, held), False
        if o.n >= LEAST and any(j.kind == "nothing" for j in g):
            at_all, all_that_shows = min(1.0, whole + unseen(judged, g)), True
        lead = replace(g[0], probability=whole, at_all=at_all, also=also)
        one.append(replace(lead, all_that_shows=all_that_shows))
    # By the one figure that is told as measured.
    mean, covariance = over_all(judged)
    one = [_with_terms(j, mean, covariance) if j.kind == STOP_OFF and j.also else j for j in one]
    return tuple(sorted(one, key=lambda j: -j.probability))


def named(
    judged: Sequence[Judged], seen: Sequence[Measured], sure: Callable[[float, float], bool]
) -> Judged | None:
    """What can be said to have happened, alone or beside something else: two things where both are
    :data:`_BOTH_SURE`, else the likeliest. ``sure``: whether its probability and that of the best
    without it allow that."""
    told = {m.off.terms for m in seen}
    more_first = sorted(judged, key=lambda j: (-len(_besides(j, told)), -j.at_all))
    for j in more_first:
        mine = Counter(_besides(j, told))
        without = [
            x.probability
            for x in judged
            if x is not j
            and not (mine and mine <= Counter(_besides(x, told)))
            # Several small things are no other cause to go and look for: they look the same, their
            # chance is what is missing in that of a coarse hand, and it is told beside it.
            and {j.kind, x.kind} != {COARSE_HAND.name, several.KIND}
        ]
        both = mine.total() > 1 and j.at_all < _BOTH_SURE
        if not both and sure(j.at_all, max(without, default=0.0)):
            return j
    return None


def _same(leader: Judged, j: Judged, told: Collection[tuple[str, ...]]) -> bool:
    """Whether a cause less likely than ``leader`` says the same but for measured terms. A term that
    is called far off in place of another one is a rival."""
    (named, besides), (more, others) = _split(leader, told), _split(j, told)
    return besides == others and (named <= more or more <= named)


def _split(j: Judged, told: Collection[tuple[str, ...]]) -> tuple[set[str], list[str]]:
    """The kinds of a cause: those that call a measured term far off, and the others; "nothing" is
    neither."""
    both = j.form
    kinds = both.kinds if isinstance(both, Both) else (j.kind,)
    forms = (both.first, both.second) if isinstance(both, Both) else (both,)
    named = {
        kind
        for kind, form in zip(kinds, forms, strict=True)
        if isinstance(form, WideTerm) and form.terms in told
    }
    return named, [kind for kind in kinds if kind not in named and kind != "nothing"]


def _with_terms(j: Judged, mean: Array, covariance: Array) -> Judged:
    """The same with the terms (12,) of the mount as they are over all causes."""
    whole_mean, whole_cov = j.mean.copy(), j.covariance.copy()
    whole_mean[:N_TERMS], whole_cov[:N_TERMS, :N_TERMS] = mean, covariance
    return replace(j, mean=whole_mean, covariance=whole_cov)


def _besides(j: Judged, told: Collection[tuple[str, ...]]) -> tuple[str, ...]:
    """The kinds of a cause, "nothing" and measured terms left out."""
    both = j.form
    parts = (
        zip(both.kinds, (both.first, both.second), strict=True)
        if isinstance(both, Both)
        else [(j.kind, j.form)]
    )
    return tuple(
        kind
        for kind, form in parts
        if kind != "nothing" and not (isinstance(form, WideTerm) and form.terms in told)
    )


@dataclass(frozen=True)
class _Droops(WideTerm):
    """No cause of its own: no outing goes wrong by it alone."""

    def mend(self, o: Observations, j: Judged) -> str:
        return "Stiffen the tube, or move the balance."


def _form(off: OffZero) -> WideTerm | Ticks:
    """Whose mend it is."""
    name = off.terms[0]
    if name in SCALES:
        return Ticks(name.removesuffix("_scale"), 1.0, 0.0, fitted=True)
    kinds: dict[str, type[WideTerm]] = {
        "altitude_zero": StopOff,
        "squareness": Squareness,
        "cone": Cone,
        "droop": _Droops,
        "azimuth_runout_sin": Runout,
        "lean_north": BaseLeaning,
    }
    return kinds[name](off.terms)


def _how_far(off: OffZero, j: Judged) -> str:
    name, size = off.terms[0], off.size
    if name in SCALES:
        circle = name.removesuffix("_scale")
        way = "too little" if size > 0 else "too far"
        sigma = sigma_with_unit(100 * off.sigma, "percent")
        return f"The {circle} reading turns {abs(100 * size):.2f} % {way} (± {sigma})"
    deg, sigma_deg = math.degrees(size), math.degrees(off.sigma)
    side = "right" if size > 0 else "left"
    what = {
        "altitude_zero": f"The upright stop makes the altitude read {low(deg)}",
        "squareness": f"The {side}-hand bearing is {arc(deg)} low",
        "cone": f"The tube points {arc(deg)} {side} of square",
        "droop": f"Laid level, the tube {'sags' if size > 0 else 'rises'} by {arc(deg)}",
        "azimuth_runout_sin": f"Once a turn the azimuth reads up to {arc(deg)} wrong either way",
        "lean_north": f"The base leans {lean(j)}",
    }[name]
    return f"{what} (± {arc(sigma_deg)})"


def _meaning(off: OffZero) -> str:
    """For the fix, and for whoever trusts the stop or takes the mount as perfect."""
    if off.terms[0] == "lean_north":
        return "The fix allows for it."
    if off.terms[0] == "altitude_zero":
        miss = arc(math.degrees(off.size))
        return (
            "The fix allows for it; a controller that trusts the stop does not, and is off by up "
            f"to {miss}."
        )
    return "The fix allows for it; a controller that takes the mount as perfect does not."
