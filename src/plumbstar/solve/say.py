"""The fix in words."""

from __future__ import annotations

import math

from plumbstar.mount.terms import INDEX
from plumbstar.solve.fix import Fix
from plumbstar.text.words import chance, upper_first

#: No stop is set further off than this; a circle that slipped may read anything.
A_STOP_DEG = 8.0


def fix_sentence(fix: Fix, field_deg: float, eyepiece: str) -> str:
    """The fix in one sentence: the hit chance first, then the stop."""
    if fix.contradictory:
        return (
            f"No fix to go by: the sightings contradict one another by about "
            f"{fix.rms_arcsec / 3600.0:.0f}°, as if something had moved between them."
        )
    who = f"{upper_first(chance(fix.mean_hit_chance(field_deg)))} targets"
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


def far_off_sentence(star: str, off_deg: float, altitude_only: bool, same_as: str) -> str:
    """What speaks against a press (credible.py), with the question; ``same_as``: the star sighted
    earlier with the same reading, or empty."""
    where = "the altitude reads" if altitude_only else "the telescope pointed"
    same = f", at the same place as for {same_as}" if same_as else ""
    return f"Was this {star}, centred? By its readings {where} {off_deg:.0f}° from it{same}."
