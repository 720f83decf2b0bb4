"""What past outings teach about the mount: priors for the next one.

Stop, squareness, cone, droop, scales and runout belong to the mount and last from outing to outing;
azimuth zero and leans are made anew by each set-up and are not learnt. What one outing says alone,
the prior of its fix taken out again, is its :class:`Evidence`; a run of them, with what was mended,
is weighed by the one model of :mod:`plumbstar.diagnose.weeks`, from which ``history`` tells as well
what changed. Here it becomes the next fix's priors.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.diagnose.evidence import AT, Evidence
from plumbstar.diagnose.hand import LearntHand, noise_of
from plumbstar.diagnose.weeks import RunOfOutings, TermMoved, Weeks, weigh
from plumbstar.diagnose.weeks.run import CHANGED, JUMP, ODD_TERM, STOP_SHARE
from plumbstar.diagnose.weeks.run import ODD as ODD_SIZE
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import MayHaveChanged, Noise, OneOf, Priors
from plumbstar.mount.terms import INDEX, TERMS
from plumbstar.sky.times import Instant
from plumbstar.units import Array, Bools, Indices

#: No learnt sigma and no scatter is narrower than this, radians (scales: a ratio). A plywood stop
#: or a collimated mirror comes back to a few arcminutes at best: common practice, no source.
FLOOR: Mapping[str, float] = {
    "altitude_zero": math.radians(0.05),
    "squareness": math.radians(0.02),
    "cone": math.radians(0.03),
    "droop": math.radians(0.02),
    "azimuth_scale": 1e-4,
    "altitude_scale": 1e-4,
    "azimuth_runout_sin": math.radians(0.01),
    "azimuth_runout_cos": math.radians(0.01),
    "refraction": math.radians(0.005),
}

ODD = 0.5  # an outing more likely than this to be odd is called so


@dataclass(frozen=True)
class FreeTerms:
    """The k lasting terms that a kit leaves free: places in a vector of terms, values, sigmas.

    A run of outings is weighed in units of these sigmas, so that a prior is always one.
    """

    names: tuple[str, ...]
    at: Indices
    mean: Array
    unit: Array

    @staticmethod
    def of(base: Priors) -> FreeTerms:
        """All but those ``base`` holds (sigma 0) or does not know (infinite)."""
        at = AT[(base.sigma[AT] > 0) & np.isfinite(base.sigma[AT])]
        return FreeTerms(tuple(TERMS[i] for i in at), at, base.mean[at], base.sigma[at])

    def told_by(self, e: Evidence) -> tuple[Array, Array]:
        """An outing's information (k, k) and vector (k,), about the kit's values, in its sigmas."""
        free = np.searchsorted(AT, self.at)
        N = e.information[np.ix_(free, free)]
        return N * np.outer(self.unit, self.unit), (e.vector[free] - N @ self.mean) * self.unit


@dataclass(frozen=True)
class StopMoved:
    """A recorded mend moved the upright stop's term by ``size``, known to ``sigma``, radians.

    ``added_mm``: what was put under the stop for that, minus for taken out. ``doubt``: the chance
    beforehand that it moved the other way, as the kit has the direction.
    """

    utc: Instant
    added_mm: float
    size: float
    sigma: float
    doubt: float


@dataclass(frozen=True)
class TermLearnt:
    """One term as learnt; ``mean`` and ``sigma`` are for the next outing, radians (or a ratio).

    ``scatter`` is the typical change from outing to outing; ``outings`` those that tell of the
    term, ``odd`` those among them that stand apart; ``since`` the last mend or reset.
    """

    name: str
    mean: float
    sigma: float
    kit_mean: float
    kit_sigma: float
    scatter: float
    outings: tuple[int, ...]
    odd: tuple[int, ...]
    since: Instant | None


@dataclass(frozen=True)
class Learnt:
    """Priors for the next outing. ``terms``: all that the kit leaves free, even if untaught.

    ``left_out``: outings whose sightings contradict one another too much to teach anything.
    ``hand``: how well this observer centres; None while no outing tells.
    """

    priors: Priors
    terms: tuple[TermLearnt, ...]
    left_out: tuple[int, ...] = ()
    hand: LearntHand | None = None

    def noise(self, kit: Kit) -> Noise:
        """The errors of the next fix: the kit's, with the hand as learnt."""
        return noise_of(kit, self.hand)

    def term(self, name: str) -> TermLearnt:
        """That term. Raises :class:`UserError` if it is held by the kit or not a lasting one."""
        for t in self.terms:
            if t.name == name:
                return t
        have = ", ".join(t.name for t in self.terms)
        raise UserError(f"the term '{name}'", f"one that is learnt ({have})", "Check the name")


