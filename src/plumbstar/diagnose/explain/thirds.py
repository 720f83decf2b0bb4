"""A third thing beside two: enough of it to know that there are more than two, not which.

Where no cause alone explains the sightings, each of the likeliest pairs is tried with one thing
more, at every place. The third has no name of its own in the answer, it makes the pair "several";
what is told of the two counts for them all the same.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from plumbstar.diagnose.explain import model, pairs
from plumbstar.diagnose.explain.causes import rates, several
from plumbstar.diagnose.explain.causes.both import AND, Both, both
from plumbstar.diagnose.explain.causes.coarse_centring import CoarseCentring
from plumbstar.diagnose.explain.causes.slip import SlipForm
from plumbstar.diagnose.explain.forms import Form, Observations, Variant
from plumbstar.diagnose.explain.model import WeighedForm

#: So many pairs are tried with a third thing.
_PAIRS = 6


def search(
    o: Observations,
    likely: Sequence[WeighedForm],
    singles: Sequence[WeighedForm],
    fault_rates: Mapping[str, float],
) -> list[WeighedForm]:
    """The first of ``likely`` pairs (solved, the likeliest first) with a third thing. Kinds are
    those of the pair, joined to "several"; the rate of the third stands in their log prior."""
    groups = list(pairs.places_of_causes(o, singles))
    tried = []
    seen: set[tuple[frozenset[Form], str]] = set()
    for w in _worth_it(likely):
        form = w.variant.form
        assert isinstance(form, Both)
        two = tuple(zip(form.kinds, (form.first, form.second), strict=True))
        for g in groups:
            three = (frozenset((form.first, form.second, g.form)), w.variant.kind)
            each = _rate(fault_rates, g.kind)
            if each <= 0 or three in seen or any(_same_place(g, *x) for x in two):
                continue
            seen.add(three)
            kind = f"{w.variant.kind}{AND}{several.KIND}"
            for share, size in _sizes(o, g, each, _rate(fault_rates, "wrong_star")):
                v = both(o, form.kinds, w.variant, size)
                if v is not None:
                    log_prior = w.variant.log_prior + math.log(share)
                    tried.append(replace(v, kind=kind, log_prior=log_prior, form=several.Several()))
    return model.weigh(tried, o.noise.centring)


def _worth_it(likely: Sequence[WeighedForm]) -> Iterator[WeighedForm]:
    """The first pairs, each in its likeliest form; and, since a coarse hand takes up what a third
    thing would explain, the first without one."""
    first: dict[tuple[Form | None, ...], WeighedForm] = {}
    for w in likely:
        form = w.variant.form
        assert isinstance(form, Both)
        two = (form.first, form.second)
        first.setdefault(tuple(None if isinstance(x, CoarseCentring) else x for x in two), w)
    yield from itertools.islice(first.values(), _PAIRS)
    rest = itertools.islice(first.items(), _PAIRS, None)
    already = sum(None not in two for two in itertools.islice(first, _PAIRS))
    sharp = (w for two, w in rest if None not in two)
    yield from itertools.islice(sharp, max(0, _PAIRS - already))


def _rate(fault_rates: Mapping[str, float], kind: str) -> float:
    """How often a cause comes beside others."""
    return fault_rates.get(kind, 0.0) / rates.ASKED


def _sizes(
    o: Observations, g: pairs.Group, each: float, star: float
) -> Iterator[tuple[float, Variant]]:
    """How often the third is of each size, and its model. Of a sighting that is off by anything a
    number may be misread, or it was of another star."""
    shares = [math.exp(x.log_prior) for x in g.sizes]
    yield from ((share * each, x) for share, x in zip(shares, g.sizes, strict=True))
    if g.of_one:
        anything = max(0.0, 1.0 / o.n - sum(shares)) * each + star / o.n
        if anything > 0:
            yield anything, g.first_tried


def _same_place(g: pairs.Group, kind: str, form: Form) -> bool:
    """Whether the third would say what one of the two says."""
    if g.form.about is not None:
        return g.form.about == form.about
    if g.form.since is None:
        return g.kind == kind
    slips = isinstance(g.form, SlipForm) and isinstance(form, SlipForm)
    return g.form == form if slips else g.form.since == form.since
