"""A star drifting across the field."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.diagnose.checks.check import Check, Input, told
from plumbstar.diagnose.checks.verdict import Number, State, Values, Verdict, number_of
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES

#: The sky's turn, arcseconds per second of time (sidereal rate; IAU, from memory).
SIDEREAL_ARCSEC = 15.041
#: A field within so much of the kit's is the kit's; one this many times smaller or larger is none.
#: Both common practice, no source.
CLOSE, MOST_WRONG = 0.03, 5.0


@dataclass(frozen=True)
class Drift:
    """The true field that the drift gave, beside the kit's; degrees and mm.

    ``uneven``: the times spread, so ``best_deg`` is of the longest.
    """

    eyepiece: str
    field: few.Estimate
    uneven: bool
    best_deg: float
    stated_deg: float
    field_stop_mm: float

    @property
    def state(self) -> State:
        e = self.field
        if e.count < 2:
            return "unsure"
        close = abs(self.best_deg / self.stated_deg - 1.0) < CLOSE
        inside = not self.uneven and e.low <= self.stated_deg <= e.high
        return "good" if close or inside else "mend"


def measure(v: Values, kit: Kit) -> Drift:
    """A star drifting across the field, drive none: seconds times 15.041" times cos dec.

    The small-circle trail is a little curved: under 0.1 % of the field below 70 deg of declination
    for fields to 3 deg (tests/diagnose/test_checks.py). A star that misses the middle takes less
    time, so where the times spread by over 3 % the longest is nearest the truth.
    """
    eyepiece = kit.eyepiece_named(v["eyepiece"]) if v["eyepiece"] else kit.finder_eyepiece()
    cos_dec = math.cos(math.radians(float(v["dec_deg"])))
    fields = [t * SIDEREAL_ARCSEC * cos_dec / 3600.0 for t in v["seconds"]]
    e = few.mean_of(fields, 0.5 * SIDEREAL_ARCSEC * cos_dec / 3600.0)
    stated = kit.true_field_deg(eyepiece)
    if not stated / MOST_WRONG <= e.value <= stated * MOST_WRONG:
        as_minutes = stated / MOST_WRONG <= 60.0 * e.value <= stated * MOST_WRONG
        raise UserError(
            f"{few.mean_of(v['seconds']).value:g} s, which is a field of {e.value:.2f}°, where the "
            f"kit says {stated:.2f}° of the {eyepiece.name}",
            "seconds from edge to edge",
            "Were these minutes? Give seconds: 4 minutes and 2 are 242"
            if as_minutes
            else "Check the seconds, the declination and which eyepiece it was",
        )
    # A star that passed beside the middle: common practice, no source.
    uneven = e.count > 1 and e.spread > 0.03 * e.value
    best = max(fields) if uneven else e.value
    return Drift(
        eyepiece=eyepiece.name,
        field=e,
        uneven=uneven,
        best_deg=best,
        stated_deg=stated,
        field_stop_mm=2.0 * kit.telescope.focal_length_mm * math.tan(math.radians(best) / 2.0),
    )


def say(d: Drift) -> Verdict:
    """The field in words."""
    e = d.field
    numbers = (
        number_of("field", "mean true field", d.field),
        Number("field_arcmin", "true field, best value", d.best_deg * 60.0, "arcmin"),
        Number("field_stop_mm", "field stop it implies", d.field_stop_mm, "mm"),
        Number("stated", f"the kit's field of the {d.eyepiece}", d.stated_deg),
    )
    said = f"The {d.eyepiece} shows {d.best_deg:.2f}° ({d.best_deg * 60:.0f}')"
    if d.uneven:
        said += "; the times spread, so the longest counts: the others missed the middle"
    if d.state == "unsure":
        return Verdict(d.state, f"{said}, from one timing.", numbers, "Time it three times")
    if d.state == "good":
        least = max(CLOSE, (e.high - e.low) / 2 / d.stated_deg if not d.uneven else CLOSE)
        said += (
            f", as the kit says ({d.stated_deg:.2f}). A field wrong by less than "
            f"{100 * least:.0f} % would not have shown."
        )
        return Verdict(d.state, said, numbers, "Nothing to mend")
    return Verdict(
        d.state,
        f"{said}; the kit says {d.stated_deg:.2f}.",
        numbers,
        f"Write field_stop_mm = {d.field_stop_mm:.1f} for the {d.eyepiece} into the kit, or check "
        "the telescope's focal length",
        on_pages="Prepare, Your telescope, “Change it, question by question”: a field stop of "
        f"{d.field_stop_mm:.1f} mm for the {d.eyepiece}. Or check the telescope's focal length",
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
        Input("eyepiece", "which eyepiece; the widest if left empty", "", default="", text=True),
    ),
    told(measure, say),
)  # fmt: skip
