"""Sightings that contradict one another: did something move between two of them?

A slip that the encoders could not show, a tripod that was knocked, a slip answered falsely with
"nothing moved": afterwards the sightings before and after each agree among themselves and not with
one another. Here the place is looked for where the evening is best cut, and what is best forgotten
there. It is a question to the observer, never done unasked.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import Axis
from plumbstar.mount.terms import INDEX, SCALES
from plumbstar.solve.epochs import freed, handed_on
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.suspects import NONSENSE, evidence_of_wrong_stars
from plumbstar.turns import half_turn

#: What may have moved at once, and its words.
MOVED_WORDS: dict[tuple[Axis, ...], str] = {
    ("azimuth",): "the azimuth circle",
    ("altitude",): "the altitude circle",
    ("azimuth", "altitude"): "both circles",
    ("azimuth", "base"): "the base, knocked or sunk",
}
#: The misfit down to which sightings agree.
AGREES = 0.01
#: The chance beforehand that something moves in an evening. Common practice, no source.
MOVED = 0.1
#: So many wrong stars are thought of.
MOST_WRONG = 4
#: How many times less well than stated a rough hand centres; how wrong a scale may be, 1 sigma.
ROUGH, WRONG_SCALE = 4.0, 0.1
#: So many of those cuts are weighed, the earliest: it is seldom that chance alone makes a later
#: sighting agree.
FEW = 4


@dataclass(frozen=True)
class Moved:
    """Something moved just before sighting ``first`` of the fix: these ``axes``.

    ``by_deg``: how far one circle's zero moved, NaN where that cannot be told.
    """

    first: int
    axes: tuple[Axis, ...]
    by_deg: float


def look(
    fix: Fix, beforehand: Priors, noise: Noise, answered: Collection[int] = ()
) -> Moved | None:
    """Where the sightings of a fix are best cut, or None when nothing tells that they should be.

    The cut and the axes of the largest evidence, of those after which the sightings agree.
    ``beforehand``: what was believed of the mount before the evening. ``answered``: cuts, by the
    index of the first sighting after, of which the observer knows that nothing moved. At least two
    sightings stand on each side and agree, or three after if those before do not.
    """
    if fix.misfit_probability >= NONSENSE:
        return None
    s = fix.sightings
    cuts = [c for c in _where_those_after_agree(fix, beforehand, noise)[-FEW:] if c not in answered]
    if not cuts:
        return None
    odds = math.log(MOVED / (len(MOVED_WORDS) * (len(s) - 1)))
    best, moved = max(_otherwise(s, fix.prior, noise)) - odds, None
    for cut in cuts:
        before = solve(s[:cut], fix.prior, noise, find_bad=False)
        sound = before.misfit_probability >= AGREES
        if not sound and len(s) - cut < 3:
            continue
        belief = handed_on(before, fix.prior)
        known = before.log_evidence if sound else max(_otherwise(s[:cut], fix.prior, noise))
        for axes in MOVED_WORDS:
            after = solve(s[cut:], freed(belief, axes, beforehand), noise, find_bad=False)
            if after.misfit_probability >= AGREES and known + after.log_evidence > best:
                best = known + after.log_evidence
                moved = Moved(cut, axes, _by_deg(before, after, axes) if sound else math.nan)
    return moved


def _where_those_after_agree(fix: Fix, beforehand: Priors, noise: Noise) -> list[int]:
    """Cuts after which the sightings may agree, whatever moved; the latest first."""
    free = freed(fix.prior, ("azimuth", "altitude", "base"), beforehand)
    cuts = []
    for cut in range(len(fix.sightings) - 2, 1, -1):
        after = solve(fix.sightings[cut:], free, noise, find_bad=False)
        if after.misfit_probability < AGREES / 10:
            break  # nor will they with earlier ones added
        cuts.append(cut)
    return cuts


def _otherwise(sightings: Sequence[Sighting], belief: Priors, noise: Noise) -> list[float]:
    """The log evidence of what else makes sightings disagree: a hand that centres less well than
    stated, several wrong stars, and circles whose scale is wrong."""
    sigma = belief.sigma.copy()
    for name in SCALES:
        sigma[INDEX[name]] = WRONG_SCALE
    scaled = Priors(belief.mean, sigma)
    rough = Noise(ROUGH * noise.centring, noise.reading_az, noise.reading_alt)
    return [
        solve(sightings, belief, rough, find_bad=False).log_evidence,
        solve(sightings, scaled, noise, find_bad=False).log_evidence,
        evidence_of_wrong_stars(sightings, belief, noise, MOST_WRONG),
    ]


def _by_deg(before: Fix, after: Fix, axes: tuple[Axis, ...]) -> float:
    """How far the zero of the one circle that moved is from where it was, degrees."""
    if len(axes) > 1:
        return math.nan
    i = INDEX[f"{axes[0]}_zero"]
    return math.degrees(half_turn(float(after.mean[i] - before.mean[i])))
