"""What the stories of a fix leave in doubt, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.solve.moved import MOVED_WORDS, Moved
from plumbstar.solve.posterior import Data
from plumbstar.solve.weighing import SURE, Weighed, leading, share_of
from plumbstar.text import words

#: From so many times the stated centring on the hand is called rough; under this share, better.
ROUGH, BETTER = 1.9, 0.6
#: From so many times on it is no hand that errs.
NO_HAND_TIMES = 10.0


def coarser(stories: Sequence[Weighed]) -> float:
    """How many times less well than stated the hand seems to have centred: the middle story's."""
    lead = sorted(leading(stories), key=lambda w: w.story.coarser)
    half, so_far = share_of(lead) / 2, 0.0
    for w in lead:
        so_far += w.share
        if so_far >= half:
            return w.story.coarser
    return 1.0


def words_on_stories(
    sightings: Sequence[Sighting],
    stories: Sequence[Weighed],
    suspects: Sequence[tuple[int, float]],
    moved: Moved | None,
    noise: Noise,
) -> tuple[str, ...]:
    """What there is to say of them, what moved first; nothing where nothing is doubted."""
    if not stories:
        return ()
    names = [s.star for s in sightings]
    out = []
    sure = len(names) > 2 and suspects and suspects[0][1] > SURE
    if moved is not None:
        out.append(_moved(names, moved))
    elif sure:
        out.append(
            f"{names[suspects[0][0]]} contradicts the others and is set aside: a wrong star, not "
            "centred, or a slip?"
        )
    elif sum(p for _, p in suspects) > 0.5:
        which = " or ".join(names[i] for i, _ in suspects[:3])
        out.append(
            f"One sighting looks wrong, {which}, but not clearly which: sight one more star."
        )
    out += _hand(coarser(stories), noise)
    lead = leading(stories)
    if share_of([w for w in lead if w.story.far_off or w.story.scales]) > 0.5 * share_of(lead):
        out.append(
            "The sightings agree, but only with a mount further off than the kit expects; the "
            "uncertainties are widened to match."
        )
    if len(names) == 2 and not out:
        out.append(
            "Two stars cannot check each other: a wrong star, or a slip between them, may go "
            "unseen. A third star checks both."
        )
    return tuple(out)


def _moved(names: Sequence[str], moved: Moved) -> str:
    by = "" if math.isnan(moved.by_deg) else f", by about {abs(moved.by_deg):.1f}°"
    check = "" if moved.again is None else f" Sight {names[moved.again]} again to be sure."
    told = (
        f"between {names[moved.first - 1]} and {names[moved.first]} "
        f"({words.chance(moved.probability)}): {MOVED_WORDS[moved.axes]}{by}"
    )
    if moved.denied:
        return (
            f"You said that nothing moved, yet something seems to have, {told}; the chances reckon "
            f"with both.{check}"
        )
    return f"Something seems to have moved {told}.{check}"


def _hand(times: float, noise: Noise) -> list[str]:
    centring = math.degrees(noise.centring) * 60.0
    if times >= NO_HAND_TIMES:
        return [
            "The sightings disagree by far, and no single one is to blame; the uncertainties are "
            "widened to match."
        ]
    if times >= ROUGH:
        return [
            "The sightings disagree more than the stated centring allows, as if each star was "
            f"centred to {times * centring:.0f}′ and not {centring:.0f}′; the uncertainties are "
            "widened to match."
        ]
    if times <= BETTER:
        return [
            f"The sightings agree far better than the stated centring of {centring:.0f}′, as if "
            f"to {times * centring:.1f}′; the chances reckon with what they show."
        ]
    return []


def words_on_geometry(data: Data, used: Sequence[int], prior: Priors) -> list[str]:
    """What the geometry of the ``used`` sightings leaves to the priors."""
    places = data.toward[used]
    apart = float(np.degrees(np.arccos(np.clip(np.min(places @ places.T), -1, 1))))
    if len(used) == 1 and np.all(np.isinf(prior.sigma) | (prior.sigma == 0)):
        return []  # nothing is believed beforehand: what was free is settled
    if len(used) == 1:
        return ["One sighting settles the azimuth zero only; the rest is prior. Sight one more."]
    if apart < 5.0:
        return ["Weak: the sightings are all at one place in the sky. Sight a star well away."]
    az = data.true_az_alt[used, 0]
    # Opposite azimuths (0 and 180 deg) do tell stop from lean, so they do not count as one.
    spread = 1.0 - abs(np.mean(np.exp(1j * az)))
    if spread < 0.03:
        return [
            "Weak: the stars stand at about one azimuth, so the stop and the lean cannot be told "
            "apart. A star toward another quarter would settle them."
        ]
    return []
