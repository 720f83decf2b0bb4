"""What is said of the stars chosen."""

from __future__ import annotations

from plumbstar.choose.lookalikes import LookAlike
from plumbstar.sky.lists.catalogue import Star
from plumbstar.text import words


def look_alike(a: LookAlike, wanted: Star) -> str:
    """Which is which, in words: direction, distance, brightness, colour."""
    side = "right" if a.right_deg > 0 else "left"
    way = "above" if a.up_deg > 0 else "below"
    right, up = abs(a.right_deg), abs(a.up_deg)
    lies = (
        f"straight {way}" if right < 0.4 * up else f"to the {side}" if up < 0.4 * right
        else f"{way} and to the {side}"
    )  # fmt: skip
    dv = a.star.v_mag - wanted.v_mag
    light = (
        "as bright" if abs(dv) < 0.15
        else f"{abs(dv):.1f} magnitudes {'fainter' if dv > 0 else 'brighter'}"
    )  # fmt: skip
    tint, own = words.colour(a.star.bv), words.colour(wanted.bv)
    hue = f", {tint} where {wanted.label} is {own}" if tint and own and tint != own else ""
    return f"{a.star.label} lies {a.distance_deg:.0f}° {lies}, {light}{hue}."
