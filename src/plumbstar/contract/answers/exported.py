"""A fix written out so that another program can check it: terms, covariance, conventions."""

from __future__ import annotations

from plumbstar.contract.answers.base import Report


class ExportedTerm(Report, frozen=True, kw_only=True):
    """One term of the mount, true minus reading.

    ``unit`` is "rad", or "1" for a pure number (radians of error for each radian turned).
    ``prior_sigma`` is null where nothing was known before, 0 where the term is held.
    ``from_data``: the share of what is known that the sightings told, 0 to 1.
    """

    key: str
    name: str
    positive_means: str
    unit: str
    value: float
    sigma: float
    prior_mean: float
    prior_sigma: float | None
    from_data: float


class ExportedSighting(Report, frozen=True, kw_only=True):
    """One sighting as the solver took it.

    ``az_reading_counted_deg``, ``alt_reading_counted_deg``: the reading with its turns counted, as
    the formulas take it. ``sigma_*``: what was allowed for hand and circles. ``residual_*``: true
    place minus solved, in the tangent plane of the true place.
    """

    star: str
    utc: str | None
    true_az_deg: float
    true_alt_deg: float
    az_reading_deg: float
    alt_reading_deg: float
    az_reading_counted_deg: float
    alt_reading_counted_deg: float
    sigma_across_arcsec: float
    sigma_up_arcsec: float
    residual_across_arcsec: float
    residual_up_arcsec: float
    set_aside: bool


class ExportedConventions(Report, frozen=True, kw_only=True):
    """What the numbers mean, in words: enough to work the fix out again."""

    ground_frame: str
    azimuth: str
    altitude: str
    terms: str
    readings: str
    from_reading_to_direction: tuple[str, ...]
    covariance: str
    residuals: str


class FixExport(Report, frozen=True, kw_only=True):
    """A solved mount for another program. ``covariance``: rows and columns in the order of
    ``terms``, in products of their units."""

    format: str
    program: str
    conventions: ExportedConventions
    terms: tuple[ExportedTerm, ...]
    covariance: tuple[tuple[float, ...], ...]
    sightings: tuple[ExportedSighting, ...]
    rms_arcsec: float
    misfit_probability: float
