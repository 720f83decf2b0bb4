"""An evening at one site with one mount, as several tests of `why` have it."""

from __future__ import annotations

import json
import math
from functools import lru_cache

import numpy as np

from plumbstar.commands.output import to_json
from plumbstar.diagnose.explain import Cause, explain
from plumbstar.diagnose.explain.answer import detail_of
from plumbstar.diagnose.explain.causes.fault import Fault
from plumbstar.kit import example
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.simulate.faults import simulate
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

RIDGE = Site(47.2, 11.6, 940.0, name="Thornback Ridge")
START = Instant.parse("2027-01-28T18:30:00Z")
NAMES = ("Capella", "Rigel", "Aldebaran", "Caph", "Castor", "Sirius")
MOMENTS = [START.plus_seconds(75.0 * k) for k in range(len(NAMES))]
KIT = example()
PRIOR, NOISE = Priors.from_kit(KIT), Noise.from_kit(KIT)

TRUTH = np.zeros(N_TERMS)
for _name, _deg in {
    "azimuth_zero": 123.0,
    "altitude_zero": 0.9,
    "lean_north": 1.0,
    "lean_west": -1.0,
    "cone": 0.25,
    "squareness": 0.15,
}.items():
    TRUTH[INDEX[_name]] = math.radians(_deg)


def sight(fault: Fault, seed: int = 1, n: int = 6, noise: Noise = NOISE) -> list[Sighting]:
    return simulate(TRUTH, fault, NAMES[:n], noise, np.random.default_rng(seed), RIDGE, MOMENTS[:n])


def in_json(cause: Cause) -> dict[str, object]:
    """The particulars of a cause, as JSON has them."""
    return json.loads(to_json(detail_of(cause)))


@lru_cache(maxsize=64)
def why(fault: Fault, seed: int = 1, n: int = 6, **more):
    """Several tests ask of the same outing; an explanation is frozen."""
    return explain(
        sight(fault, seed, n), PRIOR, NOISE, site=fault.recorded_site(RIDGE), kit=KIT, **more
    )
