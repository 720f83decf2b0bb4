"""The mount over many outings: what each term was, whether it jumped or drifted, what to mend.

Each outing contributes what its sightings alone say (:class:`plumbstar.diagnose.learn.Evidence`,
the prior taken out), so nothing believed beforehand is counted twice. All models are linear and
Gaussian, so their evidence is exact::

    value in outing i  =  lasting value (anew after each recorded mend)
                          + scatter_i + nothing | step of one term from one outing on | slope of one
    lasting value ~ N(kit's prior);  step, slope over the span ~ N(0, kit's sigma^2)

The constant mount, each single step (term, outing) and each slope compete by evidence times prior
(MacKay 2003, ch. 28; a single change point as in Smith 1975, Biometrika 62, 407, from memory). The
size of the scatter is averaged over. What one outing says of a term depends on the others, so all
terms are held jointly: a stop that jumped does not make the cone jump with it.

:mod:`.models` weighs the hypotheses, :mod:`.jobs` says what mending would buy; all of it comes back
as a :class:`~.record.Summary`, for which :mod:`.say` has the words.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from plumbstar.choose.forecast import Belief
from plumbstar.diagnose.history.jobs import jobs_of, learnt_from
from plumbstar.diagnose.history.models import SCATTERS, Guess, model_of, segments, terms_now, weigh
from plumbstar.diagnose.history.record import Job, Point, Summary, TermChange, TermOverOutings
from plumbstar.diagnose.history.say import change_sentence, job_advice, job_words, sentence
from plumbstar.diagnose.learn import FLOOR, Evidence, FreeTerms
from plumbstar.errors import UserError
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import shown_in
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do
from plumbstar.units import Array

__all__ = [
    "FOUND",
    "MENTION",
    "Job",
    "Summary",
    "TermChange",
    "TermOverOutings",
    "change_sentence",
    "job_advice",
    "job_words",
    "sentence",
    "summarise",
]

#: Changes less probable than the first are not mentioned, above the second they count as found.
MENTION, FOUND = 0.3, 0.8


def summarise(
    outings: Sequence[Evidence],
    base: Priors,
    noise: Noise,
    field_deg: float,
    *,
    mends: Iterable[tuple[Instant, Sequence[str]]] = (),
) -> Summary:
    """What past outings teach about the mount. Pure: no clock, no disk.

    ``outings``: any order; those without a time come first. ``base``: the kit's priors, *not* the
    learnt ones. ``mends``: (when, terms) of recorded changes, after which those terms start anew.
    ``field_deg``: true field for the hit chances. Raises :class:`UserError` for no outings.
    """
    if not outings:
        raise UserError("No outing has any sightings", "", Advice(Do.LOG_AN_EVENING))
    if not (math.isfinite(field_deg) and field_deg > 0):
        raise UserError(f"a field of {field_deg:g}°", "more than 0", "Check the eyepiece")
    rows = sorted(outings, key=lambda e: e.utc.to_unix() if e.utc is not None else -math.inf)
    free = FreeTerms.of(base)
    names, unit, mean0 = free.names, free.unit, free.mean
    n, k = len(rows), len(names)
    info, vec = np.zeros((n, k, k)), np.zeros((n, k))
    for i, e in enumerate(rows):
        info[i], vec[i] = free.told_by(e)
    design, size, segment = segments(rows, names, list(mends))
    floors = np.array([FLOOR[t] for t in names]) / unit
    models = [model_of(info, vec, design, size, np.maximum(floors, s), w) for s, w in SCATTERS]
    guesses = weigh(models, rows, names, segment)
    logs = np.array([g.log_p for g in guesses])
    p = np.exp(logs - logs.max())
    p /= p.sum()

    now, now_cov, next_var = terms_now(models, guesses, p, design[-1], k)
    factor = np.array([shown_in(t)[0] for t in names])
    terms = []
    for j, name in enumerate(names):
        jumped, drifts = (
            float(sum(w for w, g in zip(p, guesses, strict=True) if (g.kind, g.term) == (kind, j)))
            for kind in ("jump", "drift")
        )
        points = tuple(
            _point(e, info[i], vec[i], j, float(mean0[j]), float(unit[j]), float(factor[j]))
            for i, e in enumerate(rows)
        )
        told = sum(q.tells and q.sigma < float(unit[j] * factor[j]) * 1.5 for q in points)
        ratio = math.sqrt(float(next_var[j]))
        terms.append(
            TermOverOutings(
                name=name,
                unit=shown_in(name)[1],
                points=points,
                now=float((mean0[j] + now[j] * unit[j]) * factor[j]),
                now_sigma=float(math.sqrt(max(now_cov[j, j], 0.0)) * unit[j] * factor[j]),
                next_sigma=float(ratio * unit[j] * factor[j]),
                kit_value=float(mean0[j] * factor[j]),
                kit_sigma=float(unit[j] * factor[j]),
                steady=1.0 - jumped - drifts,
                jumped=jumped,
                drifts=drifts,
                trust="trusted"
                if ratio <= 0.5 and told >= 3
                else "partly"
                if ratio < 0.8
                else "open",
            )
        )
    changes = _changes(guesses, p, rows, names, unit * factor)
    belief = Belief.from_priors(base)
    mean, cov = belief.mean.copy(), belief.covariance.copy()
    mean[free.at] = mean0 + now * unit
    spread = now_cov + np.diag(next_var - np.diag(now_cov))
    cov[np.ix_(free.at, free.at)] = spread * np.outer(unit, unit)
    belief = Belief(mean, cov)
    learnt = learnt_from(belief, base, names)
    changes_now = {c.name for c in changes if c.kind == "drift" and c.found}
    trust = {t.name: t.trust for t in terms}
    chances, jobs = jobs_of(
        belief, base, noise, math.radians(field_deg) / 2, names, trust, changes_now
    )
    steady = float(sum(w for w, g in zip(p, guesses, strict=True) if g.kind == "steady"))
    return Summary(
        outings=n,
        terms=tuple(terms),
        changes=changes,
        jobs=jobs,
        field_deg=field_deg,
        chance_one_star=chances[0],
        chance_two_stars=chances[1],
        chance_trusting=chances[2],
        steady=steady,
        belief=belief,
        assumed=learnt,
    )


def _point(
    e: Evidence, N: Array, v: Array, j: int, mean0: float, unit: float, factor: float
) -> Point:
    """One outing's word on one term, the others integrated out under the unit prior (Schur)."""
    others = np.arange(len(v)) != j
    inner = np.linalg.inv(N[np.ix_(others, others)] + np.eye(int(others.sum())))
    own = float(N[j, j] - N[j, others] @ inner @ N[others, j])
    if own < 0.02:  # less than a fiftieth of what the kit knows already
        return Point(e.outing_id, e.utc, math.nan, math.inf)
    value = float(v[j] - N[j, others] @ inner @ v[others]) / own
    return Point(
        e.outing_id, e.utc, (mean0 + value * unit) * factor, factor * unit / math.sqrt(own)
    )


