"""The stops of a search: offsets from the target's predicted place, as directions."""

from __future__ import annotations

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.units import Array


def place_stops(direction: Array, offsets_deg: Array) -> Array:
    """Directions (n, 3) at offsets (n, 2), degrees right on the sky and up, of a direction (3,).

    Along great circles, so that far stops near the zenith are not squeezed.
    """
    basis = kinematics.tangent_basis(*kinematics.az_alt(direction))
    offsets = np.radians(np.asarray(offsets_deg, dtype=float))
    far = np.hypot(offsets[:, 0], offsets[:, 1])[:, None]
    out: Array = np.cos(far) * direction + np.sinc(far / np.pi) * (offsets @ basis)
    return out


def place_stop(direction: Array, stop_deg: tuple[float, float] | None) -> Array:
    """The direction (3,) of a search's stop beside a target's direction (3,)."""
    if stop_deg is None:
        return direction
    out: Array = place_stops(direction, np.array([stop_deg]))[0]
    return out
