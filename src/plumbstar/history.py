"""The mount over many outings: what each term was, whether it jumped or drifted, what to mend.

Each outing contributes what its sightings alone say (:class:`plumbstar.learn.Evidence`, the prior
taken out), so nothing believed beforehand is counted twice. All models are linear and Gaussian, so
their evidence is exact::

    value in outing i  =  lasting value (anew after each recorded mend)
                          + scatter_i + nothing | step of one term from one outing on | slope of one
    lasting value ~ N(kit's prior);  step, slope over the span ~ N(0, kit's sigma^2)

The constant mount, each single step (term, outing) and each slope compete by evidence times prior
(MacKay 2003, ch. 28; a single change point as in Smith 1975, Biometrika 62, 407, from memory). The
size of the scatter is averaged over. What one outing says of a term depends on the others, so all
terms are held jointly: a stop that jumped does not make the cone jump with it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from plumbstar.errors import UserError
from plumbstar.learn import FLOOR, Evidence, FreeTerms
from plumbstar.mount import INDEX, SCALES, Array
from plumbstar.priors import Noise, Priors
from plumbstar.sky.times import Instant
from plumbstar.words import many, percent, upper_first
from plumbstar.worth import GOOD_PAIR, Belief, chance_over_sky, trusting_stop

#: Chance that something on the mount is knocked or re-seated between two outings, and that
#: something drifts over the whole span. Common practice, no source.
JUMP_PRIOR = 0.03
DRIFT_PRIOR = 0.05
#: Of those, how often it is the stop, or an altitude encoder re-seated. Common practice, no source.
STOP_SHARE = 0.6
#: Scatter from outing to outing, in units of the kit's sigma, and how likely each is beforehand:
#: the half-t of learn.py in four steps; never below learn.FLOOR.
SCATTERS: tuple[tuple[float, float], ...] = ((0.0, 0.35), (0.1, 0.25), (0.25, 0.25), (0.6, 0.15))
#: Changes less probable than the first are not mentioned, above the second they count as found.
MENTION, FOUND = 0.3, 0.8
#: Gains in hit chance below this are not worth a line.
SMALL_GAIN = 0.005

Trust = Literal["trusted", "partly", "open"]


@dataclass(frozen=True)
class Point:
    """What one outing alone says of one term: value and 1 sigma, degrees (scales: percent).

    The other lasting terms are integrated out under the kit's priors; ``sigma`` is infinite where
    the outing does not see the term.
    """

    outing_id: int
    utc: Instant | None
    value: float
    sigma: float

    @property
    def tells(self) -> bool:
        """Whether the outing says anything of the term."""
        return math.isfinite(self.sigma)


@dataclass(frozen=True)
class TermHistory:
    """One lasting term over the outings. Degrees, or percent for scales (``unit``).

    ``now`` with ``now_sigma``: the value in the last outing. ``next_sigma``: 1 sigma of the value
    in the next one, scatter and possible changes included. ``steady``, ``jumped``, ``drifts``:
    probabilities that sum to one.
    """

    name: str
    unit: str
    points: tuple[Point, ...]
    now: float
    now_sigma: float
    next_sigma: float
    kit_value: float
    kit_sigma: float
    steady: float
    jumped: float
    drifts: float
    trust: Trust


@dataclass(frozen=True)
class Change:
    """A step or a slope of one term that the outings suggest.

    ``outing_id``: the first outing after the step (most probable), with ``outing_probability``
    among all outings given that there was a step; None for a drift, whose ``size`` is over the
    whole span.
    """

    kind: Literal["jump", "drift"]
    name: str
    unit: str
    probability: float
    size: float
    size_sigma: float
    outing_id: int | None
    before_id: int | None
    utc: Instant | None
    outing_probability: float
    sentence: str


@dataclass(frozen=True)
class Job:
    """One thing to mend, and what it buys: hit chances, mean over the sky above 20 deg.

    ``gain_one_star`` and ``gain_two_stars``: with a fix that solves all terms under these learnt
    priors; ``gain_trusting``: with a recipe that trusts the stop and takes the mount as perfect.
    """

    name: str
    what: str
    gain_one_star: float
    gain_two_stars: float
    gain_trusting: float

    @property
    def gain(self) -> float:
        """The largest of the three, by which the list is ordered."""
        return max(self.gain_one_star, self.gain_two_stars, self.gain_trusting)


@dataclass(frozen=True)
class Summary:
    """Everything the outings say about the mount. See :func:`summarise`."""

    outings: int
    terms: tuple[TermHistory, ...]
    changes: tuple[Change, ...]
    jobs: tuple[Job, ...]
    field_deg: float
    chance_one_star: float
    chance_two_stars: float
    chance_trusting: float
    steady: float
    sentence: str
    #: Where the terms are in the next outing, and what a fix under these outings' priors assumes:
    #: for further forecasts (shims.py), so that they start from the same numbers.
    belief: Belief
    assumed: Priors

    def term(self, name: str) -> TermHistory:
        """That term. Raises :class:`UserError` when the kit holds it or it does not last."""
        for t in self.terms:
            if t.name == name:
                return t
        have = ", ".join(t.name for t in self.terms)
        raise UserError(f"the term '{name}'", f"one of {have}", "Check the name")

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""

        def point(p: Point) -> dict[str, Any]:
            return {
                "outing": p.outing_id,
                "utc": p.utc.iso() if p.utc is not None else None,
                "value": p.value if p.tells else None,
                "sigma": p.sigma if p.tells else None,
            }

        return {
            "outings": self.outings,
            "sentence": self.sentence,
            "steady_probability": self.steady,
            "field_deg": self.field_deg,
            "hit_chance": {
                "one_star": self.chance_one_star,
                "two_stars": self.chance_two_stars,
                "trusting_the_stop": self.chance_trusting,
            },
            "terms": [
                {
                    "term": t.name,
                    "unit": t.unit,
                    "now": t.now,
                    "now_sigma": t.now_sigma,
                    "next_sigma": t.next_sigma,
                    "kit_value": t.kit_value,
                    "kit_sigma": t.kit_sigma,
                    "steady_probability": t.steady,
                    "jumped_probability": t.jumped,
                    "drifts_probability": t.drifts,
                    "trust": t.trust,
                    "points": [point(p) for p in t.points],
                }
                for t in self.terms
            ],
            "changes": [
                {
                    "kind": c.kind,
                    "term": c.name,
                    "unit": c.unit,
                    "probability": c.probability,
                    "size": c.size,
                    "size_sigma": c.size_sigma,
                    "outing": c.outing_id,
                    "before": c.before_id,
                    "utc": c.utc.iso() if c.utc is not None else None,
                    "outing_probability": c.outing_probability,
                    "sentence": c.sentence,
                }
                for c in self.changes
            ],
            "jobs": [
                {
                    "term": j.name,
                    "what": j.what,
                    "gain": j.gain,
                    "gain_one_star": j.gain_one_star,
                    "gain_two_stars": j.gain_two_stars,
                    "gain_trusting": j.gain_trusting,
                }
                for j in self.jobs
            ],
        }


# ---- the models ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Model:
    """The run of outings in units of the kit's sigma, for one size of scatter.

    ``M`` (K, K), ``h`` (K,): information of the lasting values (one set for each segment between
    mends) under the prior N(0, 1) and all outings; ``design`` (n, k) says which column of K each
    outing's term is; ``info`` (n, k, k) and ``vec`` (n, k) with the scatter integrated out.
    """

    scatter: Array
    info: Array
    vec: Array
    design: np.ndarray[Any, np.dtype[np.int64]]
    C: Array
    x: Array
    log_z: float

    def extra(self, j: int, c: Array) -> tuple[float, Array, float, float]:
        """Add one variable ~ N(0, 1) that moves term ``j`` by ``c[i]`` in outing i.

        Returns the gain in log evidence, its coupling C B (K,), its mean and its variance.
        """
        B = np.zeros(len(self.x))
        np.add.at(B, self.design, c[:, None] * self.info[:, j, :])
        own = float(np.sum(c * c * self.info[:, j, j]))
        pull = float(np.sum(c * self.vec[:, j])) - float(B @ self.x)
        CB = self.C @ B
        s = own + 1.0 - float(B @ CB)
        return 0.5 * pull * pull / s - 0.5 * math.log(s), CB, pull / s, 1.0 / s


def _model(
    info: Array, vec: Array, design: Any, size: int, scatter: Array, weight: float
) -> _Model:
    n, k = vec.shape
    eye = np.eye(k)
    Q = np.diag(scatter**2)
    new_info, new_vec = np.empty_like(info), np.empty_like(vec)
    log_z = math.log(weight)
    for i in range(n):
        # Integrate w ~ N(0, Q) out of exp(-(p+w)'L(p+w)/2 + v'(p+w)); L may be singular.
        A = np.linalg.inv(eye + info[i] @ Q)
        new_info[i] = A @ info[i]
        new_info[i] = (new_info[i] + new_info[i].T) / 2
        new_vec[i] = A @ vec[i]
        log_z += 0.5 * float(vec[i] @ Q @ new_vec[i]) + 0.5 * float(np.linalg.slogdet(A)[1])
    M, h = np.eye(size), np.zeros(size)
    for i in range(n):
        M[np.ix_(design[i], design[i])] += new_info[i]
        h[design[i]] += new_vec[i]
    C = np.linalg.inv(M)
    C = (C + C.T) / 2
    x = C @ h
    log_z += 0.5 * float(h @ x) + 0.5 * float(np.linalg.slogdet(C)[1])
    return _Model(scatter, new_info, new_vec, design, C, x, log_z)


@dataclass(frozen=True)
class _Guess:
    """One hypothesis under one scatter: log weight, and the change it makes."""

    model: int
    kind: Literal["steady", "jump", "drift"]
    term: int
    outing: int
    log_p: float
    CB: Array
    size: float
    var: float
    effect_now: float


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
        raise UserError(
            "no outings with sightings", "at least one", "Log an evening, or `plumbstar log import`"
        )
    if not (math.isfinite(field_deg) and field_deg > 0):
        raise UserError(f"a field of {field_deg:g} deg", "more than 0", "Check the eyepiece")
    rows = sorted(outings, key=lambda e: e.utc.to_unix() if e.utc is not None else -math.inf)
    free = FreeTerms.of(base)
    names, unit, mean0 = free.names, free.unit, free.mean
    n, k = len(rows), len(names)
    info, vec = np.zeros((n, k, k)), np.zeros((n, k))
    for i, e in enumerate(rows):
        info[i], vec[i] = free.told_by(e)
    design, size, segment = _segments(rows, names, list(mends))
    floors = np.array([FLOOR[t] for t in names]) / unit
    models = [_model(info, vec, design, size, np.maximum(floors, s), w) for s, w in SCATTERS]
    guesses = _weigh(models, rows, names, segment)
    logs = np.array([g.log_p for g in guesses])
    p = np.exp(logs - logs.max())
    p /= p.sum()

    now, now_cov, next_var = _now(models, guesses, p, design[-1], k)
    factor = np.array([100.0 if t in SCALES else math.degrees(1.0) for t in names])
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
            TermHistory(
                name=name,
                unit="percent" if name in SCALES else "deg",
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
    changes = _changes(guesses, p, rows, names, unit * factor, segment)
    belief = Belief.from_priors(base)
    mean, cov = belief.mean.copy(), belief.covariance.copy()
    mean[free.at] = mean0 + now * unit
    spread = now_cov + np.diag(next_var - np.diag(now_cov))
    cov[np.ix_(free.at, free.at)] = spread * np.outer(unit, unit)
    belief = Belief(mean, cov)
    learnt = _learnt(belief, base, names)
    changes_now = {c.name for c in changes if c.kind == "drift" and c.probability >= FOUND}
    trust = {t.name: t.trust for t in terms}
    chances, jobs = _jobs(
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
        sentence=_sentence(n, terms, changes, jobs),
        belief=belief,
        assumed=learnt,
    )


def _segments(
    rows: Sequence[Evidence], names: Sequence[str], mends: Sequence[tuple[Instant, Sequence[str]]]
) -> tuple[Any, int, Any]:
    """Which lasting value each outing's term is: (n, k) columns, their number, and the count of
    mends that came before, (n, k)."""
    segment = np.zeros((len(rows), len(names)), dtype=np.int64)
    for utc, terms in mends:
        for j, name in enumerate(names):
            if name in terms:
                for i, e in enumerate(rows):
                    if e.utc is not None and e.utc >= utc:
                        segment[i, j] += 1
    design = np.zeros_like(segment)
    size = 0
    for j in range(len(names)):
        seen = {s: size + m for m, s in enumerate(dict.fromkeys(segment[:, j].tolist()))}
        design[:, j] = [seen[s] for s in segment[:, j].tolist()]
        size += len(seen)
    return design, size, segment


def _weigh(
    models: Sequence[_Model], rows: Sequence[Evidence], names: Sequence[str], segment: Any
) -> list[_Guess]:
    """Every hypothesis under every scatter, with its log weight."""
    n, k = len(rows), len(names)
    p_jump = 1.0 - (1.0 - JUMP_PRIOR) ** (n - 1)
    p_drift = DRIFT_PRIOR if n >= 3 else 0.0
    stop = "altitude_zero" in names
    others = k - 1 if stop else k
    share = np.full(k, (1.0 - STOP_SHARE * stop) / max(others, 1))
    if stop:
        share[names.index("altitude_zero")] = STOP_SHARE if others else 1.0
    when = _when(rows)
    guesses: list[_Guess] = []
    for m, model in enumerate(models):
        none = np.zeros(len(model.x))
        rest = math.log(max(1.0 - p_jump - p_drift, 1e-3))
        guesses.append(_Guess(m, "steady", -1, -1, model.log_z + rest, none, 0.0, 0.0, 0.0))
        for j in range(k):
            last = segment[-1, j]
            for i in range(1, n):
                # A step inside a stretch without a mend; at a mend the value starts anew anyway.
                if segment[i, j] != segment[i - 1, j]:
                    continue
                c = ((np.arange(n) >= i) & (segment[:, j] == segment[i, j])).astype(float)
                gain, CB, size, var = model.extra(j, c)
                log_p = model.log_z + gain + math.log(p_jump * share[j] / (n - 1))
                now = 1.0 if segment[i, j] == last else 0.0
                guesses.append(_Guess(m, "jump", j, i, log_p, CB, size, var, now))
            if p_drift:
                c = np.where(segment[:, j] == last, when, 0.0)
                gain, CB, size, var = model.extra(j, c)
                log_p = model.log_z + gain + math.log(p_drift * share[j])
                guesses.append(_Guess(m, "drift", j, -1, log_p, CB, size, var, float(c[-1])))
    return guesses


def _when(rows: Sequence[Evidence]) -> Array:
    """The outings' times, from -1/2 at the first to 1/2 at the last; by count if times lack."""
    n = len(rows)
    times = [e.utc.to_unix() for e in rows if e.utc is not None]
    if len(times) == n and n > 1 and times[-1] > times[0]:
        t = np.array(times)
        return np.asarray((t - t[0]) / (t[-1] - t[0]) - 0.5)
    return np.arange(n) / max(n - 1, 1) - 0.5


