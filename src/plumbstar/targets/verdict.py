"""How far an object stands over what the eye needs, in which eyepiece, and the chance in that.

The margin is in magnitudes: 0 is seen half of the time. Glows and clusters are judged in columns,
for the whole catalogue at every step; doubles, planets and stars by one formula each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.kit import Eyepiece, Kit
from plumbstar.targets import eye
from plumbstar.targets.looks import Looks
from plumbstar.targets.model import Conditions, Difficulty
from plumbstar.units import Array, Indices

#: Spread of what eye, catalogue and night make of a threshold, magnitudes. Judgement; Blackwell's
#: observers alone had 0.4 (contrast 1.6 times as high for 90 % as for 50 %; memory).
SPREAD_MAG = 0.6
#: A glow that fills the field has no sky beside it. Judgement.
NO_EDGE_MAG = 1.5
#: The field should be this much wider than the object.
ROOM = 1.2
#: More power, or less, must gain this much; over the ample margin nothing more is gained.
WORTH_A_CHANGE_MAG, AMPLE_MAG = 0.3, 3.0
#: Dawes's limit for two equal stars in still air, arcseconds times millimetres (116 / D;
#: astronomyassociation.org, otdl.html).
DAWES = 116.0
#: To show its shape an object should look so long to the eye, arcminutes. Common practice.
SHAPE_ARCMIN = 90.0
#: Words for chances, hardest last. Judgement.
LEAST: tuple[tuple[Difficulty, float], ...] = (("easy", 0.95), ("fair", 0.70), ("hard", 0.25))


def chance_of(margin_mag: ArrayLike) -> Array:
    """Chance (...) of seeing what stands so far over the threshold: a normal law.

    Its tail by Abramowitz and Stegun 26.2.17, good to 1e-7 and fast over a night of a catalogue.
    """
    z = np.clip(np.asarray(margin_mag, dtype=np.float64) / SPREAD_MAG, -8.0, 8.0)
    a = np.abs(z)
    t = 1.0 / (1.0 + 0.2316419 * a)
    tail = np.exp(-0.5 * a * a) / math.sqrt(2.0 * math.pi)
    tail *= t * (
        0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429)))
    )
    return np.asarray(np.where(z >= 0.0, 1.0 - tail, tail))


def difficulty_of(chance: float) -> Difficulty:
    """One plain word for a chance of seeing."""
    return next((word for word, least in LEAST if chance >= least), "unlikely")


@dataclass(frozen=True, slots=True)
class FittedEyepiece:
    """One eyepiece in this telescope."""

    name: str
    magnification: float
    field_arcmin: float

    @staticmethod
    def of(kit: Kit, e: Eyepiece) -> FittedEyepiece:
        return FittedEyepiece(e.name, kit.magnification(e), 60.0 * kit.true_field_deg(e))


def eyepieces(kit: Kit) -> tuple[FittedEyepiece, ...]:
    """The kit's eyepieces, lowest power first; the finder eyepiece where none is listed."""
    own = kit.eyepiece or (kit.finder_eyepiece(),)
    return tuple(sorted((FittedEyepiece.of(kit, e) for e in own), key=lambda x: x.magnification))


