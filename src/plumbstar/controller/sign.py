"""The sign a number is shown with, learnt from a known change under the stop."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from plumbstar.controller.pair import BLIND, SIGNS, Sign, signed
from plumbstar.errors import UserError
from plumbstar.mount.priors import Noise

#: A change of the number by so many sigma tells which way it went.
TOLD = 2.0


@dataclass(frozen=True)
class SignLearnt:
    """What a known change under the stop teaches; :mod:`.say` has the words.

    ``measured_minus_true``: probability of that sign, 0.5 where ``direction_known`` is false (which
    way adding moves the tube).
    ``adding``: what adding does if the sign is measured minus true. ``per_mm_deg`` is how the
    number moves for each millimetre added, with 1 sigma; ``to_zero_mm`` what would bring it to
    zero from where it is now, None where the change is too little to tell. ``size_ratio``: seen
    over expected change for ``lever_arm_mm``, None if that is not known. ``least_deg``: the
    smallest change of the number that would have told which way it went, 19 times in 20;
    ``least_mm``: the thickness that makes it, None without the arm.
    """

    measured_minus_true: float
    adding: Literal["raises", "lowers"]
    per_mm_deg: float
    per_mm_sigma_deg: float
    to_zero_mm: float | None
    size_ratio: float | None
    lever_arm_mm: float
    direction_known: bool
    least_deg: float
    least_mm: float | None

    @property
    def sign(self) -> Sign | None:
        """The sign, where it is learnt: the number moved by two sigma, 19 in 20."""
        if self.to_zero_mm is None:
            return None
        if self.measured_minus_true > 0.95:
            return SIGNS[0]
        return SIGNS[1] if self.measured_minus_true < 0.05 else None


def learn_sign(
    before_deg: float,
    after_deg: float,
    added_mm: float,
    noise: Noise,
    *,
    adding: str = "unknown",
    lever_arm_mm: float = 0.0,
    sensitivity: float | None = None,
) -> SignLearnt:
    """From "I added 1 mm under the stop and the number went from +1.4 to +0.6": the sign.

    ``added_mm`` is negative for thickness taken out; ``sensitivity`` that of the pair used (None:
    1.1, two stars a quarter turn apart). The same pair, or one much like it, must have been used
    for both numbers. The two numbers differ by two centrings each: sigma 2 x centring.
    Raises :class:`UserError`.
    """
    if added_mm == 0 or not math.isfinite(added_mm) or abs(added_mm) > 100:
        raise UserError(
            f"a change of {added_mm:g} mm",
            "the thickness that was added (minus: removed), in mm",
            "For example --learn-sign 1.4 0.6 1.0",
        )
    change = math.degrees(signed(after_deg, SIGNS[0]) - signed(before_deg, SIGNS[0]))
    sigma = 2.0 * math.degrees(math.sqrt(noise.centring**2 + noise.reading_alt**2))
    k = 1.1 if sensitivity is None else sensitivity
    if abs(k) < BLIND:
        raise UserError(
            f"With this pair the number hardly moves with the stop: {k:.2f}° for each degree",
            "",
            "Repeat both numbers with stars toward opposite parts of the sky",
        )
    # Told at two sigma (TOLD), so that one of TOLD + 1.64 sigma is told 19 times in 20.
    least = (TOLD + 1.645) * sigma
    slope, slope_sigma = change / added_mm, sigma / abs(added_mm)
    # P(the number truly rose with thickness), flat prior on the slope.
    rises = 0.5 * math.erfc(-slope / (slope_sigma * math.sqrt(2.0)))
    to_zero = -after_deg / slope if abs(slope) > TOLD * slope_sigma else None
    ratio = None
    if lever_arm_mm > 0:
        ratio = abs(slope) / (math.degrees(math.atan(1.0 / lever_arm_mm)) * k)
    if adding == "raises":
        p = rises
    elif adding == "lowers":
        p = 1.0 - rises
    else:
        p = 0.5
    return SignLearnt(
        measured_minus_true=p,
        adding="raises" if slope > 0 else "lowers",
        per_mm_deg=slope,
        per_mm_sigma_deg=slope_sigma,
        to_zero_mm=to_zero,
        size_ratio=ratio,
        lever_arm_mm=lever_arm_mm,
        direction_known=adding in ("raises", "lowers"),
        least_deg=least,
        least_mm=_thickness(least / abs(k), lever_arm_mm),
    )


def _thickness(tip_deg: float, lever_arm_mm: float) -> float | None:
    """Millimetres that tip the tube by so much: arm times tan(tip); None where no piece can."""
    if lever_arm_mm <= 0 or tip_deg >= 45.0:
        return None
    return lever_arm_mm * math.tan(math.radians(tip_deg))
