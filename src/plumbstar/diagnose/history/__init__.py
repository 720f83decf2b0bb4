"""The mount over many outings: what each term was, whether it jumped or drifted, what to mend.

Each outing contributes what its sightings alone say (:class:`plumbstar.diagnose.evidence.Evidence`,
the prior taken out), so nothing believed beforehand is counted twice. The run is weighed by
:mod:`plumbstar.diagnose.weeks`, the one model from which the next fix's priors are learnt as well:
what is said here of the mount is what the next fix believes. What one outing says of a term hangs
on the others, so all terms are held jointly: a stop that jumped makes no cone jump with it.

:mod:`.jobs` says what mending would buy; all of it comes back as a :class:`~.record.Summary`, for
which :mod:`.say` has the words.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from plumbstar.choose.forecast import Belief
from plumbstar.diagnose.evidence import Evidence
from plumbstar.diagnose.history.hindsight import held
from plumbstar.diagnose.history.jobs import jobs_of, learnt_from
from plumbstar.diagnose.history.record import (
    FOUND,
    Held,
    Job,
    Point,
    StopMended,
    Summary,
    TermChange,
    TermOverOutings,
)
from plumbstar.diagnose.history.say import (
    change_sentence,
    job_advice,
    job_words,
    mended_sentence,
    sentence,
    sentences,
)
from plumbstar.diagnose.learn import StopMoved, run_of
from plumbstar.diagnose.weeks import Happening, Weeks, weigh
from plumbstar.errors import UserError
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import STOP, shown_in
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do
from plumbstar.units import Array

__all__ = [
    "FOUND",
    "MENTION",
    "Job",
    "StopMended",
    "Summary",
    "TermChange",
    "TermOverOutings",
    "change_sentence",
    "job_advice",
    "job_words",
    "mended_sentence",
    "sentence",
    "sentences",
    "summarise",
]

#: Changes less probable than that are not mentioned.
MENTION = 0.3


def summarise(
    outings: Sequence[Evidence],
    base: Priors,
    noise: Noise,
    field_deg: float,
    *,
    mends: Iterable[tuple[Instant, Sequence[str]]] = (),
    moved: Sequence[StopMoved] = (),
) -> Summary:
    """What past outings teach about the mount. Pure: no clock, no disk.

    ``outings``: any order; those without a time come first. ``base``: the kit's priors, *not* the
    learnt ones. ``mends``: (when, terms) of recorded changes, after which those terms start anew;
    ``moved``: those that moved the stop by what was told.
    ``field_deg``: true field for the hit chances. Raises :class:`UserError` for no outings.
    """
    if not outings:
        raise UserError("No outing has any sightings", "", Advice(Do.LOG_AN_EVENING))
    if not (math.isfinite(field_deg) and field_deg > 0):
        raise UserError(f"a field of {field_deg:g}°", "more than 0", "Check the eyepiece")
    rows, free, run = run_of(outings, base, mends, moved)
    names, unit, mean0 = free.names, free.unit, free.mean
    weeks = weigh(run)
    now, now_cov = weeks.outing(-1)
    next_var = np.diag(now_cov) + weeks.scatter**2
    factor = np.array([shown_in(t)[0] for t in names])
    changes = _changes(weeks, rows, names, unit * factor)
    place = {e.outing_id: i for i, e in enumerate(rows)}
    then, then_sigma, apart = *held(weeks), weeks.odd
    terms = []
    for j, name in enumerate(names):
        jumped, drifts = _happened(weeks, j)
        points = tuple(
            _point(e, run.info[i], run.vec[i], j, float(mean0[j]), float(unit[j]), float(factor[j]))
            for i, e in enumerate(rows)
        )
        # What was before a mend, or a change that is found, says nothing of the value now.
        since = max(
            (
                place[c.outing_id]
                for c in changes
                if c.name == name and c.found and c.outing_id is not None
            ),
            default=0,
        )
        since = max([since, *(_first(m.reach) for m in run.moved if m.term == j)])
        told = sum(
            q.tells
            and q.sigma < float(unit[j] * factor[j]) * 1.5
            and i >= since
            and run.stretch[i, j] == run.stretch[-1, j]
            for i, q in enumerate(points)
        )
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
                told=told,
                trust="trusted"
                if ratio <= 0.5 and told >= 3
                else "partly"
                if ratio < 0.8
                else "open",
                held=tuple(
                    Held(
                        float((mean0[j] + m * unit[j]) * factor[j]), float(s * unit[j] * factor[j])
                    )
                    for m, s in zip(then[:, j], then_sigma[:, j], strict=True)
                ),
                odd=tuple(apart[:, j].tolist()),
            )
        )
    belief = Belief.from_priors(base)
    mean, cov = belief.mean.copy(), belief.covariance.copy()
    mean[free.at] = mean0 + now * unit
    spread = now_cov + np.diag(next_var - np.diag(now_cov))
    cov[np.ix_(free.at, free.at)] = spread * np.outer(unit, unit)
    belief = Belief(mean, cov)
    learnt = learnt_from(belief, base, names)
    changes_now = {c.name for c in changes if c.kind == "drift" and c.found}
    mended = _stop_mended(moved, weeks.turned, terms)
    sure = {STOP} if mended is not None and mended.to_undo else set()
    radius = math.radians(field_deg) / 2
    chances, jobs = jobs_of(belief, base, noise, radius, terms, changes_now, sure)
    return Summary(
        outings=len(rows),
        terms=tuple(terms),
        changes=changes,
        jobs=jobs,
        field_deg=field_deg,
        chance_one_star=chances[0],
        chance_two_stars=chances[1],
        chance_trusting=chances[2],
        steady=_steady(weeks),
        belief=belief,
        assumed=learnt,
        mended=mended,
    )


def _first(reach: Array) -> int:
    """The first outing that a mend has reached; past the last, one after them all."""
    return int(np.argmax(reach > 0)) if reach.any() else 0


def _stop_mended(
    moved: Sequence[StopMoved], turned: float, terms: Sequence[TermOverOutings]
) -> StopMended | None:
    stop = next((t for t in terms if t.name == STOP), None)
    if stop is None or not moved:
        return None
    m = max(moved, key=lambda m: m.utc.to_unix())
    since = sum(q.tells and q.utc is not None and q.utc >= m.utc for q in stop.points)
    return StopMended(
        m.utc, m.added_mm, math.degrees(m.size), turned, m.doubt, since, stop.now, stop.now_sigma
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


def _happened(weeks: Weeks, j: int) -> tuple[float, float]:
    """Chances that a term changed (and does not drift), and that it drifts."""
    drifts = Happening("drifts", j, -1)
    changed = drifting = 0.0
    for w, s in zip(weeks.shares.tolist(), weeks.stories, strict=True):
        if drifts in s.events:
            drifting += w
        elif any((e.kind, e.term) == ("changed", j) for e in s.events):
            changed += w
    return changed, drifting


def _steady(weeks: Weeks) -> float:
    """Chance that nothing changed and nothing drifts; odd outings are no change of the mount."""
    lasting = ("changed", "drifts")
    return float(
        sum(
            w
            for w, s in zip(weeks.shares, weeks.stories, strict=True)
            if not any(e.kind in lasting for e in s.events)
        )
    )


def _changes(
    weeks: Weeks, rows: Sequence[Evidence], names: Sequence[str], scale: Array
) -> tuple[TermChange, ...]:
    """Steps and slopes worth a word, most probable first."""
    out: list[TermChange] = []
    for j, name in enumerate(names):
        unit = shown_in(name)[1]
        for kind, group in (*(("jump", g) for g in _steps(weeks, j)), ("drift", [-1])):
            mine: dict[int, list[tuple[float, float, float]]] = {}
            for w, s in zip(weeks.shares.tolist(), weeks.stories, strict=True):
                for e in s.events:
                    of = "drifts" if kind == "drift" else "changed"
                    if (e.kind, e.term) == (of, j) and e.outing in group:
                        mine.setdefault(e.outing, []).append((w, *s.number(e)))
            total = min(sum(w for each in mine.values() for w, _, _ in each), 1.0)
            if total < MENTION:
                continue
            by_outing = {i: sum(w for w, _, _ in each) for i, each in mine.items()}
            best = max(by_outing, key=lambda i: by_outing[i])
            weight = by_outing[best]
            size = sum(w * x for w, x, _ in mine[best]) / weight
            var = sum(w * (v + x**2) for w, x, v in mine[best]) / weight - size**2
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
                    min(weight / total, 1.0),
                    total >= FOUND,
                )
            )
    return tuple(sorted(out, key=lambda c: -c.probability))


def _steps(weeks: Weeks, j: int) -> list[list[int]]:
    """The outings at which a term may have changed, grouped: one group for each change that one
    story has beside another. Dates that no story has together are one change, not well dated."""
    chance: dict[int, float] = {}
    for w, s in zip(weeks.shares.tolist(), weeks.stories, strict=True):
        for e in s.events:
            if (e.kind, e.term) == ("changed", j):
                chance[e.outing] = chance.get(e.outing, 0.0) + w
    if not chance:
        return []
    # The story whose changes of this term are likeliest, whatever else it has in it.
    sets: dict[frozenset[int], float] = {}
    for w, s in zip(weeks.shares.tolist(), weeks.stories, strict=True):
        steps = frozenset(e.outing for e in s.events if (e.kind, e.term) == ("changed", j))
        if steps:
            sets[steps] = sets.get(steps, 0.0) + w
    middles = sorted(max(sets.items(), key=lambda kv: kv[1])[0])
    groups: list[list[int]] = [[] for _ in middles]
    for i in sorted(chance):
        groups[min(range(len(middles)), key=lambda g: abs(middles[g] - i))].append(i)
    return groups