def _now(
    models: Sequence[_Model], guesses: Sequence[_Guess], p: Array, columns: Any, k: int
) -> tuple[Array, Array, Array]:
    """Mean (k,), covariance (k, k) of the lasting values now, and variance (k,) of the next."""
    mean, second, scatter = np.zeros(k), np.zeros((k, k)), np.zeros(k)
    for w, g in zip(p, guesses, strict=True):
        if w < 1e-6:
            continue
        m = models[g.model]
        # With the extra variable z: x -> x - CB z, and C grows by CB CB' var.
        x = (m.x - g.CB * g.size)[columns]
        CB = g.CB[columns]
        C = m.C[np.ix_(columns, columns)] + np.outer(CB, CB) * g.var
        if g.kind != "steady":
            e = np.zeros(k)
            e[g.term] = g.effect_now
            x = x + e * g.size
            cross = -np.outer(CB, e) * g.var
            C = C + cross + cross.T + np.outer(e, e) * g.var
        mean += w * x
        second += w * (C + np.outer(x, x))
        scatter += w * m.scatter**2
    cov = second - np.outer(mean, mean)
    return mean, cov, np.diag(cov) + scatter


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


_TOLD = {
    "altitude_zero": "the stop (or the altitude encoder)",
    "squareness": "the squareness of the bearings",
    "cone": "the cone (how square the tube sits)",
    "droop": "the droop",
    "azimuth_scale": "the azimuth scale",
    "altitude_scale": "the altitude scale",
    "azimuth_runout_sin": "the azimuth disc",
    "azimuth_runout_cos": "the azimuth disc",
}