def since_of(mends: Iterable[tuple[Instant, Sequence[str]]]) -> dict[str, Instant]:
    """The last mend of each term, from (time, terms)."""
    last: dict[str, Instant] = {}
    for utc, terms in mends:
        for t in terms:
            last[t] = max(utc, last.get(t, utc))
    return last


def run_of(
    outings: Sequence[Evidence],
    base: Priors,
    mends: Iterable[tuple[Instant, Sequence[str]]] = (),
    moved: Sequence[StopMoved] = (),
) -> tuple[list[Evidence], FreeTerms, RunOfOutings]:
    """The outings in order (those without a time first, before any mend), the terms that ``base``
    leaves free, and the run to be weighed. ``mends``: (when, terms), after which those start anew.
    ``moved``: those that moved the stop by what was told, after which it is the same stop.
    """
    rows = sorted(outings, key=lambda e: e.utc.to_unix() if e.utc is not None else -math.inf)
    free = FreeTerms.of(base)
    n, k = len(rows), len(free.names)
    info, vec = np.zeros((n, k, k)), np.zeros((n, k))
    for i, e in enumerate(rows):
        info[i], vec[i] = free.told_by(e)
    stretch = np.zeros((n + 1, k), dtype=np.int64)
    anew = list(mends)
    for utc, terms in anew:
        stretch[_from(rows, utc)] += np.array([t in terms for t in free.names])
    floor = np.array([FLOOR[t] for t in free.names]) / free.unit
    stop = free.names.index("altitude_zero") if "altitude_zero" in free.names else -1
    moves, doubt = [], 0.0
    for m in moved if stop >= 0 else ():
        number = sum(m.utc >= utc and "altitude_zero" in terms for utc, terms in anew)
        reach = (_from(rows, m.utc) & (stretch[:, stop] == number)).astype(float)
        unit = float(free.unit[stop])
        moves.append(TermMoved(stop, reach, m.size / unit, m.sigma / unit))
        doubt = m.doubt
    # Not every mistake touches what lasts. With the doubt itself a true change was put down to the
    # first outing with it: 2 sigma held 75 % of the stops after that one, 85 % with its square.
    when, faulty = _when(rows), np.array([e.doubt**2 for e in rows])
    run = RunOfOutings(info, vec, stretch, when, floor, stop, tuple(moves), doubt, faulty)
    return rows, free, run


def _from(rows: Sequence[Evidence], utc: Instant) -> Bools:
    """Which outings, and the next, come after something then, (n + 1,)."""
    return np.array([e.utc is not None and e.utc >= utc for e in rows] + [True])


def _when(rows: Sequence[Evidence]) -> Array:
    """The outings' times, from -1/2 at the first to 1/2 at the last; by count if times lack."""
    n = len(rows)
    times = [e.utc.to_unix() for e in rows if e.utc is not None]
    if len(times) == n and n > 1 and times[-1] > times[0]:
        t = np.array(times)
        return np.asarray((t - t[0]) / (t[-1] - t[0]) - 0.5)
    return np.arange(n) / max(n - 1, 1) - 0.5