def _changes(
    guesses: Sequence[Guess],
    p: Array,
    rows: Sequence[Evidence],
    names: Sequence[str],
    scale: Array,
) -> tuple[TermChange, ...]:
    """Steps and slopes worth a word, most probable first."""
    out: list[TermChange] = []
    for j, name in enumerate(names):
        unit = shown_in(name)[1]
        for kind in ("jump", "drift"):
            mine = [
                (w, g) for w, g in zip(p, guesses, strict=True) if g.kind == kind and g.term == j
            ]
            total = float(sum(w for w, _ in mine))
            if total < MENTION:
                continue
            by_outing: dict[int, float] = {}
            for w, g in mine:
                by_outing[g.outing] = by_outing.get(g.outing, 0.0) + float(w)
            best = max(by_outing, key=lambda i: by_outing[i])
            chosen = [(w, g) for w, g in mine if g.outing == best]
            weight = sum(w for w, _ in chosen)
            size = sum(w * g.size for w, g in chosen) / weight
            var = sum(w * (g.var + g.size**2) for w, g in chosen) / weight - size**2
            size, sigma = float(size * scale[j]), float(math.sqrt(max(var, 0.0)) * scale[j])
            ids: tuple[int | None, int | None] = (None, None)
            utc = None
            if kind == "jump":
                ids, utc = (rows[best].outing_id, rows[best - 1].outing_id), rows[best].utc
            out.append(
                TermChange(
                    "jump" if kind == "jump" else "drift",
                    name,
                    unit,
                    total,
                    size,
                    sigma,
                    *ids,
                    utc,
                    by_outing[best] / total,
                    total >= FOUND,
                )
            )
    return tuple(sorted(out, key=lambda c: -c.probability))
