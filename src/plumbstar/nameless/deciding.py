"""What would tell the namings apart: one more star in a certain part of the sky, or a question.

The part is told by the circles, since nobody knows yet where north is on them: another bright star
there would be one star by the first naming, and by its rivals none or another.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.guide.sun import SUN_WELL_DOWN_DEG, may_be_sighted
from plumbstar.mount import kinematics
from plumbstar.mount.sighting import Colour, Sighting, Unnamed
from plumbstar.nameless.brightness import Compared, more_bright, said_brighter
from plumbstar.nameless.colour import ORANGE_BV, said_of
from plumbstar.nameless.eligible import Eligible
from plumbstar.nameless.namings import NAMED_SURELY, Naming
from plumbstar.sky.bodies import sun_direction
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import half_turn_deg, one_turn_deg
from plumbstar.units import Array, Indices

#: Namings that are told apart: so many, each at least that likely.
_MOST, _LEAST = 12, 0.005
#: A part of the sky: so wide on the azimuth circle, and this its heights, degrees.
_WIDE_DEG = 60.0
_LOW, _MIDDLE, _HIGH = 15.0, 38.0, 70.0
#: Within this of where a naming has a star, a reading may be of it, radians: stop and cone.
_NEAR = math.radians(1.5)
#: A part with fewer bright stars than this is no place to send anybody.
_BRIGHT_MAG = 2.3
#: In twilight nobody is sent so near to the Sun's azimuth, degrees.
_SUN_DEG = 30.0
#: The question is asked where its answer names every star so often, or where it leaves the
#: likeliest naming this sure on average, and so much surer than it was.
_DECIDES, _WORTH_ASKING, _SURER = 0.4, 0.95, 0.02


@dataclass(frozen=True, slots=True)
class PartAsked:
    """Turn the tube until the azimuth circle reads ``low_deg`` to ``high_deg`` (in one turn, it may
    pass 0) and sight a bright star: under ``_MIDDLE`` degrees up, or over it. ``turn_deg``: from
    the last reading to the part's middle, right positive. ``sure``: how likely the likeliest naming
    then is, on average."""

    low_deg: float
    high_deg: float
    turn_deg: float
    upper: bool
    sure: float


@dataclass(frozen=True, slots=True)
class ColourAsked:
    """Is the star of that entry deep orange? ``sure``: as for :class:`PartAsked`."""

    entry: int
    orange: tuple[str, ...]
    white: tuple[str, ...]
    sure: float


@dataclass(frozen=True, slots=True)
class BrighterAsked:
    """Which of these two entries was the brighter? ``sure``: as for :class:`PartAsked`."""

    first: int
    second: int
    sure: float


@dataclass(frozen=True, slots=True)
class Next:
    """What decides: ``part`` None where no part holds a bright star; ``asked`` and ``brighter``
    None where no such question would."""

    part: PartAsked | None
    asked: ColourAsked | None
    brighter: BrighterAsked | None = None

    @property
    def question(self) -> ColourAsked | BrighterAsked | None:
        """The one that tells more."""
        told = [q for q in (self.asked, self.brighter) if q is not None]
        return max(told, key=lambda q: q.sure) if told else None


def next_look(
    entries: Sequence[Sighting | Unnamed],
    found: Sequence[Naming],
    sky: Eligible,
    site: Site,
    compared: Compared = (),
) -> Next:
    """What would best tell these namings apart; ``compared``: pairs that were asked about."""
    told = [n for n in found[:_MOST] if n.probability >= _LEAST]
    brighter = _brighter(entries, found, sky, compared)
    return Next(_part(entries, told, sky, site), _colour(entries, found, sky), brighter)


def _part(
    entries: Sequence[Sighting | Unnamed], told: Sequence[Naming], sky: Eligible, site: Site
) -> PartAsked | None:
    places = sky.places[-1]
    sun_az, sun_alt = np.degrees(sun_direction(_last_time(entries), site))
    bright = (sky.v < _BRIGHT_MAG) & (places[:, 1] > math.radians(_LOW))
    bright &= places[:, 1] < math.radians(_HIGH)
    bright &= may_be_sighted(places[:, 0], places[:, 1], float(sun_az), float(sun_alt))
    stars, all_up = np.flatnonzero(bright), np.flatnonzero(sky.up[-1])
    if not len(stars) or len(told) < 2:
        return None
    p = np.array([n.probability for n in told])
    means = np.array([n.mean for n in told])
    toward = kinematics.unit(places[:, 0], places[:, 1])
    chosen = sky.chosen[all_up] / sky.chosen[all_up].sum()
    best: tuple[float, PartAsked] | None = None
    # Where each naming would have each bright star on the circles: (h, s, 2).
    read = np.stack([kinematics.reading_of(toward[stars], m) for m in means])
    seen = _densities(read, means, toward[all_up], chosen)  # (h, s, h)
    joint = seen * p
    after = joint.max(axis=-1) / joint.sum(axis=-1)
    weight = p[:, None] * sky.chosen[stars]
    high = places[stars, 1] > math.radians(_MIDDLE)
    last = entries[-1].az_reading_deg
    sun = _sun_on_circles(means, float(sun_az), float(sun_alt))
    for turn in range(-150, 181, 30):
        if (np.abs(half_turn_deg(sun - last - turn)) < _WIDE_DEG / 2 + _SUN_DEG).any():
            continue
        near = np.degrees(read[..., 0]) - (last + turn)
        inside = np.abs(half_turn_deg(near)) < _WIDE_DEG / 2
        for upper in (False, True):
            w = np.where(inside & (high == upper), weight, 0.0)
            if float(w.sum()) < 0.02 * float(weight.sum()):
                continue
            # A part that by some naming has no bright star sends people into the void.
            reached = (w.sum(axis=1) > 0) @ p
            sure = float((w * after).sum() / w.sum())
            score = sure - 0.3 * float(1.0 - reached) - 0.0003 * abs(turn)
            if best is None or score > best[0]:
                low = one_turn_deg(last + turn - _WIDE_DEG / 2)
                part = PartAsked(low, one_turn_deg(low + _WIDE_DEG), float(turn), upper, sure)
                best = score, part
    return best[1] if best is not None else None


def _sun_on_circles(means: Array, az_deg: float, alt_deg: float) -> Array:
    """The azimuth readings, degrees, at which the Sun stands by each naming; none once it is well
    down."""
    if alt_deg <= SUN_WELL_DOWN_DEG:
        return np.empty(0)
    toward = kinematics.unit(np.radians(az_deg), np.radians(alt_deg))
    return np.degrees([kinematics.reading_of(toward, m)[0] for m in means])


def _densities(read: Array, means: Array, toward: Array, chosen: Array) -> Array:
    """How likely each of these readings (h, s, 2) is by each naming (..., h): near a star of the
    sky, or of nothing in it."""
    out = []
    for mean in means:
        d = kinematics.direction(read, mean)
        gap2 = 2.0 * (1.0 - np.einsum("hsi,ki->hsk", d, toward))
        out.append((np.exp(-0.5 * gap2 / _NEAR**2) * chosen).sum(axis=-1))
    return np.stack(out, axis=-1) + 1e-5


def _last_time(entries: Sequence[Sighting | Unnamed]) -> Instant:
    return next(e.utc for e in reversed(entries) if e.utc is not None)


def _brighter(
    entries: Sequence[Sighting | Unnamed],
    found: Sequence[Naming],
    sky: Eligible,
    compared: Compared,
) -> BrighterAsked | None:
    p = np.array([n.probability for n in found])
    picks = np.array([n.stars for n in found])
    known = {frozenset(pair) for pair in compared}
    unnamed = [i for i, e in enumerate(entries) if isinstance(e, Unnamed)]
    best: tuple[tuple[float, float], BrighterAsked] | None = None
    for i, j in itertools.combinations(unnamed, 2):
        if frozenset((i, j)) in known:
            continue
        first = said_brighter(more_bright(picks, (i, j), sky))
        worth = _worth(p, picks, [p * first, p * (1.0 - first)])
        if worth is not None and (best is None or worth > best[0]):
            best = worth, BrighterAsked(i, j, worth[1])
    return best[1] if best is not None else None


def _worth(p: Array, picks: Indices, answers: Sequence[Array]) -> tuple[float, float] | None:
    """How often the answer, by whose chances (h,) the namings then stand, names every star, and how
    sure it leaves the likeliest on average; None where neither is worth a question."""
    decides = sum(float(a.sum()) for a in answers if _names_all(picks, a / a.sum()))
    sure = sum(float(a.max()) for a in answers)
    worth = sure > _WORTH_ASKING and sure > float(p.max()) + _SURER
    return (decides, sure) if decides > _DECIDES or worth else None


def _colour(
    entries: Sequence[Sighting | Unnamed], found: Sequence[Naming], sky: Eligible
) -> ColourAsked | None:
    p = np.array([n.probability for n in found])
    picks = np.array([n.stars for n in found])
    best: tuple[tuple[float, float], ColourAsked] | None = None
    for i, e in enumerate(entries):
        if not isinstance(e, Unnamed) or e.colour is not None:
            continue
        stars = picks[:, i]
        bv = np.where(stars >= 0, sky.bv[np.maximum(stars, 0)], np.nan)
        answers = [p * said_of(colour, bv) for colour in (Colour.ORANGE, Colour.WHITE)]
        worth = _worth(p, picks, answers)
        if worth is not None and (best is None or worth > best[0]):
            told = p >= _LEAST
            likely = bv > ORANGE_BV
            orange, white = (_names(stars[told & x], sky) for x in (likely, ~likely))
            best = worth, ColourAsked(i, orange, white, worth[1])
    return best[1] if best is not None else None


def _names_all(picks: Indices, p: Array) -> bool:
    """Whether with these chances (h,) every star of the likeliest naming (h, n) counts as named."""
    same = picks == picks[int(np.argmax(p))]
    return bool((p @ same >= NAMED_SURELY).all())


def _names(stars: Array, sky: Eligible) -> tuple[str, ...]:
    """Each once, likeliest first, at most three."""
    return tuple(dict.fromkeys(sky.names[int(k)] for k in stars if k >= 0))[:3]
