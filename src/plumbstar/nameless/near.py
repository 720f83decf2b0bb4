"""Which bright star or planet stands where a fix says that the tube pointed."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.mount.sighting import Sighting
from plumbstar.nameless.eligible import eligible
from plumbstar.sky.angles import offset_rad
from plumbstar.sky.site import Site
from plumbstar.solve.fix import Fix

#: It is named from this share on, of all that may stand there,
_SAID = 0.7
#: and within so many sigma of where the tube pointed.
_WITHIN = 3.0


def near(tap: Sighting, fix: Fix, site: Site) -> str:
    """The name of the one that a hand most likely had in the field; empty where none, or more than
    one, fits. Raises UserError by day, when nothing is named."""
    if tap.utc is None:
        return ""
    sky = eligible([tap.utc], site)
    rows = np.flatnonzero(sky.up[0])
    az, alt = sky.places[0, rows].T
    point = np.radians(fix.pointing_of(tap.az_reading_deg, tap.alt_reading_deg))
    off = offset_rad(az, alt, point[0], point[1])
    covariance = fix.pointing_covariance(az, alt, tap.az_reading_deg)
    square = np.einsum("ki,kij,kj->k", off, np.linalg.inv(covariance), off)
    log_size = np.log(np.linalg.det(covariance))
    here = (square < _WITHIN**2) & (np.hypot(*off.T) < math.radians(45.0))
    if not here.any():
        return ""
    weight = sky.chosen[rows] * np.exp(-0.5 * (square + log_size - log_size[here].min()))
    weight[~here] = 0.0
    best = int(np.argmax(weight))
    return sky.names[rows[best]] if weight[best] > _SAID * weight.sum() else ""