def _changes(
    guesses: Sequence[_Guess],
    p: Array,
    rows: Sequence[Evidence],
    names: Sequence[str],
    scale: Array,
    segment: Any,
) -> tuple[Change, ...]:
    """Steps and slopes worth a word, most probable first."""
    out: list[Change] = []
    for j, name in enumerate(names):
        unit = "percent" if name in SCALES else "deg"
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
            verdict = "" if total >= FOUND else "perhaps "
            what = _TOLD[name]
            if kind == "jump":
                after, before = rows[best], rows[best - 1]
                day = f" ({after.utc.iso()[:10]})" if after.utc is not None else ""
                sentence = (
                    f"{verdict}{what} changed by {size:+.2f} ± {sigma:.2f} {unit} between outing "
                    f"{before.outing_id} and outing {after.outing_id}{day}: {percent(total)}"
                )
                ids: tuple[int | None, int | None] = (after.outing_id, before.outing_id)
                utc = after.utc
            else:
                sentence = (
                    f"{verdict}{what} drifts, {size:+.2f} ± {sigma:.2f} {unit} over the whole "
                    f"span: {percent(total)}"
                )
                ids, utc = (None, None), None
            out.append(
                Change(
                    "jump" if kind == "jump" else "drift",
                    name,
                    unit,
                    total,
                    size,
                    sigma,
                    *ids,
                    utc,
                    by_outing[best] / total,
                    upper_first(sentence),
                )
            )
    return tuple(sorted(out, key=lambda c: -c.probability))


