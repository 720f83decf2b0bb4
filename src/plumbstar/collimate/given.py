"""The numbers that somebody may give beside a picture, held to what makes sense."""

from __future__ import annotations

from plumbstar.errors import UserError


def check_numbers(focal_ratio: float | None, defocus_mm: float | None, up_clock: float) -> None:
    """Raises UserError for a focal ratio, a defocus or a clock that cannot be."""
    if focal_ratio is not None and not 1.0 <= focal_ratio <= 60.0:
        raise UserError(
            f"a focal ratio of {focal_ratio:g}",
            "1 to 60 (focal length over aperture)",
            "Check the kit's telescope",
        )
    if defocus_mm is not None and not 0.01 <= abs(defocus_mm) <= 300.0:
        raise UserError(
            f"a defocus of {defocus_mm:g} mm",
            "0.01 to 300 mm, how far the focuser stands from sharp focus",
            "Measure it on the focuser's tube with a ruler",
        )
    if not 0.0 <= up_clock <= 12.0:
        raise UserError(f"up at {up_clock:g} o'clock", "0 to 12", "12 means the picture's top")
