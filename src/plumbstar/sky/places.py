"""Where things stand: ICRS to observed azimuth and altitude, and back.

Azimuth runs from north through east, 0 to 2 pi; altitude is *observed* altitude, with refraction,
because that is where the tube must point (``airless=True`` leaves it out). Annual and diurnal
aberration, light deflection by the Sun, parallax and proper motion are included, as in SOFA's
``atciq`` and ``atioq`` (vectors.py). Dropped: radial velocity, under 0.01 arcsec for every star in
the catalogue this century; light deflection by planets, under 0.02 arcsec beyond a degree from
Jupiter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol, TypeAlias, overload

import erfa
import numpy as np
from numpy.typing import ArrayLike

from plumbstar.sky import bodies
from plumbstar.sky.bodies import Body, body_place
from plumbstar.sky.earth import EarthOrientation
from plumbstar.sky.frame import Frame, frame
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.sky.vectors import Vectors, to_horizon
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array

Fixed: TypeAlias = Star | DeepSky
Target: TypeAlias = Star | DeepSky | Body


class Columns(Protocol):
    """Directions as columns of one shape: a Catalogue is one, :class:`Directions` another."""

    @property
    def ra_rad(self) -> Array: ...
    @property
    def dec_rad(self) -> Array: ...
    @property
    def pm_ra_mas(self) -> Array: ...
    @property
    def pm_dec_mas(self) -> Array: ...
    @property
    def parallax_mas(self) -> Array: ...
    @property
    def vectors(self) -> Vectors: ...


@dataclass(frozen=True)
class Directions:
    """ICRS directions at J2000.0 as columns of shape ``(n,)``; proper motion as in Star."""

    ra_rad: Array
    dec_rad: Array
    pm_ra_mas: Array
    pm_dec_mas: Array
    parallax_mas: Array

    @cached_property
    def vectors(self) -> Vectors:
        """The same as unit vectors, made once."""
        return Vectors.of(
            self.ra_rad, self.dec_rad, self.pm_ra_mas, self.pm_dec_mas, self.parallax_mas
        )

    @staticmethod
    def of(targets: Sequence[Fixed]) -> Directions:
        """Of stars, double stars and deep-sky objects in any mixture."""
        movers = [t.star if isinstance(t, Double) else t for t in targets]
        rows = np.array(
            [
                (np.radians(t.ra_deg), np.radians(t.dec_deg), t.pm_ra_mas, t.pm_dec_mas,
                 t.parallax_mas)
                if isinstance(t, Star)
                else (np.radians(t.ra_deg), np.radians(t.dec_deg), 0.0, 0.0, 0.0)
                for t in movers
            ]
        ).reshape(-1, 5)  # fmt: skip
        return Directions(*rows.T)

    @staticmethod
    def take(columns: Columns, indices: ArrayLike) -> Directions:
        """Some rows of a Catalogue or of other directions."""
        i = np.asarray(indices, dtype=np.intp)
        return Directions(
            columns.ra_rad[i], columns.dec_rad[i], columns.pm_ra_mas[i], columns.pm_dec_mas[i],
            columns.parallax_mas[i],
        )  # fmt: skip


def in_frame(f: Frame, stars: Columns, airless: bool = False) -> tuple[Array, Array]:
    """Observed (az_rad, alt_rad) of ``stars`` in a frame; shapes broadcast with the frame's."""
    az, alt = to_horizon(stars.vectors, f.astrom)
    return az, alt if airless else f.air.apparent_altitude(alt)


def observed(
    ra_rad: ArrayLike,
    dec_rad: ArrayLike,
    pm_ra_mas: ArrayLike,
    pm_dec_mas: ArrayLike,
    parallax_mas: ArrayLike,
    instant: Instant,
    site: Site,
    airless: bool = False,
    earth: EarthOrientation | None = None,
) -> tuple[Array, Array]:
    """Observed (az_rad, alt_rad) of any number of directions at one moment.

    ``ra_rad, dec_rad`` ICRS at epoch J2000.0; ``pm_ra_mas`` is mu_alpha* (times cos dec), mas a
    year; all broadcast together. ``earth`` overrides the packaged Earth-rotation table.
    Source: SOFA Astrometry Tools; see frame.py and vectors.py.
    """
    columns = Directions(
        *(
            np.asarray(x, dtype=np.float64)
            for x in (ra_rad, dec_rad, pm_ra_mas, pm_dec_mas, parallax_mas)
        )
    )
    return in_frame(frame(instant, site, earth), columns, airless)


