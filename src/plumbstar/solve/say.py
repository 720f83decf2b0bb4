"""The fix in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from plumbstar.mount.slips import Axis
from plumbstar.mount.terms import INDEX
from plumbstar.solve.credible import FarOff
from plumbstar.solve.doubts import BadAmong, BadOne, HandDiffers, InDoubt, WasAnother, Weak
from plumbstar.solve.fix import Fix
from plumbstar.solve.moved import Moved
from plumbstar.solve.since import NEXT_PUSH
from plumbstar.solve.weighing import SURE
from plumbstar.text.words import both, chance, spoken, upper_first, where

#: What may have moved at once.
MOVED_WORDS: dict[tuple[Axis, ...], str] = {
    ("azimuth",): "the azimuth circle",
    ("altitude",): "the altitude circle",
    ("azimuth", "altitude"): "both circles",
    ("azimuth", "base"): "the base, knocked or sunk",
}
_WEAK = {
    Weak.NO_ONE_TO_BLAME: (
        "The sightings disagree widely, and no single one explains it; the uncertainties are "
        "widened to match."
    ),
    Weak.FAR_OFF: (
        "The sightings agree, but only with a mount further off than the kit expects; the "
        "uncertainties are widened to match."
    ),
    Weak.UNCHECKED: (
        "Two stars cannot check each other: a wrong star, or a slip between them, may go unseen. A "
        "third star checks both."
    ),
    Weak.ONLY_ONE: (
        "One star tells which way the telescope is turned, and no more: the rest is what the kit "
        "expects. Sight one more."
    ),
    Weak.ONE_PLACE: (
        "Weak: the sightings are all at one place in the sky. Sight a star well away."
    ),
    Weak.ONE_AZIMUTH: (
        "Weak: the stars stand on one side of the sky, so the stop and the lean cannot be told "
        "apart. A star in another part of the sky would settle them."
    ),
}

#: No stop is set further off than this; a circle that slipped may read anything.
A_STOP_DEG = 8.0


def fix_sentence(fix: Fix, field_deg: float, eyepiece: str, still: float = NEXT_PUSH) -> str:
    """The fix in one sentence: the hit chance first, then the stop. ``still``: the probability
    that nothing will have moved since the last sighting when the next object is reached."""
    if fix.contradictory:
        return (
            # By how much, each cause says by its own reckoning: two figures would only puzzle.
            "No fix to go by: the sightings contradict one another, as if something had moved "
            "between them."
        )
    who = f"{upper_first(chance(still * fix.mean_hit_chance(field_deg)))} targets"
    stop = math.degrees(fix.mean[INDEX["altitude_zero"]])
    sigma = math.degrees(fix.sigma[INDEX["altitude_zero"]])
    what = "the stop" if abs(stop) < A_STOP_DEG else "the altitude circle"
    # Positive means that the reading is low: the stop holds the tube higher than it says.
    if sigma > 0.6 * max(abs(stop), 0.5) and fix.from_data[INDEX["altitude_zero"]] < 0.5:
        about = "the stop is not settled yet"
    elif abs(stop) < max(0.05, sigma):
        about = f"{what} reads true to within {max(sigma, 0.05):.2f}°"
    else:
        about = f"{what} reads {abs(stop):.1f}° {'low' if stop > 0 else 'high'}"
    return f"{who} will be in the {eyepiece} field; {about}."


def fix_notes(
    fix: Fix, *, moved_is_asked: bool = False, mount_kept: bool = False
) -> tuple[str, ...]:
    """What a fix leaves in doubt, a sentence each. ``moved_is_asked``: without what moved, where
    a question on the page tells of it. ``mount_kept``: after a slip one star is not all that is
    known of the mount."""
    told = [
        d
        for d in fix.doubts
        if not (moved_is_asked and isinstance(d, Moved)) and not (mount_kept and d is Weak.ONLY_ONE)
    ]
    names = [s.star for s in fix.sightings]
    return tuple(_note(d, names) for d in told)


def _note(doubt: InDoubt, names: Sequence[str]) -> str:
    match doubt:
        case Moved():
            return _moved(doubt, names)
        case BadOne(i):
            return (
                f"{names[i]} contradicts the others and is set aside: a wrong star, not centred, "
                "or a slip?"
            )
        case BadAmong(which):
            stars = " or ".join(names[i] for i in which)
            return f"One sighting looks wrong, {stars}, but not clearly which: sight one more star."
        case WasAnother(_, called, star, apart_deg, p):
            probably = "" if p > SURE else "probably "
            return (
                f"{called} does not fit the others, and {star}, {apart_deg:.0f}° from it, does: "
                f"that was {probably}{star}. Enter it as {star}."
            )
        case HandDiffers(times, stated) if times > 1.0:
            return (
                "The sightings disagree more than the stated centring allows, as if each star was "
                f"centred to {times * stated:.0f}′ and not {stated:.0f}′; the uncertainties are "
                "widened to match."
            )
        case HandDiffers(times, stated):
            return (
                f"The sightings agree far better than the stated centring of {stated:.0f}′, as if "
                f"to {times * stated:.1f}′; the chances allow for what they show."
            )
        case Weak():
            return _WEAK[doubt]


def _moved(moved: Moved, names: Sequence[str]) -> str:
    by = "" if math.isnan(moved.by_deg) else f", by about {abs(moved.by_deg):.1f}°"
    check = "" if moved.again is None else f" Sight {names[moved.again]} again to be sure."
    told = (
        f"between {both(names[moved.first - 1], names[moved.first])} "
        f"({chance(moved.probability)}): {MOVED_WORDS[moved.axes]}{by}"
    )
    if moved.denied:
        return (
            f"You said that nothing moved, yet something seems to have, {told}; the chances allow "
            f"for both.{check}"
        )
    return f"Something seems to have moved {told}.{check}"


def far_off_sentence(star: str, far: FarOff, same_as: str, near: str = "") -> str:
    """What speaks against a press (credible.py), with the question; ``same_as``: the star sighted
    earlier with the same reading; ``near``: what stands where the tube pointed; or empty."""
    star = spoken(star)
    if far.altitude_only:
        return (
            f"Was this {star}, centred? By its reading the tube was "
            f"{up_words(far.points_alt_deg)}; {star} stood {up_words(far.stood_alt_deg)}."
        )
    there = (
        f"at the same place as for {spoken(same_as)}"
        if same_as
        else f"near {spoken(near)}"
        if near
        else where(far.points_az_deg, far.points_alt_deg)
    )
    return (
        f"Was this {star}, centred? By its readings the telescope pointed {far.off_deg:.0f}° from "
        f"it, {there}."
    )


def up_words(alt_deg: float) -> str:
    """Over the zenith it comes down again on the other side."""
    up = round(min(alt_deg, 180.0 - alt_deg))
    return f"{up}° up" if up >= 0 else f"{-up}° below level"
