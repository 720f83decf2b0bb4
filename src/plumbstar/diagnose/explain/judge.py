"""Weigh all causes of one outing against each other: numbers only, words are elsewhere."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.diagnose.explain import hypotheses, model, rates
from plumbstar.diagnose.explain.hypotheses import Outing
from plumbstar.diagnose.explain.model import Variant
from plumbstar.sky.angles import offset_rad, separation_rad
from plumbstar.units import Array

#: Wrong stars whose evidence is computed exactly; the rest keep the linear estimate.
_EXACT_STARS = 10


@dataclass(frozen=True)
class Judged:
    """One kind: its probability, and its best form solved.

    ``share``: the best form's probability within the kind.
    """

    kind: str
    probability: float
    log_evidence: float
    best: Variant
    share: float
    mean: Array
    covariance: Array
    residuals: Array


def judge(outing: Outing, fault_rates: Mapping[str, float] = rates.FAULT_RATES) -> list[Judged]:
    """Every kind with its probability, most probable first; the probabilities sum to one.

    Evidence of a kind is the sum over its forms of (prior of the form) x (Laplace evidence); forms
    that were searched over, such as neighbouring stars, thereby pay for the search.
    """
    variants: list[Variant] = []
    for build in hypotheses.BUILDERS.values():
        variants += build(outing)
    n = outing.n
    stars: list[tuple[float, Variant | None]] = []
    if outing.heaven is not None:
        lone = [hypotheses.left_out(outing, i) for i in range(n)]
        solved = model.solve([*variants, *lone])
        stars = _wrong_stars(outing, solved, len(variants))
        exact = [v for _, v in stars if v is not None]
        variants_all = [*variants, *exact]
        extra = model.solve(exact)
        mean = np.concatenate([solved.mean[: len(variants)], extra.mean])
        cov = np.concatenate([solved.covariance[: len(variants)], extra.covariance])
        residuals = np.concatenate([solved.residuals[: len(variants)], extra.residuals])
        evidence = np.concatenate([solved.log_evidence[: len(variants)], extra.log_evidence])
    else:
        variants_all = variants
        solved = model.solve(variants)
        mean, cov, residuals = solved.mean, solved.covariance, solved.residuals
        evidence = solved.log_evidence
    evidence = evidence + np.array([hypotheses.over_the_top(outing, v) for v in variants_all])

    found: list[tuple[float, Judged]] = []  # with the log of rate times evidence
    for kind, rate in fault_rates.items():
        rows = [j for j, v in enumerate(variants_all) if v.kind == kind]
        if not rows or rate <= 0:
            continue
        joint = np.array([evidence[j] + variants_all[j].log_prior for j in rows])
        loose = [x for x, v in stars if v is None] if kind == "wrong_star" else []
        total = model.log_sum(np.concatenate([joint, np.array(loose)]))
        best = int(np.argmax(joint))
        j = rows[best]
        share = math.exp(float(joint[best]) - total)
        weighed = Judged(kind, 0.0, total, variants_all[j], share, mean[j], cov[j], residuals[j])
        found.append((math.log(rate) + total, weighed))
    top = model.log_sum(np.array([w for w, _ in found]))
    named = [replace(j, probability=math.exp(w - top)) for w, j in found]
    return sorted(named, key=lambda j: -j.probability)


def _wrong_stars(o: Outing, solved: model.Solved, first: int) -> list[tuple[float, Variant | None]]:
    """(log prior + linear log evidence, variant to solve exactly or None), each (sighting, star).

    Without sighting i the other sightings predict where its reading points; the evidence for any
    star there is a normal density, so that all neighbours of all sightings cost one product.
    """
    h = o.heaven
    assert h is not None
    joint, which = [], []
    for i in range(o.n):
        place = h.others_places[i]
        apart = np.degrees(separation_rad(o.true[i, 0], o.true[i, 1], place[:, 0], place[:, 1]))
        prior = rates.LOOK_ALIKES.weights(float(h.named_v[i]), h.others_v, apart)
        prior = np.where(place[:, 1] > math.radians(3.0), prior, 0.0) / o.n
        total = prior.sum() * o.n
        if total <= 0:
            continue
        keep = np.flatnonzero(prior)
        at, cov = hypotheses.predicted(o, i, solved.mean[first + i], solved.covariance[first + i])
        off = offset_rad(at[0], at[1], place[keep, 0], place[keep, 1])
        inverse = np.linalg.inv(cov)
        density = -0.5 * np.einsum("ki,ij,kj->k", off, inverse, off)
        density += 0.5 * np.linalg.slogdet(inverse)[1] - math.log(2 * math.pi)
        joint.append(np.log(prior[keep] / total) + solved.log_evidence[first + i] + density)
        which += [(i, int(k), float(prior[k] / total), float(apart[k])) for k in keep]
    if not which:
        return []
    score = np.concatenate(joint)
    best = set(np.argsort(-score)[:_EXACT_STARS].tolist())
    out: list[tuple[float, Variant | None]] = []
    for row, (i, k, p, apart_deg) in enumerate(which):
        v = None
        if row in best:
            detail = {
                "star": h.others_names[k],
                "v_mag": float(h.others_v[k]),
                "apart_deg": apart_deg,
                "place": h.others_places[i, k],
            }
            v = hypotheses.wrong_star(o, i, p, h.others_places[i, k], detail)
        out.append((float(score[row]), v))
    return out
