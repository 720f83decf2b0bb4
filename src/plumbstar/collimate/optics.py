"""How coma and defocus make the shadow's offset: closed forms, derived in docs/collimate.md."""

from __future__ import annotations


def coma_free_radius_mm(focal_ratio: float) -> float:
    """Radius in the focal plane inside which coma leaves a paraboloid diffraction-limited, mm.

    h = F^3 / 90 mm for a Strehl ratio of 0.80 at 550 nm: telescope-optics.net,
    newtonian_off_axis_aberrations.htm, eq. 70.2. Coma only; a coma corrector widens it.
    """
    return focal_ratio**3 / 90.0


def axis_in_diameters(offset_fraction: float, focal_ratio: float, obstruction: float) -> float:
    """Distance from the star to the coma-free point, in diameters of the defocused disc.

    8 F^2 s / (3 (1 - eps^2)): the rim is carried 3 h / (16 F^2) off by third-order coma and the
    shadow's edge eps^2 of that (derived in docs/collimate.md; design/collimation_limits.py agrees
    to 0.2 % by tracing rays). Ignores that the secondary's silhouette moves too, which is as large
    again at the defocus used in practice: hence :func:`~.pair.combine`.
    """
    return 8.0 * focal_ratio**2 * offset_fraction / (3.0 * (1.0 - obstruction**2))


def disc_diameter_mm(focal_ratio: float, defocus_mm: float) -> float:
    """Diameter of the defocused disc in the eyepiece's focal plane: |dz| / F, similar triangles."""
    return abs(defocus_mm) / focal_ratio


def outside_beyond_mm(offset_fraction: float, focal_ratio: float, obstruction: float) -> float:
    """Defocus beyond which this offset puts the star outside the coma-free field, mm.

    :func:`axis_in_diameters` times :func:`disc_diameter_mm` set equal to F^3/90 gives
    F^2 (1 - eps^2) / (240 s).
    """
    return focal_ratio**2 * (1.0 - obstruction**2) / (240.0 * max(offset_fraction, 1e-9))
