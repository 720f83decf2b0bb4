"""Were the promises kept? Of the pushes in the logbook, how many were promised to land in the
field, and how many did.

Each push is promised anew as it stood: from the sightings before it and what the outings before its
own had taught. Nothing that came after it is looked at. Beside a closed controller the chance is
kept with each push as it was stated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.teach import kit_then, learnt_priors
from plumbstar.kit import Kit
from plumbstar.logbook.fingerprint import fingerprint
from plumbstar.logbook.records import Find, Outing
from plumbstar.logbook.shown import load_display
from plumbstar.logbook.slips import Slip, cuts, doubted, slips_in, still
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.worked_out import WorkedOut, kind
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.angles import between_rad
from plumbstar.solve.epochs import solve_parts
from plumbstar.solve.since import still_chance

#: So many outings with pushes are looked at, the newest; and as few pushes tell nothing.
NEWEST, FEWEST = 10, 5
#: So many sigma from what was promised is more than chance.
BEYOND = 2.0

_SCORED, _KEPT = kind(list[tuple[float, bool]]), kind(tuple[float, bool] | None)


@dataclass(frozen=True)
class Score:
    """Of ``pushes``: the sum of the chances promised, its one sigma if all were true, and how many
    landed in the field."""

    pushes: int
    promised: float
    sigma: float
    landed: int

    @staticmethod
    def of(kept: Sequence[tuple[float, bool]]) -> Score:
        """From each push's promised chance, and whether it landed."""
        p = np.array([c for c, _ in kept], dtype=float)
        spread = math.sqrt(float(np.sum(p * (1.0 - p))))
        return Score(len(kept), float(p.sum()), spread, sum(hit for _, hit in kept))

    @property
    def off(self) -> float:
        """How far it is from what was promised, in sigmas; positive: more landed. Half a push
        either way is no difference."""
        gap = self.landed - self.promised
        return math.copysign(max(abs(gap) - 0.5, 0.0), gap) / max(self.sigma, 0.5)


def score_sentence(s: Score | None) -> str:
    """What was promised and what came; empty where too few pushes are logged."""
    if s is None or s.pushes < FEWEST:
        return ""
    said = (
        f"Of your last {s.pushes} pushes {round(s.promised)} were promised to land in the field, "
        f"and {s.landed} did."
    )
    if s.off < -BEYOND:
        return f"{said} That is too few for chance: take the stated chances as too high."
    if s.off > BEYOND:
        return f"{said} That is more than chance: the stated chances are too low."
    return f"{said} That is as promised, give or take chance."


def score_of(book: Logbook, kit: Kit) -> Score | None:
    """Of the newest pushes with this kit; None without any."""
    with WorkedOut.beside(book) as known:
        kept: list[tuple[float, bool]] = known.under(
            _SCORED,
            lambda: ("score", fingerprint(book, kit.name), kit),
            lambda: _newest(book, kit, known),
        )
    return Score.of(kept) if kept else None


def _newest(book: Logbook, kit: Kit, known: WorkedOut) -> list[tuple[float, bool]]:
    """Of each push of the newest outings that have any: the chance, and whether it landed."""
    kept: list[tuple[float, bool]] = []
    looked = 0
    for o in sorted(book.outings(kit=kit.name), key=lambda o: -o.started.to_unix()):
        finds = book.finds(o.id) if o.find_count else ()
        if not finds:
            continue
        beside = _beside(book, o)
        kept += beside if beside else _promises(book, kit, o, finds, known)
        looked += 1
        if looked == NEWEST:
            break
    return kept


def _beside(book: Logbook, o: Outing) -> list[tuple[float, bool]]:
    """Of each push on beside a closed controller: the chance as it was stated, which is kept with
    it, and whether it was kept."""
    shown = load_display(book.state(o.id))
    return [(e.promised, e.landed) for e in shown if e.promised is not None]


def _promises(
    book: Logbook, kit: Kit, o: Outing, finds: Sequence[Find], known: WorkedOut
) -> list[tuple[float, bool]]:
    """Of each push of an outing that could be promised anything: the chance, and whether it did."""
    then = kit_then(o, kit)
    learnt = learnt_priors(book, then, o.started, known)
    noise = learnt.noise(then)
    sighted = [s for s in book.sightings(o.id, active=True) if s.sighting.utc is not None]
    slips = slips_in(book.state(o.id))
    out = []
    vain: list[Find] = []  # pushes that ended in nothing
    for f in finds:
        # One press saves the sighting of a target with its find, at the same moment.
        before = [s for s in sighted if s.sighting.utc and f.utc.minus(s.sighting.utc) > 0]
        since = before[-1].sighting.utc if before else None
        pushes = 1 + sum(since is not None and v.utc.minus(since) > 0 for v in vain)
        told = None
        if before:
            ids, rows = [x.id for x in before], [x.sighting for x in before]
            told = known.of(_KEPT, _kept, f, ids, rows, learnt.priors, noise, slips, pushes)
        if f.found_az_deg is None:
            vain.append(f)
        if told is not None:
            out.append(told)
    return out


def _kept(
    f: Find,
    ids: Sequence[int],
    rows: Sequence[Sighting],
    priors: Priors,
    noise: Noise,
    slips: Sequence[Slip],
    pushes: int,
) -> tuple[float, bool] | None:
    """The chance of one push, the ``pushes``-th since the last sighting, and whether it landed;
    None where nothing could be promised. ``ids``, ``rows``: the sightings before it."""
    moved = cuts(slips, ids)
    if any(n == len(rows) for n, _ in moved):
        return None
    fix = solve_parts(rows, priors, noise, moved, still(slips, ids), doubted(slips, ids))[-1].fix
    if fix.contradictory:
        return None
    near, radius = rows[-1].az_reading_deg, f.field_radius_deg
    predicted = fix.direction_of(f.predicted_az_deg, f.predicted_alt_deg)
    az, alt = np.degrees(kinematics.az_alt(predicted))
    chance = still_chance(pushes) * float(fix.hit_chance(az, alt, 2.0 * radius, near))
    if f.found_az_deg is None or f.found_alt_deg is None:
        return chance, False
    found = fix.direction_of(f.found_az_deg, f.found_alt_deg)
    return chance, math.degrees(float(between_rad(predicted, found))) < radius
