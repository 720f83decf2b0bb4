"""A third thing beside two: enough of it to know that there are more than two, not which.

Where no cause alone explains the sightings, each of the likeliest pairs is tried with one thing
more: a sighting off, or a slip. The third has no name of its own in the answer, it makes the
pair "several"; what is told of the two counts for them all the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from plumbstar.diagnose.explain import model
from plumbstar.diagnose.explain.causes import rates, several
from plumbstar.diagnose.explain.causes.both import AND, Both, both
from plumbstar.diagnose.explain.causes.careless_sighting import NotCentred
from plumbstar.diagnose.explain.causes.slip import SlipForm
from plumbstar.diagnose.explain.forms import Form, Observations
from plumbstar.diagnose.explain.model import WeighedForm

#: So many pairs are tried with a third thing.
_PAIRS = 6


def search(
    o: Observations,
    pairs: Sequence[WeighedForm],
    singles: Sequence[WeighedForm],
    fault_rates: Mapping[str, float],
) -> list[WeighedForm]:
    """The likeliest of ``pairs`` (solved, at their rates) with a third thing. Kinds are those of
    the pair, joined to "several"; the rate of the third stands in their log prior."""
    thirds = _thirds(singles)
    tried = []
    seen: set[tuple[frozenset[Form], str]] = set()
    for w in pairs[:_PAIRS]:
        form = w.variant.form
        assert isinstance(form, Both)
        two = (form.first, form.second)
        for t in thirds:
            same = any(_one_place(t.variant.form, f) for f in two)
            three = (frozenset((*two, t.variant.form)), w.variant.kind)
            v = None if same or three in seen else both(o, form.kinds, w.variant, t.variant)
            if v is None:
                continue
            seen.add(three)
            rate = fault_rates.get(t.variant.kind, 0.0) / rates.ASKED
            log_prior = v.log_prior + math.log(rate) if rate > 0 else -math.inf
            kind = f"{w.variant.kind}{AND}{several.KIND}"
            tried.append(replace(v, kind=kind, log_prior=log_prior, form=several.Several()))
    return model.weigh(tried, o.noise.centring)


def _thirds(singles: Sequence[WeighedForm]) -> list[WeighedForm]:
    """Of a sighting that is off, and of each slip, all sizes as one in the middle."""
    by_form: dict[tuple[str, Form], list[WeighedForm]] = {}
    for w in singles:
        if isinstance(w.variant.form, NotCentred | SlipForm):
            by_form.setdefault((w.variant.kind, w.variant.form), []).append(w)
    out = []
    for rows in by_form.values():
        middle = rows[len(rows) // 2]
        prior = model.log_sum([w.variant.log_prior for w in rows])
        out.append(replace(middle, variant=replace(middle.variant, log_prior=prior)))
    return out


def _one_place(a: Form, b: Form) -> bool:
    if a.about is not None:
        return a.about == b.about
    return a == b if isinstance(b, SlipForm) else a.since == b.since
