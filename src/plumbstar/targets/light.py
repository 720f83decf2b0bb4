"""The light of one night over one site, step by step: where the Sun and Moon are, how bright it is.

Directions are turned to the horizon by one matrix a step, after aberration taken once for the
middle of the night: it changes by 0.1 arcsec in half a night, the daily part by 0.3.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from plumbstar.sky import glow
from plumbstar.sky.bodies import Body, body_place, illuminated_fraction
from plumbstar.sky.frame import Frame, frame
from plumbstar.sky.places import place_in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.sky.vectors import Vectors, apparent, horizon_matrix
from plumbstar.targets.eye import air_toll
from plumbstar.targets.model import Conditions
from plumbstar.units import Array, Bools, Indices

STEP_MINUTES = 5.0
#: The Sun lower than this adds nothing; glow.twilight ends at 18.3 degrees.
NIGHT_SUN = math.radians(-18.5)


@dataclass(frozen=True)
class NightLight:
    """Indices of one night. Angles in radians, arrays of shape ``(steps,)``; ``k`` mag an air mass.

    ``turns`` (steps, 3, 3) leads from ICRS axes to south, east, up. The Moon's phase angle is 0
    when it is full. Altitudes of Sun and Moon are without air. ``frames`` is the frame of all
    steps, ``middle`` that of the middle one.
    """

    instants: tuple[Instant, ...]
    site: Site
    zenith_mag: float
    k: float
    turns: Array
    frames: Frame
    middle: Frame
    sun_az: Array
    sun_alt: Array
    moon_alt: Array
    moon: Array  # (steps, 3): south, east, up
    moon_lit: float
    moon_phase_angle: float
    #: places of bodies at all steps, once they were asked for; shared by the same night's lights
    held: dict[str, tuple[Array, Array]] = field(default_factory=dict, compare=False)

    @staticmethod
    def of(start: Instant, end: Instant, site: Site, sky: Conditions) -> NightLight:
        """From ``start`` to ``end``, a step every five minutes, both ends included."""
        n = max(1, math.ceil(end.minus(start) / (60.0 * STEP_MINUTES)))
        instants = tuple(start.plus_seconds(60.0 * STEP_MINUTES * i) for i in range(n + 1))
        f = frame(list(instants), site)
        middle = instants[n // 2]
        sun_az, sun_alt = body_place(Body("Sun"), f, airless=True)
        moon_az, moon_alt = body_place(Body("Moon"), f, airless=True)
        lit = illuminated_fraction(Body("Moon"), middle)
        moon = np.stack(
            [-np.cos(moon_alt) * np.cos(moon_az), np.cos(moon_alt) * np.sin(moon_az),
             np.sin(moon_alt)], axis=-1,
        )  # fmt: skip
        return NightLight(
            instants, site, sky.zenith_mag, air_toll(sky, site.elevation_m),
            horizon_matrix(f.astrom), f, frame(middle, site), sun_az, sun_alt, moon_alt, moon, lit,
            glow.moon_phase_angle(lit),
        )  # fmt: skip

    def under(self, zenith_mag: float) -> NightLight:
        """The same night under a sky so dark at the zenith."""
        return replace(self, zenith_mag=zenith_mag)

    def places_of(self, bodies: Sequence[Body]) -> tuple[Array, Array]:
        """Azimuth and altitude (steps, n) of bodies at every step, altitude observed."""
        for b in bodies:
            if b.name not in self.held:
                self.held[b.name] = place_in_frame(b, self.frames)
        az, alt = (np.stack([self.held[b.name][i] for b in bodies], axis=1) for i in (0, 1))
        return az, alt

    def index(self, instant: Instant) -> int:
        """The step nearest to a moment, within the night."""
        i = round(instant.minus(self.instants[0]) / (60.0 * STEP_MINUTES))
        return min(max(i, 0), len(self.instants) - 1)

    def apparent(self, stars: Vectors) -> Array:
        """Unit vectors (3, n), ICRS axes, as the observer sees them in the middle of the night."""
        v = np.stack(np.broadcast_arrays(*apparent(stars, self.middle.astrom)))
        return np.asarray(v / np.linalg.norm(v, axis=0))

    def highest(self, directions: Array, steps: Bools) -> Array:
        """Sines (n,) of the greatest altitudes without air at those steps; -1 if there is none."""
        up = self.turns[steps, 2, :].astype(np.float32) @ directions.astype(np.float32)
        return np.asarray(np.max(up, axis=0, initial=-1.0))

    def toward_moon(self, steps: slice | Indices) -> Array:
        """The Moon's direction at some steps, ICRS axes, (steps, 3)."""
        return np.asarray(np.einsum("ti,tij->tj", self.moon[steps], self.turns[steps]))

    def moon_cosines_at(self, directions: Array, step: Indices) -> Array:
        """The same for each direction (3, n) at one step (n,) of its own: (n,)."""
        return np.asarray(np.einsum("nj,jn->n", self.toward_moon(step), directions))

    def sky_mag(
        self, step: Indices, alt: Array, moon_cosine: Array | None, az: Array | None = None
    ) -> Array:
        """How bright the sky is at altitudes (n,) at steps (n,), V magnitudes a square arcsec.

        ``moon_cosine`` None leaves the Moon out; ``az`` None the twilight's bright side.
        """
        light = glow.dark_sky(self.zenith_mag, alt, self.k)
        dusk = np.flatnonzero(self.sun_alt[step] > NIGHT_SUN)
        if len(dusk):
            s = step[dusk]
            side = np.zeros(len(dusk)) if az is None else np.cos(az[dusk] - self.sun_az[s])
            light[dusk] += glow.twilight(self.sun_alt[s], alt[dusk], side)
        if moon_cosine is not None:
            up = self.moon_alt[step] > 0.0
            if np.any(up):
                s = step[up]
                light[up] += glow.moonlight(
                    self.moon_alt[s], self.moon_phase_angle, alt[up],
                    np.arccos(np.clip(moon_cosine[up], -1.0, 1.0)), self.k,
                )  # fmt: skip
        return glow.mag_arcsec2(light)

    def darkest(self) -> int:
        """The step with the Sun at its lowest."""
        return int(np.argmin(self.sun_alt))
