"""The mount over its outings as a strip: what a picture of it shows, as facts.

Stop, cone and the lean of the base in each outing with its sigma, what is believed of them, where
something was mended, and what is in doubt. Degrees.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from plumbstar.diagnose.history.record import Held, Summary, TermOverOutings
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve

#: The lasting terms that are drawn.
DRAWN = ("altitude_zero", "cone")
#: More likely than this to be odd, an outing is drawn apart.
APART = 0.5


@dataclass(frozen=True)
class Leaned:
    """How the base stood in one outing: where the top of the azimuth axis leaned, and 1 sigma of
    how far."""

    north_deg: float
    west_deg: float
    sigma_deg: float

    @property
    def amount_deg(self) -> float:
        """How far from level."""
        return math.hypot(self.north_deg, self.west_deg)


@dataclass(frozen=True)
class StripDot:
    """What one outing alone says of a term; ``apart``: it holds for that evening only."""

    value: float
    sigma: float
    apart: bool


@dataclass(frozen=True)
class StripBand:
    """A term over the outings of the strip: None where an outing says nothing of it, or was left
    out. ``held``: what is believed of it in each; ``now`` and ``ahead``: in the last, the next."""

    name: str
    dots: tuple[StripDot | None, ...]
    held: tuple[Held | None, ...]
    now: Held
    ahead: Held


@dataclass(frozen=True)
class StripMark:
    """Between outings ``at`` - 1 and ``at`` of the strip something was mended, or a term changed
    and nobody told; ``sure`` False: perhaps."""

    at: int
    kind: Literal["mend", "changed"]
    terms: tuple[str, ...]
    sure: bool
    words: str


@dataclass(frozen=True)
class StripNight:
    """One outing. ``left_out``: its sightings contradict one another."""

    outing_id: int
    utc: Instant | None
    left_out: bool
    leaned: Leaned | None


@dataclass(frozen=True)
class Strip:
    """All of it, oldest first."""

    kit: str
    nights: tuple[StripNight, ...]
    bands: tuple[StripBand, ...]
    marks: tuple[StripMark, ...]


def leaned(sightings: Sequence[Sighting], kit: Kit, noise: Noise) -> Leaned | None:
    """By the sightings of one outing and what its kit expects; None where they do not tell how far
    within half of the kit's own doubt, or something moved."""
    prior = Priors.from_kit(kit)
    fix = solve(sightings, prior, noise)
    at = [INDEX["lean_north"], INDEX["lean_west"]]
    lead = fix.stories[0].story
    stood = fix.of_a_mount_as_expected and not lead.moves and len(lead.bad) < 2
    if not stood or fix.contradictory or prior.sigma[at[0]] == 0:
        return None
    north, west = (float(math.degrees(fix.mean[i])) for i in at)
    cov = fix.covariance[at][:, at]
    amount = math.hypot(north, west)
    way = (north / amount, west / amount) if amount else (1.0, 0.0)
    var = sum(way[i] * way[j] * float(cov[i, j]) for i in (0, 1) for j in (0, 1))
    sigma = math.degrees(math.sqrt(max(var, 0.0)))
    if sigma > math.degrees(float(prior.sigma[at[0]])) / 2:
        return None
    return Leaned(north, west, sigma)


def strip_of(
    kit: Kit,
    summary: Summary,
    nights: Sequence[StripNight],
    mends: Sequence[tuple[Instant, Sequence[str], str]],
) -> Strip:
    """``nights``: all with this kit, oldest first; ``mends``: when, which terms, what was done."""
    place = {n.outing_id: i for i, n in enumerate(nights)}
    marks = [
        StripMark(
            sum(n.utc is None or n.utc < utc for n in nights), "mend", tuple(terms), True, words
        )
        for utc, terms, words in mends
    ]
    marks += [
        StripMark(place[c.outing_id], "changed", (c.name,), c.found, "")
        for c in summary.changes
        if c.kind == "jump" and c.outing_id in place
    ]
    bands = tuple(_band(t, place) for t in summary.terms if t.name in DRAWN)
    return Strip(kit.name, tuple(nights), bands, tuple(sorted(marks, key=lambda m: m.at)))


def _band(t: TermOverOutings, place: dict[int, int]) -> StripBand:
    dots: list[StripDot | None] = [None] * len(place)
    held: list[Held | None] = [None] * len(place)
    for p, h, odd in zip(t.points, t.held, t.odd, strict=True):
        held[place[p.outing_id]] = h
        if p.tells and p.sigma < 1.5 * t.kit_sigma:
            dots[place[p.outing_id]] = StripDot(p.value, p.sigma, odd > APART)
    last: Held | None = None
    for i in range(len(held)):  # an outing left out: as before it
        last = held[i] = held[i] or last
    return StripBand(
        t.name, tuple(dots), tuple(held), Held(t.now, t.now_sigma), Held(t.now, t.next_sigma)
    )
