"""Weigh all causes of one outing against each other: numbers only, words are elsewhere."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtrc

from plumbstar.diagnose.explain import model, pairs, thirds
from plumbstar.diagnose.explain.causes import CAUSES, FAULT_RATES, PAIRED, several
from plumbstar.diagnose.explain.causes.both import AND, Both
from plumbstar.diagnose.explain.causes.kind import Found
from plumbstar.diagnose.explain.forms import Judged, Observations, Unstated, Variant
from plumbstar.diagnose.explain.model import WeighedForm
from plumbstar.units import Array

#: A tube does not tip over the top or far below level: chance that a good reading says it did.
_OVER_THE_TOP = 0.002
#: Altitude readings a tube can have, degrees.
_TUBE_RANGE_DEG = (-15.0, 97.0)
#: A cause explains the sightings where chance leaves such a misfit oftener than this.
_MISFIT = 0.01
_COARSE = "coarse_centring"
#: Causes that any misfit can be put down to.
_ANY_MISFIT = (_COARSE, several.KIND)
#: Log of how much less probable than the best a pair may be and still be named.
_WORTH = math.log(1e-3)


def judge(outing: Observations, fault_rates: Mapping[str, float] = FAULT_RATES) -> list[Judged]:
    """Every kind with its probability, most probable first; the probabilities sum to one.

    Evidence of a kind is the sum over its forms of (prior of the form) x (Laplace evidence); forms
    that were searched over, such as neighbouring stars, thereby pay for the search. Where something
    went wrong, a second thing may hide behind it: pairs are kinds of their own, joined by "+".
    Those are left out that are not one in a thousand as probable as the best.
    """
    alone, searched = _each_alone(outing)
    rates = dict(fault_rates)
    together = several.pair_rates(rates, PAIRED)
    if several.KIND in rates:
        # Its rate holds that of pairs, and of three things, which are weighed by themselves.
        apart = sum(together.values()) + several.rate_of_three(rates, PAIRED)
        rates[several.KIND] = max(0.1 * rates[several.KIND], rates[several.KIND] - apart)
    kinds = {k: _Kind.of(k, rate, alone, searched.get(k, ())) for k, rate in rates.items()}
    found = {k: kind for k, kind in kinds.items() if kind is not None}
    leader, fits = _leader(outing, found)
    if outing.n > 2 and not (fits and leader.name == "nothing"):
        behind = leader.best.variant if fits else None
        tried = _priced(outing, pairs.search(outing, alone, behind))
        for (a, b), rate in together.items():
            name = f"{a}{AND}{b}"
            kind = _Kind.of(name, rate, tried, ())
            parents = [found[k] for k in (a, b) if k in found]
            if kind is not None:
                found[name] = kind.beside(parents)
        if not fits and several.KIND in found and outing.n >= pairs.LEAST:
            found |= _with_a_third(outing, tried, alone, rates, together)
        if several.KIND in found:
            found |= _as_several(found)
    best = max(k.log_weight for k in found.values())
    found = {n: k for n, k in found.items() if AND not in n or k.log_weight > best + _WORTH}
    top = model.log_sum([k.log_weight for k in found.values()])
    named = _at_all([k.judged(top) for k in found.values()])
    return sorted(_without_thirds(named), key=lambda j: -j.probability)


def _with_a_third(
    o: Observations,
    tried: Sequence[WeighedForm],
    alone: Sequence[WeighedForm],
    fault_rates: Mapping[str, float],
    together: Mapping[tuple[str, str], float],
) -> dict[str, _Kind]:
    """The likeliest pairs with one thing more, as kinds "a+b+several"."""
    by_name = {f"{a}{AND}{b}": rate for (a, b), rate in together.items() if rate > 0}
    at_rate = [(math.log(by_name[w.variant.kind]) + w.joint, w) for w in tried
               if w.variant.kind in by_name]  # fmt: skip
    likely = [w for _, w in sorted(at_rate, key=lambda x: -x[0])]
    three = _priced(o, thirds.search(o, likely, alone, fault_rates))
    kinds = {w.variant.kind for w in three}
    each = {k: _Kind.of(k, by_name[k.rpartition(AND)[0]], three, ()) for k in kinds}
    return {name: kind for name, kind in each.items() if kind is not None}


def _as_several(found: Mapping[str, _Kind]) -> dict[str, _Kind]:
    """Beside whatever else, what looks like a coarse hand may be several small things."""
    log_share = math.log(several.BESIDE_ANOTHER)
    out: dict[str, _Kind] = {}
    for k in found.values():
        kinds = k.name.split(AND)
        if len(kinds) == 1 or _COARSE not in kinds:
            continue
        kinds.remove(_COARSE)
        name = AND.join(kinds if _is_three(k.name) else [*kinds, several.KIND])
        weights = [k.log_weight + log_share, *(x.log_weight for x in [out.get(name)] if x)]
        out[name] = replace(k, name=name, log_weight=model.log_sum(weights))
    return out


def _at_all(judged: Sequence[Judged]) -> list[Judged]:
    """With the probability that each happened, alone or beside something else."""
    holds = [Counter(j.kind.split(AND)) for j in judged]
    return [
        replace(
            j,
            at_all=min(
                1.0, sum(x.probability for x, h in zip(judged, holds, strict=True) if mine <= h)
            ),
        )
        for j, mine in zip(judged, holds, strict=True)
    ]


def _without_thirds(judged: Sequence[Judged]) -> list[Judged]:
    """Two things and a third are "several"."""
    three = sum(j.probability for j in judged if _is_three(j.kind))
    return [
        replace(j, probability=j.probability + three) if j.kind == several.KIND else j
        for j in judged
        if not _is_three(j.kind)
    ]


def _is_three(kind: str) -> bool:
    return kind.endswith(AND + several.KIND)


@dataclass(frozen=True)
class _Kind:
    """A kind with its log evidence, its log of rate times evidence, and its best form."""

    name: str
    total: float
    log_weight: float
    best: WeighedForm
    joints: Array
    costs: Array

    @staticmethod
    def of(
        name: str, rate: float, weighed: Sequence[WeighedForm], searched: Sequence[Found]
    ) -> _Kind | None:
        rows = [w for w in weighed if w.variant.kind == name]
        if not rows or rate <= 0:
            return None
        loose = [f.score for f in searched if f.variant is None]
        joints, costs = np.array([(w.joint, w.cost) for w in rows]).T
        total = model.log_sum(np.concatenate([joints, loose]))
        best = rows[int(np.argmax(joints))]
        return _Kind(name, total, math.log(rate) + total, best, joints, costs)

    def beside(self, parents: Sequence[_Kind]) -> _Kind:
        """A pair that knows how well either kind alone does."""
        form = self.best.variant.form
        if not isinstance(form, Both) or not parents:
            return self
        alone_deg = min(p.judged(p.log_weight).agree_deg() for p in parents)
        variant = replace(self.best.variant, form=replace(form, alone_deg=alone_deg))
        return replace(self, best=replace(self.best, variant=variant))

    def judged(self, top: float) -> Judged:
        """With its probability, where all log weights sum to ``top``."""
        w = self.best
        shares = np.exp(self.joints - self.total)
        probability = math.exp(self.log_weight - top)
        return Judged(
            self.name,
            probability,
            self.total,
            w.variant,
            float(np.max(shares)),
            w.mean,
            w.covariance,
            w.residuals,
            shares,
            self.costs,
        )


def _each_alone(o: Observations) -> tuple[list[WeighedForm], dict[str, list[Found]]]:
    """Every form of every cause solved, and what was searched for in the catalogue."""
    hand = o.noise.centring
    variants = [v for cause in CAUSES.values() for v in cause.forms(o)]
    if o.sky is None:
        return _priced(o, model.weigh(variants, hand)), {}
    weighed = model.weigh([*variants, *(_left_out(o, i) for i in range(o.n))], hand)
    weighed, lone = weighed[: len(variants)], weighed[len(variants) :]
    without = (
        np.array([w.mean for w in lone]),
        np.array([w.covariance for w in lone]),
        np.array([w.log_evidence for w in lone]),
    )
    searched = {c.name: c.search(o, *without) for c in CAUSES.values() if c.search is not None}
    exact = [f.variant for found in searched.values() for f in found if f.variant is not None]
    return _priced(o, [*weighed, *model.weigh(exact, hand)]), searched


def _leader(o: Observations, found: Mapping[str, _Kind]) -> tuple[_Kind, bool]:
    """The best single cause, and whether it leaves no more misfit than chance would."""
    named = [k for k in found.values() if k.name not in _ANY_MISFIT]
    best = max(named or found.values(), key=lambda k: k.log_weight)
    unknown = int(np.count_nonzero(np.isinf(best.best.variant.sigma)))
    return best, bool(chdtrc(max(1, 2 * o.n - unknown), best.best.cost) > _MISFIT)


def _priced(o: Observations, weighed: Sequence[WeighedForm]) -> list[WeighedForm]:
    """With the price of altitudes that no tube has."""
    low, high = _tube_range_deg(o)
    alt = np.degrees(o.readings[:, 1])
    sound = bool(np.all((alt >= low) & (alt <= high)))
    # Most models leave the readings as they are, and these are mostly sound.
    return [
        w
        if sound and w.variant.readings is o.readings
        else replace(w, log_evidence=w.log_evidence + _over_the_top(w.variant, low, high))
        for w in weighed
    ]


def _left_out(o: Observations, i: int) -> Variant:
    """The ordinary model without sighting i."""
    weight = 1.0 / o.variance
    weight[i] = 0.0
    return o.variant("left_out", 1.0, Unstated(), weight=weight)


def _tube_range_deg(o: Observations) -> tuple[float, float]:
    low, high = _TUBE_RANGE_DEG
    if o.kit is not None:
        high = max(high, o.kit.telescope.max_alt_deg + 7.0)
    return low, high


def _over_the_top(v: Variant, low: float, high: float) -> float:
    """log of the price of altitude readings, degrees, that no tube has."""
    alt = np.degrees(v.readings[:, 1])
    used = v.weight[:, 1] > 0
    outside = int(np.count_nonzero(((alt < low) | (alt > high)) & used))
    return math.log(_OVER_THE_TOP) if outside else 0.0
