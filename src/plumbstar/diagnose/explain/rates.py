"""How often each fault happens and how large it is, before looking at any sighting.

Every number here is common practice, no source: judgement by people who coach at the telescope
would move each rate by a factor of two. They are the rates among outings about which somebody asks
"why?", one fault at a time. docs/why.md shows the same tables; change a number here and run
design/confusion.py again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.units import Array

#: Probability of each kind of cause; they sum to one.
FAULT_RATES: dict[str, float] = {
    "nothing": 0.27,
    "coarse_centring": 0.10,
    "careless_sighting": 0.10,
    "wrong_star": 0.10,
    "stop_off": 0.08,
    "slip": 0.06,
    "base_moved": 0.06,
    "ticks": 0.05,
    "clock_or_site": 0.05,
    "cone": 0.03,
    "squareness": 0.03,
    "runout": 0.02,
    "base_leaning": 0.02,
    "several": 0.03,
}
KINDS = tuple(FAULT_RATES)

# Each size is a mixture: (weight, 1 sigma in degrees) of a normal about zero, added to the kit's
# own prior of that term. Equal weights stand for "we do not know the scale".

#: The upright stop, beyond what the kit's prior already expects.
STOP_DEG = ((0.46, 1.5), (0.46, 5.0))
#: ... or the altitude entered a quarter turn wrong: an upright tube called level, or the reverse.
STOP_ENTERED_DEG = ((0.04, 90.0), (0.04, -90.0))
#: Cone and squareness beyond the prior.
CONE_DEG = ((0.5, 0.7), (0.5, 2.0))
SQUARENESS_DEG = ((0.5, 0.5), (0.5, 1.5))
#: Each component (sine, cosine) of the azimuth disc's runout.
RUNOUT_DEG = ((0.5, 0.4), (0.5, 1.2))
#: Each component of the lean of a base set down on a slope.
LEAN_DEG = ((0.5, 4.0), (0.5, 8.0))
#: An encoder slipping on its shaft, once.
SLIP_DEG = ((1 / 3, 1.0), (1 / 3, 4.0), (1 / 3, 15.0))
#: A base that moved: (weight, turn about the vertical, each component of lean).
BASE_DEG = ((0.5, 0.5, 0.5), (0.5, 2.0, 1.5))
#: Careless centring of one sighting, on each axis of the sky.
CARELESS_DEG = ((0.25, 0.5), (0.2, 1.0), (0.15, 2.5), (0.1, 8.0))
#: ... or one number of one sighting misread or mistyped by exactly this many degrees,
MISREAD_WEIGHT = 0.2
MISREAD_DEG = (1.0, -1.0, 10.0, -10.0)
#: ... or by any amount: (weight, 1 sigma in degrees).
MISREAD_ANY_WEIGHT, MISREAD_ANY_DEG = 0.1, 15.0
#: Centring coarser than stated, on every sighting, by this factor.
COARSE_FACTOR = ((0.2, 1.7), (0.2, 2.3), (0.2, 3.2), (0.2, 4.5), (0.2, 6.5))

#: Several faults at once, or one that is not listed: the sightings are off by so much, each.
SEVERAL_DEG = ((0.4, 1.0), (0.4, 3.0), (0.2, 10.0))

#: Wrong ticks: reading = factor times true turn. Common count mix-ups (edges counted once, twice or
#: four times; one usual disc taken for another), then small slips of the pen or of the gearing.
TICK_FACTORS = (
    (0.07, 2.0),
    (0.07, 0.5),
    (0.07, 4.0),
    (0.07, 0.25),
    (0.04, 10000 / 8192),
    (0.04, 8192 / 10000),
    (0.04, 1.024),
    (0.04, 1 / 1.024),
    (0.40, -1.0),
)
#: (weight, 1 sigma of the factor about one).
TICK_SCALES = ((0.08, 0.01), (0.08, 0.06))
#: The altitude circle counts from a tube laid level or stood upright.
ALTITUDE_REFERENCES_DEG = (0.0, 90.0)
#: Which circle is wrong.
TICK_AXES = (("azimuth", 0.5), ("altitude", 0.4), ("both", 0.1))

#: Parts of "clock or site": zone by whole and half hours, minutes, a sign or an exchange in the
#: site's numbers, a site some way off.
ZONE_WEIGHT, MINUTES_WEIGHT, SITE_SIGN_WEIGHT, SITE_FAR_WEIGHT = 0.60, 0.20, 0.12, 0.08
#: 1 sigma of a clock that is merely wrong, minutes, and the step of the sum over it.
MINUTES_SIGMA, MINUTES_STEP = 10.0, 2.0
#: 1 sigma of each coordinate of a site some way off, degrees.
SITE_FAR_DEG = 4.0
#: (weight, name) of the site mix-ups.
SITE_MIXUPS = ((0.5, "longitude_sign"), (0.25, "latitude_sign"), (0.25, "exchanged"))

#: A tube does not tip over the top or far below level: chance that a good reading says it did.
OVER_THE_TOP = 0.002
#: Altitude readings a tube can have, degrees.
TUBE_RANGE_DEG = (-15.0, 97.0)


def zone_errors() -> tuple[tuple[float, float], ...]:
    """(probability, hours) of a zone mistake, summing to one: one hour is by far the commonest."""
    raw = []
    for half in range(-26, 27):
        hours = half / 2
        if half == 0:
            continue
        w = math.exp(-abs(hours) / 2.5) * (1.0 if half % 2 == 0 else 0.15)
        if abs(hours) == 1:
            w *= 4.0
        if abs(hours) == 12:
            w += 0.6  # morning for evening
        raw.append((w, hours))
    raw += [(0.15, 24.0), (0.15, -24.0)]  # the date, past midnight
    total = sum(w for w, _ in raw)
    return tuple((w / total, h) for w, h in raw)


def minute_errors() -> tuple[tuple[float, float], ...]:
    """(probability, minutes) on a grid, summing to one; zero is left out (that is no fault)."""
    steps = int(3 * MINUTES_SIGMA / MINUTES_STEP)
    raw = [
        (math.exp(-0.5 * (k * MINUTES_STEP / MINUTES_SIGMA) ** 2), k * MINUTES_STEP)
        for k in range(-steps, steps + 1)
        if k
    ]
    total = sum(w for w, _ in raw)
    return tuple((w / total, m) for w, m in raw)


@dataclass(frozen=True, slots=True)
class LookAlikes:
    """How readily one star is taken for another: by distance and by brightness."""

    #: The chance falls by e for every this many degrees,
    reach_deg: float = 10.0
    #: and as a normal in magnitude with this sigma; brighter stars attract, fainter repel.
    magnitude_sigma: float = 1.3
    #: A brilliant star draws the eye from anywhere in this circle.
    within_deg: float = 45.0

    def weights(self, v_named: float, v_other: Array, separation_deg: Array) -> Array:
        """Probability (k,) of each other star, summing to one, given that a wrong one was sighted.

        ``v_other`` and ``separation_deg`` (k,). Stars beyond ``within_deg`` get nothing.
        """
        fainter = np.maximum(v_other - v_named, 0.0)
        brighter = np.maximum(v_named - v_other, 0.0)
        w = np.exp(
            -separation_deg / self.reach_deg
            - 0.5 * (fainter / self.magnitude_sigma) ** 2
            - 0.25 * (brighter / self.magnitude_sigma) ** 2
        )
        w = np.where((separation_deg > 0.2) & (separation_deg < self.within_deg), w, 0.0)
        total = float(w.sum())
        out: Array = w / total if total > 0 else w
        return out


LOOK_ALIKES = LookAlikes()
