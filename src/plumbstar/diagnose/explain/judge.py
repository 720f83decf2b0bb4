"""Weigh all causes of one outing against each other: numbers only, words are elsewhere."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from plumbstar.diagnose.explain import model
from plumbstar.diagnose.explain.causes import CAUSES, FAULT_RATES
from plumbstar.diagnose.explain.causes.kind import Found
from plumbstar.diagnose.explain.forms import Judged, Observations, Unstated, Variant

#: A tube does not tip over the top or far below level: chance that a good reading says it did.
_OVER_THE_TOP = 0.002
#: Altitude readings a tube can have, degrees.
_TUBE_RANGE_DEG = (-15.0, 97.0)


def judge(outing: Observations, fault_rates: Mapping[str, float] = FAULT_RATES) -> list[Judged]:
    """Every kind with its probability, most probable first; the probabilities sum to one.

    Evidence of a kind is the sum over its forms of (prior of the form) x (Laplace evidence); forms
    that were searched over, such as neighbouring stars, thereby pay for the search.
    """
    variants: list[Variant] = []
    for cause in CAUSES.values():
        variants += cause.forms(outing)
    searched: dict[str, list[Found]] = {}
    if outing.sky is not None:
        first = len(variants)
        lone = [_left_out(outing, i) for i in range(outing.n)]
        solved = model.solve([*variants, *lone])
        without = (solved.mean[first:], solved.covariance[first:], solved.log_evidence[first:])
        searched = {
            c.name: c.search(outing, *without) for c in CAUSES.values() if c.search is not None
        }
        exact = [f.variant for found in searched.values() for f in found if f.variant is not None]
        variants = [*variants, *exact]
        mean, cov = solved.mean[:first], solved.covariance[:first]
        residuals, evidence = solved.residuals[:first], solved.log_evidence[:first]
        if exact:
            extra = model.solve(exact)
            mean = np.concatenate([mean, extra.mean])
            cov = np.concatenate([cov, extra.covariance])
            residuals = np.concatenate([residuals, extra.residuals])
            evidence = np.concatenate([evidence, extra.log_evidence])
    else:
        solved = model.solve(variants)
        mean, cov, residuals = solved.mean, solved.covariance, solved.residuals
        evidence = solved.log_evidence
    evidence = evidence + np.array([_over_the_top(outing, v) for v in variants])

    found: list[tuple[float, Judged]] = []  # with the log of rate times evidence
    for kind, rate in fault_rates.items():
        rows = [j for j, v in enumerate(variants) if v.kind == kind]
        if not rows or rate <= 0:
            continue
        joint = np.array([evidence[j] + variants[j].log_prior for j in rows])
        loose = [f.score for f in searched.get(kind, ()) if f.variant is None]
        total = model.log_sum(np.concatenate([joint, np.array(loose)]))
        best = int(np.argmax(joint))
        j = rows[best]
        share = math.exp(float(joint[best]) - total)
        weighed = Judged(kind, 0.0, total, variants[j], share, mean[j], cov[j], residuals[j])
        found.append((math.log(rate) + total, weighed))
    top = model.log_sum(np.array([w for w, _ in found]))
    named = [replace(j, probability=math.exp(w - top)) for w, j in found]
    return sorted(named, key=lambda j: -j.probability)


def _left_out(o: Observations, i: int) -> Variant:
    """The ordinary model without sighting i."""
    weight = 1.0 / o.variance
    weight[i] = 0.0
    return o.variant("left_out", 1.0, Unstated(), weight=weight)


def _over_the_top(o: Observations, v: Variant) -> float:
    """log of the price of altitude readings that no tube has, unless the kit allows them."""
    low, high = _TUBE_RANGE_DEG
    if o.kit is not None:
        high = max(high, o.kit.telescope.max_alt_deg + 7.0)
    alt = np.degrees(v.readings[:, 1])
    used = v.weight[:, 1] > 0
    outside = int(np.count_nonzero(((alt < low) | (alt > high)) & used))
    return math.log(_OVER_THE_TOP) if outside else 0.0