_MEND = {
    "altitude_zero": (
        "Shim the stop (see docs/shims.md)",
        "Make the stop bear firmly and the same way each time: `plumbstar check stop-repeat`",
    ),
    "squareness": (
        "Square the altitude bearings: shim under one of the two",
        "Look for play in the altitude bearings",
    ),
    "cone": (
        "Square the tube in its cradle (`plumbstar check both-sides` if it can pass over the top)",
        "Look for what shifts the tube or the optical axis: cradle, mirror cell, collimation",
    ),
    "droop": ("Stiffen the tube, or move the balance", "Look for play in the tube"),
    "azimuth_scale": (
        "Correct ticks_per_turn: `plumbstar check once-round`",
        "Look for slip of the azimuth encoder: `plumbstar check once-round`",
    ),
    "altitude_scale": (
        "Correct the altitude ticks_per_turn",
        "Look for slip of the altitude encoder: `plumbstar check there-and-back`",
    ),
    "azimuth_runout_sin": ("Centre the azimuth disc", "Look for play in the azimuth disc"),
    "azimuth_runout_cos": ("Centre the azimuth disc", "Look for play in the azimuth disc"),
}


def _learnt(b: Belief, base: Priors, names: Sequence[str]) -> Priors:
    """The priors of a fix that knows what ``b`` knows of the lasting terms."""
    mean, sigma = base.mean.copy(), base.sigma.copy()
    for name in names:
        i = INDEX[name]
        mean[i], sigma[i] = b.mean[i], math.sqrt(b.covariance[i, i])
    return Priors(mean, sigma)


