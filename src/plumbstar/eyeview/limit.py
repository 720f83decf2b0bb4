"""The faintest star that a telescope shows: a simple published formula, good to half a magnitude.

The naked eye under a sky of mu magnitudes a square arcsecond: 7.93 - 5 log(10^(4.316 - mu/5) + 1)
(Schaefer 1990, PASP 102, 212, in the form in common use; row C14 of reference/values.md, from
memory). The telescope gathers (aperture / pupil)^2 as much light, less what its glass keeps, and at
a smaller exit pupil than the eye's it dims the sky behind the stars. Near the horizon the air takes
more: air mass of Kasten and Young (1989), extinction of Green (1992, ICQ 14, 55; from memory).
"""

from __future__ import annotations

import math

from plumbstar.targets.model import Conditions

#: What two mirrors and an eyepiece let through. Common practice, no source.
TRANSMISSION = 0.75


def naked_eye_limit(sky_mag: float) -> float:
    """Faintest star for the eye alone under that sky."""
    return 7.93 - 5.0 * math.log10(10.0 ** (4.316 - sky_mag / 5.0) + 1.0)


def air_mass(alt_rad: float) -> float:
    """Kasten and Young (1989), Applied Optics 28, 4735; held below the horizon."""
    h = max(0.0, math.degrees(alt_rad))
    return 1.0 / (math.sin(math.radians(h)) + 0.50572 * math.pow(h + 6.07995, -1.6364))


def extinction(elevation_m: float) -> float:
    """Magnitudes an air mass: Rayleigh, aerosol and ozone by elevation."""
    h = elevation_m / 1000.0
    return 0.1451 * math.exp(-h / 7.996) + 0.120 * math.exp(-h / 1.5) + 0.016


def telescope_limit(
    aperture_mm: float, magnification: float, alt_rad: float, elevation_m: float, sky: Conditions
) -> float:
    """Faintest V that shows in the eyepiece at that altitude; nothing is taken for the Moon."""
    exit_pupil = aperture_mm / magnification
    # More than the pupil holds is lost; less dims the sky, and the eye reaches fainter stars.
    used_mm = min(aperture_mm, sky.pupil_mm * magnification)
    darker = 5.0 * math.log10(max(1.0, sky.pupil_mm / exit_pupil))
    gain = 5.0 * math.log10(used_mm / sky.pupil_mm) + 2.5 * math.log10(TRANSMISSION)
    k = sky.extinction_mag if sky.extinction_mag is not None else extinction(elevation_m)
    # The naked-eye limit is for the zenith, where one air mass is in it already.
    return naked_eye_limit(sky.zenith_mag + darker) + gain - k * (air_mass(alt_rad) - 1.0)
