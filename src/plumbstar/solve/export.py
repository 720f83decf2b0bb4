"""A fix for another program: terms, covariance, and every convention in words.

tests/solve/test_export.py works a pointing direction out again from the JSON alone, with another
library's rotations.
"""

from __future__ import annotations

import math

import numpy as np

from plumbstar import __version__
from plumbstar.contract.answers.exported import (
    ExportedConventions,
    ExportedSighting,
    ExportedTerm,
    FixExport,
)
from plumbstar.mount.terms import SCALES, TERMS
from plumbstar.solve.fix import Fix
from plumbstar.solve.posterior import continuous_readings
from plumbstar.text.words import TERM_WORDS

FORMAT = "plumbstar fix 1"

CONVENTIONS = ExportedConventions(
    ground_frame="right-handed: x east, y north, z up",
    azimuth="from north through east, 0 to 360 degrees; larger is to the right, looking out",
    altitude="observed: refraction is included, since that is where the tube must point",
    terms="every term is true minus reading; positive_means says it for each. Angles in radians, "
    "scales are pure numbers",
    readings="az_reading_deg and alt_reading_deg are as the circles said. The formulas take the "
    "counted ones: where all azimuth readings lie in 0 to 360 the circle folds, and between two "
    "sightings the tube went the shorter way; an altitude of 180 to 360 is below level. A later "
    "reading of a folding circle counts within half a turn of the last sighting",
    from_reading_to_direction=(
        "A and E are the counted azimuth and altitude readings, radians",
        "A1 = A (1 + azimuth_scale) + azimuth_zero + azimuth_runout_sin sin A "
        "+ azimuth_runout_cos cos A",
        "E1 = E (1 + altitude_scale) + altitude_zero",
        "E2 = E1 - droop cos E1 - refraction cot E1; under 5 degrees cos E1 / sin 5 degrees for "
        "cot E1",
        "the tube in its own axes (right, forward, up): v = (sin cone, cos cone cos E2, "
        "cos cone sin E2)",
        "squareness: turn v about the forward axis by +squareness, right-handed, x' = x cos s + "
        "z sin s, z' = z cos s - x sin s",
        "azimuth: turn about the up axis by -A1, right-handed (clockwise seen from above)",
        "lean: turn by the rotation vector (-lean_north, -lean_west, 0), right-handed, in the "
        "ground frame; what comes out is the direction in the ground frame",
    ),
    covariance="of all terms together, given the sightings and the prior; rows and columns in the "
    "order of terms; a held term has zeros",
    residuals="true place minus solved place, in the tangent plane of the true place: across is "
    "toward larger azimuth, on the sky; up is toward larger altitude",
)


def export_fix(fix: Fix) -> FixExport:
    """The fix as a record for another program; ``msgspec.json.encode`` makes JSON of it."""
    counted = np.degrees(continuous_readings(fix.sightings))
    sigma = np.degrees(np.sqrt(fix.noise.variances(np.radians(_altitudes(fix))))) * 3600.0
    residual = np.degrees(fix.residuals) * 3600.0
    return FixExport(
        format=FORMAT,
        program=f"Plumbstar {__version__}",
        conventions=CONVENTIONS,
        terms=tuple(_term(fix, i) for i in range(len(TERMS))),
        covariance=tuple(tuple(float(x) for x in row) for row in fix.covariance),
        sightings=tuple(
            ExportedSighting(
                star=s.star,
                utc=s.utc.iso(3) if s.utc else None,
                true_az_deg=s.true_az_deg,
                true_alt_deg=s.true_alt_deg,
                az_reading_deg=s.az_reading_deg,
                alt_reading_deg=s.alt_reading_deg,
                az_reading_counted_deg=float(counted[i, 0]),
                alt_reading_counted_deg=float(counted[i, 1]),
                sigma_across_arcsec=float(sigma[i, 0]),
                sigma_up_arcsec=float(sigma[i, 1]),
                residual_across_arcsec=float(residual[i, 0]),
                residual_up_arcsec=float(residual[i, 1]),
                set_aside=i in fix.set_aside,
            )
            for i, s in enumerate(fix.sightings)
        ),
        rms_arcsec=fix.rms_arcsec,
        misfit_probability=fix.misfit_probability,
    )


def _altitudes(fix: Fix) -> list[float]:
    return [s.true_alt_deg for s in fix.sightings]


def _term(fix: Fix, i: int) -> ExportedTerm:
    key = TERMS[i]
    said = TERM_WORDS[key]
    prior_sigma = float(fix.prior.sigma[i])
    return ExportedTerm(
        key=key,
        name=said.name,
        positive_means=said.positive,
        unit="1" if key in SCALES else "rad",
        value=float(fix.mean[i]),
        sigma=float(fix.sigma[i]),
        prior_mean=float(fix.prior.mean[i]),
        prior_sigma=None if math.isinf(prior_sigma) else prior_sigma,
        from_data=float(fix.from_data[i]),
    )