class TelescopeAndEye:
    """One telescope with its eyepieces, and the eye behind it. ``k``: magnitudes an air mass."""

    def __init__(self, kit: Kit, sky: Conditions, k: float) -> None:
        self.sky, self.k = sky, k
        self.aperture_mm = kit.telescope.aperture_mm
        self.eyepieces = eyepieces(kit)
        self._power = np.array([x.magnification for x in self.eyepieces])
        self._field = np.array([x.field_arcmin for x in self.eyepieces])
        self._dimming = eye.dimming_mag(self.aperture_mm, self._power, sky.pupil_mm)
        self._factor = 2.5 * math.log10(eye.FIELD_FACTOR[sky.practice])

    # ---- glows and clusters -----------------------------------------------------------------

    def tables(self, looks: Looks, eyepiece: Indices) -> Array:
        """Threshold contrasts (3, n, 24), log10, of the patches of each in its own eyepiece."""
        edge = np.log10(self._field[eyepiece])[:, None]
        size = np.minimum(looks.log_size, edge) + np.log10(self._power[eyepiece])[:, None]
        cramped = looks.log_size > edge + math.log10(0.8)
        table = eye.thresholds_by_background(size) + 0.4 * NO_EDGE_MAG * cramped[..., None]
        return np.ascontiguousarray(np.moveaxis(table, 1, 0))

    def margins(
        self,
        looks: Looks,
        tables: Array,
        eyepiece: Indices,
        rows: Indices,
        sky_mag: Array,
        air_mass: Array,
    ) -> Array:
        """Magnitudes (m,) over the threshold of the ``rows`` (m,) of ``looks``, each in its case:
        the sky's brightness where it stands and the air before it, both (m,).
        """
        behind = sky_mag + self._dimming[eyepiece][rows]
        contrast = sky_mag - self.k * air_mass - self._factor
        best = np.full(len(rows), -np.inf)
        for part in range(len(tables)):
            need = eye.from_table(tables[part], rows, behind)
            np.maximum(best, contrast - looks.brightness[rows, part] - 2.5 * need, out=best)
        starry = np.flatnonzero(np.isfinite(looks.stars_mag[rows]))
        if len(starry):
            i = rows[starry]
            best[starry] = np.maximum(
                best[starry],
                self.star_margin(
                    looks.stars_mag[i], sky_mag[starry], air_mass[starry], self._power[eyepiece[i]]
                ),
            )
        return best

    def choose_eyepiece(
        self, looks: Looks, sky_mag: Array, air_mass: Array
    ) -> tuple[Indices, Array]:
        """For each of (n,) objects its eyepiece, as an index, and the margin (n,) in it.

        Of those that leave the object room and show it nearly as well as any, the lowest power that
        makes it large enough to have a shape, or the highest of them; the widest field for what has
        room in none.
        """
        n = len(looks)
        rows = np.arange(n)
        all_margins = np.stack(
            [
                self.margins(looks, self.tables(looks, eyepiece), eyepiece, rows, sky_mag, air_mass)
                for eyepiece in (np.full(n, i) for i in range(len(self.eyepieces)))
            ]
        )
        widest = int(np.argmax(self._field))
        room = self._field[:, None] >= ROOM * looks.length[None, :]
        room[widest] = True
        fit = np.where(room, np.minimum(all_margins, AMPLE_MAG), -np.inf)
        good = fit >= fit.max(axis=0) - WORTH_A_CHANGE_MAG
        shaped = good & (self._power[:, None] * looks.length[None, :] >= SHAPE_ARCMIN)
        highest = len(self.eyepieces) - 1 - np.argmax(good[::-1], axis=0)
        chosen = np.where(shaped.any(axis=0), np.argmax(shaped, axis=0), highest)
        return chosen, all_margins[chosen, rows]

    # ---- points -----------------------------------------------------------------------------

    def star_margin(
        self, v_mag: ArrayLike, sky_mag: Array, air_mass: Array, power: ArrayLike
    ) -> Array:
        """Magnitudes (...) by which a star is brighter than the faintest that shows."""
        limit = eye.star_limit(sky_mag, self.aperture_mm, power, self.sky)
        return np.asarray(limit - self.k * (air_mass - 1.0) - np.asarray(v_mag))

    def split_need_arcsec(self, difference_mag: ArrayLike, air_mass: ArrayLike) -> Array:
        """Separation (...) at which this telescope in this air parts two stars half the time.

        Dawes's limit grows with unequal brightness: Lewis 1914, The Observatory 37, 378, has 4.8,
        16.5 and 36 over the aperture in inches for differences of 0, 3.3 and 5.7 magnitudes
        (memory), which 10^(0.155 difference) meets within a tenth. The eye catches the still
        moments, so seeing counts 0.4 of its width, and grows as air mass to the 0.6.
        """
        unequal = np.power(10.0, 0.155 * np.asarray(difference_mag))
        seeing = 0.4 * self.sky.seeing_arcsec * np.power(air_mass, 0.6)
        return np.asarray(unequal * np.hypot(DAWES / self.aperture_mm, seeing))

    def planet_eyepiece(self) -> int:
        """The highest power that air and aperture bear: a millimetre of exit pupil, and an image's
        blur not wider than 8 arcminutes to the eye. Common practice, no source.
        """
        most = min(self.aperture_mm / 1.0, 480.0 / self.sky.seeing_arcsec)
        fitting = np.flatnonzero(self._power <= most)
        return int(fitting[-1]) if len(fitting) else 0

    def double_eyepiece(self, separation_arcsec: float) -> int:
        """The lowest power that shows two stars four arcminutes apart to the eye, or else the
        highest that the air bears. Common practice, no source.
        """
        enough = np.flatnonzero(self._power * separation_arcsec >= 240.0)
        high = self.planet_eyepiece()
        return min(int(enough[0]), high) if len(enough) else high