def learn(
    outings: Sequence[Evidence],
    base: Priors,
    mends: Iterable[tuple[Instant, Sequence[str]]] = (),
    moved: Sequence[StopMoved] = (),
) -> Learnt:
    """Priors for the next outing from ``base`` (the kit's) and the evidence of past outings.

    ``mends``: (when, terms); outings before say nothing of those terms now (one without a
    time counts as before). ``moved``: mends of the stop by as much as was told; outings before
    still tell of it. Terms held by ``base`` (sigma 0) or unknown there stay as they are.
    """
    mends = list(mends)
    since = since_of(mends)
    rows, free, run = run_of(outings, base, mends, moved)
    names, unit, mean0 = free.names, free.unit, free.mean
    k = len(names)
    # It tells of a term if it alone would narrow the kit's sigma by 1 in 40.
    told = np.diagonal(np.linalg.inv(run.info + np.eye(k)), axis1=1, axis2=2) < 0.95
    told &= run.stretch[:-1] == run.stretch[-1]
    middle, width, scatter = np.zeros(k), np.ones(k), np.full(k, math.nan)
    weeks = weigh(run) if told.any() else None
    if weeks is not None:
        middle, cov = weeks.next()
        width, scatter = np.sqrt(np.diag(cov)), weeks.scatter
    terms = []
    for j, name in enumerate(names):
        mine = np.flatnonzero(told[:, j])
        # A term no outing tells of keeps the kit's prior to the letter.
        m, s = (middle[j], max(width[j], run.floor[j])) if mine.size else (0.0, 1.0)
        odd = [i for i in mine if weeks is not None and weeks.odd[i, j] > ODD]
        terms.append(
            TermLearnt(
                name,
                float(mean0[j] + m * unit[j]),
                float(s * unit[j]),
                float(mean0[j]),
                float(unit[j]),
                float(scatter[j] * unit[j]) if mine.size else math.nan,
                tuple(rows[i].outing_id for i in mine),
                tuple(rows[i].outing_id for i in odd),
                since.get(name),
            )
        )
    priors = base.replacing({t.name: (t.mean, t.sigma) for t in terms if t.outings})
    stop = run.stop if run.stop >= 0 and weeks is not None and told[:, run.stop].any() else -1
    one_of = _one_of(weeks, free, stop) if weeks is not None and stop >= 0 else ()
    changed = _may_have_changed(terms)
    return Learnt(replace(priors, changed=changed, one_of=one_of), tuple(terms))


#: Values of the stop that are told apart, at most; one with a smaller share is not worth a story of
#: its own; and they are only where the likeliest is known so much better than all together.
VALUES, WORTH, NARROWER = 3, 0.01, 0.8


def _one_of(weeks: Weeks, free: FreeTerms, stop: int) -> tuple[OneOf, ...]:
    """The values that the stop may have in the next outing, where the stories of the weeks do not
    agree on one: after a change that nobody told it may be as it was, after a mend it may have gone
    the other way. Each gathers the stories that agree with the likeliest of those left over.

    One normal law that covers two values far apart claims neither, and most of it lies between.
    """
    mean = np.array([s.outing(-1)[0][stop] for s in weeks.stories])
    var = np.array([s.outing(-1)[1][stop, stop] + s.scatter[stop] ** 2 for s in weeks.stories])
    left = np.ones(len(mean), dtype=bool)
    found: list[tuple[float, float, float]] = []
    while left.any() and len(found) < VALUES:
        top = int(np.argmax(np.where(left, weeks.shares, -1.0)))
        near = np.abs(mean - mean[top]) < 2.0 * np.sqrt(np.maximum(var, var[top]))
        mine = left & (near if len(found) < VALUES - 1 else True)
        left &= ~mine
        w = weeks.shares * mine
        share = float(w.sum())
        m = float(w @ mean) / share
        found.append((share, m, float(w @ (var + (mean - m) ** 2)) / share))
    kept = [f for f in found if f[0] > WORTH]
    whole = sum(share for share, _, _ in kept)
    middle = sum(share * m for share, m, _ in kept) / whole
    all_of = sum(share * (v + (m - middle) ** 2) for share, m, v in kept) / whole
    if len(kept) < 2 or kept[0][2] > NARROWER**2 * all_of:
        return ()
    unit, kit = float(free.unit[stop]), float(free.mean[stop])
    term = int(free.at[stop])
    return tuple(
        OneOf(term, share / whole, kit + m * unit, math.sqrt(v) * unit) for share, m, v in kept
    )


def _may_have_changed(terms: Iterable[TermLearnt]) -> tuple[MayHaveChanged, ...]:
    """What the next outing may find otherwise than learnt, as the model of the weeks has it: the
    stop changed since the last, or the tube is not on it this once."""
    return tuple(
        MayHaveChanged(INDEX[t.name], chance * STOP_SHARE, times * t.kit_sigma)
        for t in terms
        if t.name == "altitude_zero" and t.outings
        for chance, times in ((CHANGED, JUMP), (ODD_TERM, ODD_SIZE))
    )
