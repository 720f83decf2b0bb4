"""Which stars to sight: every pair and triple that is up, ranked by what it would buy.

The ranking is by mean hit chance less the practical costs in ``COSTS``, each in points of hit
chance; both numbers are shown, so that the costs never hide the gain.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.choose.candidates import Candidate
from plumbstar.choose.routes import walked
from plumbstar.choose.score import (
    score_next,
    score_sets,
    score_trusting_stop,
    score_walk,
    unseen_mistakes,
)
from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix, sky_grid
from plumbstar.text import words
from plumbstar.units import Array, Indices

#: What makes a star a nuisance, in hit chance given up to avoid it. Common practice, no source.
COSTS = {
    "look-alike": 0.010,
    "faint": 0.008,  # each magnitude fainter than 1.5
    "high": 0.015,  # the azimuth runs fast, the neck bends
    "low": 0.010,  # shaken and dimmed
    "turning": 0.005,  # each half turn of pushing
    "faint first": 0.005,  # each star sighted before a brighter one, which shows earlier at dusk
}
#: A further sighting is advised while the chance is under ``GOOD`` and it would buy more than
#: ``WORTH_A_STAR``. Common practice, no source.
GOOD, WORTH_A_STAR = 0.9, 0.03
#: Above this a star counts as high, below that as low, degrees.
TOO_HIGH_DEG, TOO_LOW_DEG = 75.0, 20.0


@dataclass(frozen=True, slots=True)
class StarSet:
    """A pair or triple, in the order in which to sight them."""

    stars: tuple[Candidate, ...]
    mean_hit_chance: float
    cost: float
    trusting_stop: float
    push_deg: float


@dataclass(frozen=True, slots=True)
class Choice:
    """Tonight's choice: the best sets, what common practice would take, and all candidates."""

    instant: Instant
    field_deg: float
    sets: tuple[StarSet, ...]
    common_practice: StarSet | None
    candidates: tuple[Candidate, ...]
    sets_scored: int

    @property
    def best(self) -> StarSet:
        return self.sets[0]


def choose(
    stars: Sequence[Candidate],
    instant: Instant,
    prior: Priors,
    noise: Noise,
    field_deg: float,
    *,
    size: int = 2,
    targets: tuple[Array, Array] | None = None,
    skyline: Skyline | None = None,
    show: int = 10,
) -> Choice:
    """Rank all sets of ``size`` stars. ``targets``: az, alt (t,) radians; else the sky over 20 deg.

    Raises :class:`UserError` for too few stars or an odd size.
    """
    if size not in (2, 3):
        raise UserError(f"sets of {size} stars", "2 or 3", "Choose pairs or triples")
    if len(stars) < size:
        raise UserError(
            f"Only {words.many(len(stars), 'usable star')} for sets of {size}",
            "",
            "Allow fainter stars",
        )
    az = np.radians([c.az_deg for c in stars])
    alt = np.radians([c.alt_deg for c in stars])
    t_az, t_alt = targets if targets is not None else open_sky(skyline)
    radius = math.radians(field_deg) / 2
    mag = np.array([c.star.v_mag for c in stars])
    nuisance = np.array([_nuisance(c) for c in stars])

    def order_cost(rows: Indices, turned: Array) -> Array:
        return COSTS["turning"] / np.pi * turned + COSTS["faint first"] * _faint_first(mag[rows])

    scores = score_sets(az, alt, size, prior, noise, t_az, t_alt, radius, order_cost)
    sure = unseen_mistakes(size)
    cost = nuisance[scores.sets].sum(axis=1) + order_cost(scores.sets, scores.turned)
    order = np.argsort(cost - sure * scores.mean_hit_chance, kind="stable")

    def make(row: Indices, chance: float, turned: float) -> StarSet:
        at = az[row], alt[row], prior, noise, t_az, t_alt, radius
        cost = nuisance[row].sum() + order_cost(row[None], np.array([turned]))[0]
        return StarSet(
            tuple(stars[int(i)] for i in row),
            sure * chance,
            float(cost),
            sure * score_trusting_stop(*at),
            float(np.degrees(turned)),
        )

    practice = _common_practice(az, alt, scores.sets, mag)
    recipe = None
    if practice is not None:
        at = az[practice], alt[practice], prior, noise, t_az, t_alt, radius
        turned = float(np.abs(np.diff(walked(az[practice]))).sum())
        recipe = make(practice, score_walk(*at), turned)
    return Choice(
        instant,
        field_deg,
        tuple(
            make(scores.sets[r], float(scores.mean_hit_chance[r]), float(scores.turned[r]))
            for r in order[:show]
        ),
        recipe,
        tuple(stars),
        len(scores.sets),
    )