def observed_many(
    stars: Columns | Sequence[Target],
    instants: Sequence[Instant],
    site: Site,
    *,
    grid: bool = False,
    airless: bool = False,
) -> tuple[Array, Array]:
    """Observed (az_rad, alt_rad) of many stars at many moments.

    ``grid=False``: the i-th star at the i-th moment, shape ``(n,)`` (lengths must agree).
    ``grid=True``: every star at every moment, shape ``(n_times, n_stars)``.
    ``stars`` is a Catalogue, Directions, or a list of targets; Sun, Moon and planets are allowed.
    """
    f = frame(list(instants), site)
    if isinstance(stars, Sequence):
        targets = list(stars)
        n_stars = len(targets)
    else:
        targets = []
        n_stars = len(stars.ra_rad)
    if not grid and n_stars != len(instants):
        raise ValueError(f"{n_stars} stars but {len(instants)} moments; one moment for each star")
    if not isinstance(stars, Sequence):
        return in_frame(f.expand() if grid else f, stars, airless)

    shape = (len(instants), n_stars) if grid else (n_stars,)
    az, alt = np.empty(shape), np.empty(shape)
    fixed = [i for i, t in enumerate(targets) if not isinstance(t, Body)]
    if fixed:
        columns = Directions.of([t for t in targets if not isinstance(t, Body)])
        if grid:
            az[:, fixed], alt[:, fixed] = in_frame(f.expand(), columns, airless)
        else:
            moments = f if len(fixed) == n_stars else frame([instants[i] for i in fixed], site)
            az[fixed], alt[fixed] = in_frame(moments, columns, airless)
    for i, t in enumerate(targets):
        if isinstance(t, Body):
            if grid:
                az[:, i], alt[:, i] = body_place(t, f, airless)
            else:
                az[i], alt[i] = body_place(t, frame(instants[i], site), airless)
    return az, alt


def place_rad(
    target: Target, instants: Instant | Sequence[Instant], site: Site, airless: bool = False
) -> tuple[Array, Array]:
    """Observed (az_rad, alt_rad) of one target of any kind at one moment or ``(n,)`` of them."""
    return place_in_frame(target, frame(instants, site), airless)


def place_in_frame(target: Target, f: Frame, airless: bool = False) -> tuple[Array, Array]:
    """As :func:`place_rad`, in a frame already made."""
    if isinstance(target, Body):
        return body_place(target, f, airless)
    az, alt = in_frame(f, Directions.take(Directions.of([target]), 0), airless)
    return np.asarray(az), np.asarray(alt)


def place_of(
    target: Target, instant: Instant, site: Site, airless: bool = False
) -> tuple[float, float]:
    """Observed (az_deg, alt_deg) of one target at one moment; azimuth 0 to 360."""
    az, alt = place_rad(target, instant, site, airless)
    return one_turn_deg(float(np.degrees(az))), float(np.degrees(alt))


@overload
def icrs_of(
    az_deg: float,
    alt_deg: float,
    instant: Instant,
    site: Site,
    airless: bool = ...,
    earth: EarthOrientation | None = ...,
) -> tuple[float, float]: ...
@overload
def icrs_of(
    az_deg: Array,
    alt_deg: Array,
    instant: Instant,
    site: Site,
    airless: bool = ...,
    earth: EarthOrientation | None = ...,
) -> tuple[Array, Array]: ...
def icrs_of(
    az_deg: float | Array,
    alt_deg: float | Array,
    instant: Instant,
    site: Site,
    airless: bool = False,
    earth: EarthOrientation | None = None,
) -> tuple[float, float] | tuple[Array, Array]:
    """The ICRS direction (ra_rad, dec_rad) that is seen at (az_deg, alt_deg) at one moment.

    The inverse of :func:`observed` for something without proper motion or parallax, to 1e-4
    arcsec at any altitude: refraction is a function of apparent altitude here, so it is taken off
    exactly, where ``erfa.atoiq`` is 25 arcsec out at the horizon. Then SOFA's ``atoiq`` (without
    air) and ``aticq``.
    """
    f = frame(instant, site, earth)
    alt = np.radians(np.asarray(alt_deg, dtype=np.float64))
    if not airless:
        alt = f.air.true_altitude(alt)
    az = np.radians(np.asarray(az_deg, dtype=np.float64))
    ri, di = erfa.ufunc.atoiq(b"A", az, np.pi / 2.0 - alt, f.astrom)
    ra, dec = erfa.ufunc.aticq(ri, di, f.astrom)
    if np.ndim(ra) == 0:
        return float(ra), float(dec)
    return np.asarray(ra), np.asarray(dec)


def magnitude_of(target: Target, instant: Instant) -> float:
    """V, of a planet or the Moon as it is then; nan where the catalogue has none."""
    return bodies.magnitude(target, instant) if isinstance(target, Body) else target.v_mag
