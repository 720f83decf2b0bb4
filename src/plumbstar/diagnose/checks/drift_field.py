"""A star drifting across the field."""

from __future__ import annotations

import math

from plumbstar.diagnose.checks.check import Check, Input
from plumbstar.diagnose.checks.verdict import Number, Values, Verdict, number_of
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES

#: The sky's turn, arcseconds per second of time (sidereal rate; IAU, from memory).
SIDEREAL_ARCSEC = 15.041


def judge(v: Values, kit: Kit) -> Verdict:
    """A star drifting across the field, drive none: seconds times 15.041" times cos dec.

    The small-circle trail is a little curved: under 0.1 % of the field below 70 deg of declination
    for fields to 3 deg (tests/diagnose/test_checks.py). A star that misses the middle takes less
    time, so where the times spread by over 3 % the longest is nearest the truth.
    """
    eyepiece = kit.eyepiece_named(v["eyepiece"]) if v["eyepiece"] else kit.finder_eyepiece()
    cos_dec = math.cos(math.radians(float(v["dec_deg"])))
    fields = [t * SIDEREAL_ARCSEC * cos_dec / 3600.0 for t in v["seconds"]]
    e = few.mean_of(fields, 0.5 * SIDEREAL_ARCSEC * cos_dec / 3600.0)
    uneven = e.count > 1 and e.spread > 0.03 * e.value
    best = max(fields) if uneven else e.value
    stated = kit.true_field_deg(eyepiece)
    stop_mm = 2.0 * kit.telescope.focal_length_mm * math.tan(math.radians(best) / 2.0)
    numbers = (
        number_of("field", "mean true field", e),
        Number("field_arcmin", "true field, best value", best * 60.0, "arcmin"),
        Number("field_stop_mm", "field stop it implies", stop_mm, "mm"),
        Number("stated", f"the kit's field of the {eyepiece.name}", stated),
    )
    said = f"The {eyepiece.name} shows {best:.2f}° ({best * 60:.0f}')"
    if uneven:
        said += "; the times spread, so the longest counts: the others missed the middle"
    if e.count < 2:
        return Verdict("unsure", f"{said}, from one timing.", numbers, "Time it three times")
    within = abs(best / stated - 1.0) < 0.03 or (not uneven and e.low <= stated <= e.high)
    if within:
        return Verdict("good", f"{said}, as the kit says ({stated:.2f}).", numbers,
                       "Nothing to mend")  # fmt: skip
    return Verdict(
        "mend",
        f"{said}; the kit says {stated:.2f}.",
        numbers,
        f"Write field_stop_mm = {stop_mm:.1f} for the {eyepiece.name} into the kit, or check "
        "the telescope's focal length",
    )


CHECK = Check(
    "drift-field",
    CHECK_TITLES["drift-field"],
    "Hit chances are only as good as the field they are for.",
    ("a star of known declination, near the celestial equator", "a stopwatch"),
    (
        "Choose a star within 30° of the celestial equator.",
        "Put it just outside the east edge of the field and keep your hands off.",
        "Time it from its appearance to its disappearance, through the middle of the field.",
        "Three times.",
    ),
    (
        Input("seconds", "times from edge to edge", "s", many=True, low=2, high=3600),
        Input("dec_deg", "the star's declination", low=-75, high=75),
        Input("eyepiece", "which eyepiece (default: the widest)", "", default="", text=True),
    ),
    judge,
)  # fmt: skip
