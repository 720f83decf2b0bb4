"""What the stories and the geometry of a fix leave in doubt: facts, of which say.py makes words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.solve.moved import Moved
from plumbstar.solve.posterior import Data
from plumbstar.solve.weighing import SURE, Weighed, leading, share_of

#: From so many times the stated centring on the hand is called rough; under this share, better.
ROUGH, BETTER = 1.9, 0.6
#: From so many times on it is no hand that errs.
NO_HAND_TIMES = 10.0


class Weak(Enum):
    """A doubt that has no figures."""

    NO_ONE_TO_BLAME = auto()  # the sightings disagree by more than any hand errs
    FAR_OFF = auto()  # they agree only with a mount that the kit does not expect
    UNCHECKED = auto()  # two cannot check each other
    ONLY_ONE = auto()  # one settles the azimuth zero only
    ONE_PLACE = auto()  # all at one place in the sky
    ONE_AZIMUTH = auto()  # stop and lean cannot be told apart


@dataclass(frozen=True, slots=True)
class BadOne:
    """That sighting, by its index, contradicts the others and is set aside."""

    sighting: int


@dataclass(frozen=True, slots=True)
class BadAmong:
    """One of these sightings, by their indices, looks wrong, the likeliest first."""

    sightings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class HandDiffers:
    """The hand seems to have centred ``times`` as far off as the ``stated_arcmin``."""

    times: float
    stated_arcmin: float


@dataclass(frozen=True, slots=True)
class WasAnother:
    """That sighting, by its index, was not of the star ``called``, but of ``star``, ``apart_deg``
    from it, with that probability."""

    sighting: int
    called: str
    star: str
    apart_deg: float
    probability: float


#: One thing that a fix leaves in doubt.
InDoubt = Moved | BadOne | BadAmong | HandDiffers | WasAnother | Weak


def coarser(stories: Sequence[Weighed]) -> float:
    """How many times less well than stated the hand seems to have centred: the middle story's."""
    lead = sorted(leading(stories), key=lambda w: w.story.coarser)
    half, so_far = share_of(lead) / 2, 0.0
    for w in lead:
        so_far += w.share
        if so_far >= half:
            return w.story.coarser
    return 1.0


def doubts_of_stories(
    count: int,
    stories: Sequence[Weighed],
    suspects: Sequence[tuple[int, float]],
    moved: Moved | None,
    noise: Noise,
) -> tuple[InDoubt, ...]:
    """What they leave in doubt of ``count`` sightings, what moved first; empty where nothing."""
    if not stories:
        return ()
    out: list[InDoubt] = []
    if moved is not None:
        out.append(moved)
    elif count > 2 and suspects and suspects[0][1] > SURE:
        out.append(BadOne(suspects[0][0]))
    elif sum(p for _, p in suspects) > 0.5:
        out.append(BadAmong(tuple(i for i, _ in suspects[:3])))
    out += _hand(coarser(stories), noise)
    lead = leading(stories)
    if share_of(w for w in lead if w.story.unexpected) > 0.5 * share_of(lead):
        out.append(Weak.FAR_OFF)
    if count == 2 and not out:
        out.append(Weak.UNCHECKED)
    return tuple(out)


def _hand(times: float, noise: Noise) -> list[InDoubt]:
    if times >= NO_HAND_TIMES:
        return [Weak.NO_ONE_TO_BLAME]
    if BETTER < times < ROUGH:
        return []
    return [HandDiffers(times, math.degrees(noise.centring) * 60.0)]


def doubts_of_geometry(data: Data, used: Sequence[int], prior: Priors) -> tuple[Weak, ...]:
    """What the geometry of the ``used`` sightings leaves to the priors."""
    if len(used) == 1:
        # Where nothing is believed beforehand, what was free is settled.
        believed = np.any(np.isfinite(prior.sigma) & (prior.sigma != 0))
        return (Weak.ONLY_ONE,) if believed else ()
    places = data.toward[used]
    apart = float(np.degrees(np.arccos(np.clip(np.min(places @ places.T), -1, 1))))
    if apart < 5.0:
        return (Weak.ONE_PLACE,)
    az = data.true_az_alt[used, 0]
    # Opposite azimuths (0 and 180 deg) do tell stop from lean, so they do not count as one.
    spread = 1.0 - abs(np.mean(np.exp(1j * az)))
    return (Weak.ONE_AZIMUTH,) if spread < 0.03 else ()