def _faint_first(mag: Array) -> Array:
    """How often (r,) in rows of magnitudes (r, k) a star comes before a brighter one."""
    out = np.zeros(len(mag))
    for a, b in itertools.combinations(range(mag.shape[1]), 2):
        out += mag[:, a] > mag[:, b]
    return out


def _nuisance(c: Candidate) -> float:
    """The costs of one star, in hit chance."""
    total = COSTS["faint"] * max(0.0, c.star.v_mag - 1.5)
    if c.lookalikes:
        total += COSTS["look-alike"]
    if c.alt_deg > TOO_HIGH_DEG:
        total += COSTS["high"]
    if c.alt_deg < TOO_LOW_DEG:
        total += COSTS["low"]
    return total


def _common_practice(az: Array, alt: Array, sets: Indices, mag: Array) -> Indices | None:
    """The set a usual recipe would take, brightest first: the brightest all more than 35 degrees
    apart.

    Common practice, no source.
    """
    places = kinematics.unit(az, alt)
    apart = places @ places.T < math.cos(math.radians(35.0))
    ok = np.ones(len(sets), dtype=bool)
    for a, b in itertools.combinations(range(sets.shape[1]), 2):
        ok &= apart[sets[:, a], sets[:, b]]
    rows = np.flatnonzero(ok)
    if not len(rows):
        return None
    best = sets[rows[np.argmin(mag[sets[rows]].sum(axis=1))]]
    out: Indices = best[np.argsort(mag[best], kind="stable")]
    return out


def open_sky(skyline: Skyline | None, min_alt_deg: float = 20.0) -> tuple[Array, Array]:
    """The sky grid above an altitude and the skyline: the targets when none are named."""
    az, alt = sky_grid(min_alt_deg)
    if skyline is None:
        return az, alt
    clear = np.degrees(alt) > skyline.altitude_deg(np.degrees(az))
    return (az[clear], alt[clear]) if np.any(clear) else (az, alt)


@dataclass(frozen=True, slots=True)
class NextStar:
    """The best next star and what it buys."""

    candidate: Candidate
    now: float
    after: float

    @property
    def worth_it(self) -> bool:
        """Whether anyone should be sent to it."""
        return self.now < GOOD and self.after - self.now > WORTH_A_STAR

    @property
    def changes_little(self) -> bool:
        """Whether even this star would change next to nothing."""
        return self.after - self.now < 0.005


def next_star(
    fix: Fix,
    stars: Sequence[Candidate],
    field_deg: float,
    *,
    targets: tuple[Array, Array] | None = None,
    skyline: Skyline | None = None,
) -> NextStar:
    """The candidate whose sighting would raise the mean hit chance most, costs counted."""
    seen = {s.star.casefold() for s in fix.sightings}
    left = [c for c in stars if not {c.star.label.casefold(), c.star.key.casefold()} & seen]
    left = left or list(stars)
    t_az, t_alt = targets if targets is not None else open_sky(skyline)
    now, after = score_next(
        fix,
        np.radians([c.az_deg for c in left]),
        np.radians([c.alt_deg for c in left]),
        t_az,
        t_alt,
        math.radians(field_deg) / 2,
    )
    best = int(np.argmax(after - np.array([_nuisance(c) for c in left])))
    return NextStar(left[best], now, float(after[best]))
