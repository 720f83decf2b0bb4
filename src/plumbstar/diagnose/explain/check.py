"""The one star to sight next: where two causes disagree most about its reading."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.diagnose.explain.sizes import in_degrees
from plumbstar.guide.sun import may_be_sighted
from plumbstar.mount import kinematics
from plumbstar.mount.terms import N_TERMS
from plumbstar.sky.bodies import sun_direction
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import half_turn
from plumbstar.units import Array, Bools, Indices

#: A star must stand between these to be offered, degrees.
_COMFORTABLE = (15.0, 78.0)
#: A check is worth a sighting when the causes disagree by this many sigma.
TELLING = 2.0
#: The check is done this long after the last sighting unless the caller says when, seconds.
SOON_S = 300.0


@dataclass(frozen=True)
class StarCheck:
    """One star and what the circles should say under each of two causes.

    ``this_deg`` and ``rival_deg``: (azimuth, altitude) readings; ``apart_deg``: between them on the
    sky; ``sigmas``: how clearly, 1 sigma of centring and of what is not yet known.
    """

    star: str
    again: bool
    this_deg: tuple[float, float]
    rival_deg: tuple[float, float]
    apart_deg: float
    sigmas: float
    utc: Instant | None


def clear_of_sun(place: Array, utc: Instant, site: Site) -> Bools:
    """Which places (m, 2), radians, a star may be sighted at then."""
    sun_az, sun_alt = np.degrees(sun_direction(utc, site))
    return may_be_sighted(place[:, 0], place[:, 1], sun_az, sun_alt)


@dataclass(frozen=True)
class _Candidates:
    names: tuple[str, ...]
    again: tuple[bool, ...]
    utc: Instant | None


def _candidates(o: Observations, when: Instant | None) -> tuple[_Candidates, Indices | None]:
    h = o.sky
    if h is None:
        names = tuple(s.star for s in o.sightings)
        return _Candidates(names, (True,) * o.n, None), None
    utc = h.instants[-1].plus_seconds(SOON_S) if when is None else when
    place = h.check_places(utc)
    alt = np.degrees(place[:, 1])
    up = np.flatnonzero(
        (alt > _COMFORTABLE[0]) & (alt < _COMFORTABLE[1]) & clear_of_sun(place, utc, h.site)
    )
    sighted = {s.star for s in o.sightings}
    names = tuple(h.check_names[int(i)] for i in up)
    return _Candidates(names, tuple(x in sighted for x in names), utc), up


def _expected(
    o: Observations, j: Judged, c: _Candidates, up: Indices | None
) -> tuple[Array, Array, Array]:
    """Under one cause, for every candidate: reading (m, 2), its covariance (m, 2, 2), and how high
    the star then truly stands (m,), radians."""
    h = o.sky
    if h is None or up is None or c.utc is None:
        place = o.true
    else:
        late = c.utc.plus_seconds(j.form.clock_late_s)
        place = h.check_places(late, j.form.really_at())[up]
    shift = j.form.shift_next(j.best.shift)
    terms = j.mean[:N_TERMS] + shift @ j.mean[N_TERMS:]
    d = kinematics.unit(place[:, 0], place[:, 1])
    reading = kinematics.reading_of(d, terms, float(j.best.readings[-1, 0]))
    _, jac = kinematics.direction_jacobian(reading, terms)
    flat = kinematics.tangent_basis(place[:, 0], place[:, 1]) @ jac
    full = np.concatenate([flat, flat @ shift], axis=-1)
    cov = full @ j.covariance @ full.swapaxes(-1, -2)
    return j.form.as_read(reading), cov, place[:, 1]


def best_star(
    o: Observations, this: Judged, rival: Judged, when: Instant | None
) -> StarCheck | None:
    """The star whose readings under the two causes differ most, in sigma; None when none is up."""
    c, up = _candidates(o, when)
    if not c.names:
        return None
    mine, cov, alt = _expected(o, this, c, up)
    other, cov_other, alt_other = _expected(o, rival, c, up)
    delta = mine - other
    delta[:, 0] = half_turn(delta[:, 0]) * np.cos(mine[:, 1])
    delta[:, 1] = half_turn(delta[:, 1])
    hand = np.diag(np.max(o.variance, axis=0))
    total = cov + cov_other + hand
    sigmas = np.sqrt(np.einsum("mi,mij,mj->m", delta, np.linalg.inv(total), delta))
    if up is not None:  # it must be there to be seen, whichever cause is true
        sigmas = np.where(np.minimum(alt, alt_other) > math.radians(10.0), sigmas, 0.0)
    k = int(np.argmax(sigmas))
    return StarCheck(
        c.names[k],
        c.again[k],
        in_degrees(mine[k]),
        in_degrees(other[k]),
        math.degrees(float(np.linalg.norm(delta[k]))),
        float(sigmas[k]),
        c.utc,
    )
