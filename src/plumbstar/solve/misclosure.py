"""The angle between two stars as the readings have it, against the true one."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.angles import between_rad


@dataclass(frozen=True)
class Misclosure:
    """Measured minus true angle between the stars of two sightings, degrees."""

    first: int
    second: int
    true_deg: float
    misclosure_deg: float


def misclosures(sightings: Sequence[Sighting]) -> tuple[Misclosure, ...]:
    """Measured minus true angle for every pair, taking the readings at their word."""
    true = kinematics.unit(
        np.radians([s.true_az_deg for s in sightings]),
        np.radians([s.true_alt_deg for s in sightings]),
    )
    read = kinematics.unit(
        np.radians([s.az_reading_deg for s in sightings]),
        np.radians([s.alt_reading_deg for s in sightings]),
    )
    pairs = list(itertools.combinations(range(len(sightings)), 2))
    if not pairs:
        return ()
    i, j = np.array(pairs).T
    angle_true = np.degrees(between_rad(true[i], true[j]))
    angle_read = np.degrees(between_rad(read[i], read[j]))
    return tuple(
        Misclosure(int(a), int(b), float(t), float(m - t))
        for a, b, t, m in zip(i, j, angle_true, angle_read, strict=True)
    )