def _work(name: str, off: float, trust: str, drifts: bool) -> str:
    """What to do about a term that is ``off`` sigma from nought, in words.

    Nobody is sent to turn a screw for an offset that may be nought, or to look for play where no
    outing has told of the term yet.
    """
    told = _TOLD[name]
    if drifts:
        return f"Find what makes {told} drift before mending its present value"
    if off >= 2.0:
        return _MEND[name][0]
    if trust == "open" or off > 1.0:
        return f"More outings, with stars high and low, to learn of {told}"
    return _MEND[name][1]


def _jobs(
    belief: Belief,
    base: Priors,
    noise: Noise,
    radius: float,
    names: Sequence[str],
    trust: Mapping[str, str],
    drifting: Collection[str],
) -> tuple[tuple[float, float, float], tuple[Job, ...]]:
    """Hit chances as things are, and what each term's mending would add."""

    def three(b: Belief) -> tuple[float, float, float]:
        learnt = _learnt(b, base, names)
        return (
            chance_over_sky(b, learnt, GOOD_PAIR[:1], noise, radius),
            chance_over_sky(b, learnt, GOOD_PAIR, noise, radius),
            chance_over_sky(b, trusting_stop(base), GOOD_PAIR, noise, radius),
        )

    now = three(belief)
    jobs = []
    for name in names:
        i = INDEX[name]
        after = three(belief.with_term(name, 0.0, 0.0))
        off = float(abs(belief.mean[i]) / max(math.sqrt(belief.covariance[i, i]), 1e-12))
        gains = [a - b for a, b in zip(after, now, strict=True)]
        jobs.append(Job(name, _work(name, off, trust[name], name in drifting), *gains))
    jobs = [j for j in jobs if j.gain >= SMALL_GAIN]
    return now, tuple(sorted(jobs, key=lambda j: -j.gain))


def _sentence(
    n: int, terms: Sequence[TermHistory], changes: Sequence[Change], jobs: Sequence[Job]
) -> str:
    counted = many(n, "outing")
    known = [t.name.replace("_", " ").replace("altitude zero", "stop") for t in terms
             if t.trust == "trusted"]  # fmt: skip
    if changes:
        first = f"{changes[0].sentence}."
    elif n < 3:
        first = "Too few outings to tell a change from an accident."
    else:
        first = "Nothing has changed from outing to outing that these sightings can see."
    if known:
        second = f"Known well enough to start a night with: {', '.join(known)}."
    else:
        second = "No term is known well enough yet to start a night with."
    third = (
        f"What to do first: {jobs[0].what[0].lower()}{jobs[0].what[1:]}."
        if jobs
        else "Nothing is worth mending."
    )
    return f"{counted}. {first} {second} {third}"
