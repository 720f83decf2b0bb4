"""A simulator of everything that goes wrong: hide a fault, then see whether it is found.

For the tests and for design/confusion.py, which measure what docs/why.md states. What a fault does,
and how its size is drawn, stands with its cause in :mod:`plumbstar.diagnose.explain.causes`; here
is the outing that it is done to.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbstar.diagnose.explain.causes.aims import Aim, name_of, places_of
from plumbstar.diagnose.explain.causes.fault import Fault, believed_places
from plumbstar.mount.priors import Noise
from plumbstar.mount.sighting import Sighting
from plumbstar.simulate.mounts import centred, readings_in_turn, rounded
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array


def simulate(
    truth: Array,
    fault: Fault,
    plan: Sequence[Aim],
    noise: Noise,
    rng: np.random.Generator,
    site: Site,
    instants: Sequence[Instant],
    *,
    wrapped: bool = True,
) -> list[Sighting]:
    """The sightings an observer would have written down, fault and all.

    ``truth`` (12,): the mount's terms, radians, before the fault. ``plan``: what is sighted at each
    of ``instants`` (true UTC, same length). ``noise`` as the fix understands it: the hand is normal
    on the sky, readings are rounded to the grain. The tube is pushed the shorter way from star to
    star; ``wrapped`` readings of azimuth are written within 0 to 360. The true places and the times
    in the result are what the observer believes. Raises :class:`UserError` when a fault of time,
    site or star is asked for a plan of bare directions.
    """
    n = len(plan)
    if len(instants) != n:
        raise ValueError(f"{n} stars but {len(instants)} moments")
    aimed = places_of(plan, instants, site)
    faults = fault.parts
    for f in faults:
        other = f.really_sighted()
        if other is not None:
            i, star = other
            aimed[i] = places_of([star], [instants[i]], site)[0]
    believed = believed_places(fault, plan, instants, site)

    terms = np.repeat(truth[None, :], n, axis=0)
    coarse = math.prod(f.coarser for f in faults)
    offset = noise.centring * coarse * rng.standard_normal((n, 2))
    for f in faults:
        f.turn(terms)
        f.push(offset)

    readings = readings_in_turn(centred(aimed, offset), terms)
    for f in faults:
        f.gear(readings)
    readings = rounded(readings, math.sqrt(12.0) * np.array([noise.reading_az, noise.reading_alt]))
    for f in faults:
        f.write_down(readings)
    degrees = np.degrees(readings)
    if wrapped:
        degrees[:, 0] = one_turn_deg(degrees[:, 0])
    names = [name_of(a, k) for k, a in enumerate(plan)]
    shown = [t.plus_seconds(-fault.seconds) for t in instants]
    return [
        Sighting(name, float(b[0]), float(b[1]), float(r[0]), float(r[1]), t)
        for name, b, r, t in zip(names, believed, degrees, shown, strict=True)
    ]
