"""How far an object stands over what the eye needs, in which eyepiece, and the chance in that.

The margin is in magnitudes: 0 is seen half of the time. Glows and clusters are judged in columns,
for the whole catalogue at every step; doubles, planets and stars by one formula each.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.kit import Filter, Kit
from plumbstar.targets import eye
from plumbstar.targets.filters import EFFECT
from plumbstar.targets.lenses import LookWith, eyepieces, suits_mag
from plumbstar.targets.looks import Looks
from plumbstar.targets.model import SPREAD_MAG, Conditions, Difficulty, SeenPart
from plumbstar.units import Array, Indices, Single, single

#: A glow that fills the field has no sky beside it. Judgement.
NO_EDGE_MAG = 1.5
#: A filter must gain this much; over the ample margin nothing more is gained.
WORTH_A_CHANGE_MAG, AMPLE_MAG = 0.3, 3.0
#: A glow that stays so far below the threshold behind a filter is not helped by it.
_NO_USE_MAG = -0.8
#: In place of -inf where lines are drawn between values.
_NOTHING = -1e4
#: Words for chances, hardest last. Judgement.
LEAST: tuple[tuple[Difficulty, float], ...] = (("easy", 0.95), ("fair", 0.70), ("hard", 0.25))


def chance_of(margin_mag: ArrayLike, spread_mag: float = SPREAD_MAG) -> Array:
    """Chance (...) of seeing what stands so far over the threshold: a normal law of that spread.

    Its tail by Abramowitz and Stegun 26.2.17, good to 1e-7 and fast over a night of a catalogue;
    single precision stays single.
    """
    z = np.clip(np.asarray(margin_mag) / spread_mag, -8.0, 8.0)
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
class Filtered:
    """What filters do to objects (n,), magnitudes: by how much darker the sky is behind each, and
    by how much its contrast grows."""

    dark: Array
    gain: Array


@dataclass(frozen=True, slots=True)
class Through:
    """Objects (n,), each in its eyepiece (indices): how large its patches are to the eye there
    (3, n), log10 of arcminutes, and what they lose by having no edge in the field; and what filters
    do to them, None without any."""

    looks: Looks
    eyepiece: Indices
    log_size: Array
    edge_mag: Array
    filtered: Filtered | None


@dataclass(frozen=True, slots=True)
class ChosenLenses:
    """For each of (n,) objects indices of eyepiece, second best and filter, and the margin."""

    eyepiece: Indices
    second: Indices
    filter: Indices
    margin: Array


class TelescopeAndEye:
    """One telescope with its eyepieces and filters, and the eye behind it.

    ``k``: magnitudes an air mass. ``filters`` begins with none.
    """

    def __init__(self, kit: Kit, sky: Conditions, k: float) -> None:
        self.sky, self.k = sky, k
        self.aperture_mm = kit.telescope.aperture_mm
        self.eyepieces = eyepieces(kit)
        self.filters: tuple[Filter | Literal[""], ...] = ("", *dict.fromkeys(kit.filters))
        self._power = np.array([x.magnification for x in self.eyepieces])
        self._field = np.array([x.field_arcmin for x in self.eyepieces])
        self._dimming = eye.dimming_mag(self.aperture_mm, self._power, sky.pupil_mm)
        self._factor = eye.needs_of(sky)

    # ---- glows and clusters -----------------------------------------------------------------

    def through(self, looks: Looks, eyepiece: Indices, chosen: Indices | None = None) -> Through:
        """Each in its own eyepiece (n,), behind its filter (n,); both are indices."""
        edge = np.log10(self._field[eyepiece])
        patches = looks.log_size.T
        size = np.minimum(patches, edge) + np.log10(self._power[eyepiece])
        cramped = patches > edge + math.log10(0.8)
        behind = self.filtered(looks, chosen) if chosen is not None and np.any(chosen) else None
        return Through(looks, eyepiece, size, NO_EDGE_MAG * cramped, behind)

    def filtered(self, looks: Looks, chosen: Indices) -> Filtered:
        """What the chosen filters (n,), indices into ``filters``, do to each."""
        dark, loss = np.zeros(len(looks)), np.zeros(len(looks))
        for i, name in enumerate(self.filters):
            if name:
                its, effect = chosen == i, EFFECT[name]
                dark[its] = effect.sky_mag
                loss[its] = np.where(looks.oxygen[its], effect.oxygen_mag, effect.nebula_mag)
        return Filtered(dark, dark - loss)

    def part_margins(self, seen: Through, rows: Indices, sky_mag: Array, air_mass: Array) -> Array:
        """Magnitudes (4, m) over the threshold of the parts, in the order of :class:`SeenPart`, of
        the ``rows`` (m,) of ``seen``, each in its case: the sky's brightness where it stands and
        the air before it, both (m,). -inf for a part that it has not. Stars are seen without a
        filter.
        """
        out = np.full((len(SeenPart), len(rows)), -np.inf)
        for part, where, margin in self._by_part(seen, rows, sky_mag, air_mass):
            out[part, where] = margin
        return out

    def margins(self, seen: Through, rows: Indices, sky_mag: Array, air_mass: Array) -> Array:
        """Magnitudes (m,) of the part that stands out most (:meth:`part_margins`)."""
        best = np.full(len(rows), -np.inf)
        for part, where, margin in self._by_part(seen, rows, sky_mag, air_mass):
            if part is SeenPart.STARS:
                best[where] = np.maximum(best[where], margin)
            else:
                np.maximum(best, margin, out=best)
        return best

    def _by_part(
        self, seen: Through, rows: Indices, sky_mag: Array, air_mass: Array
    ) -> Iterator[tuple[SeenPart, Indices | slice, Array]]:
        """Each part with the cases (all for a glow) that have it, and their margins."""
        looks, eyepiece, filtered = seen.looks, seen.eyepiece, seen.filtered
        behind = sky_mag + self._dimming[eyepiece][rows]
        contrast = sky_mag - self.k * air_mass - self._factor
        if filtered is not None:
            behind, contrast = behind + filtered.dark[rows], contrast + filtered.gain[rows]
        for part in (SeenPart.WHOLE, SeenPart.HALF, SeenPart.CORE):
            need = 2.5 * eye.threshold_contrast(seen.log_size[part, rows], behind)
            need += seen.edge_mag[part, rows]
            yield part, slice(None), contrast - looks.brightness[rows, part] - need
        starry = np.flatnonzero(np.isfinite(looks.stars_mag[rows]))
        if len(starry):
            i = rows[starry]
            power = self._power[eyepiece[i]]
            stars = self.star_margin(looks.stars_mag[i], sky_mag[starry], air_mass[starry], power)
            yield SeenPart.STARS, starry, stars

    def follow(self, seen: Through) -> Callable[[Array, Array], Array]:
        """:meth:`margins` of all (n,) for many cases: a function of the sky's brightness and the
        air masses (..., n), single precision; the same to 0.001 magnitudes.

        The margin plus what the air takes is a function of the sky alone, with straight lines
        between the eye's backgrounds: it is worked out there once, for each object and part.
        """
        n = len(seen.looks)
        looks, dim = seen.looks, self._dimming[seen.eyepiece]
        shift, clear = dim, np.full(n, -self._factor)
        if seen.filtered is not None:
            shift, clear = dim + seen.filtered.dark, clear + seen.filtered.gain
        sky = eye.BACKGROUND[:, None] - shift + clear
        glows = []
        for part in (SeenPart.WHOLE, SeenPart.HALF, SeenPart.CORE):
            need = 2.5 * eye.at_backgrounds(seen.log_size[part]) + seen.edge_mag[part]
            glows.append(_lines(sky - looks.brightness[:, part] - need))
        starry = np.flatnonzero(np.isfinite(looks.stars_mag))
        dim = dim[starry]
        power = self._power[seen.eyepiece[starry]]
        behind = eye.BACKGROUND[:, None] - dim
        stars = _lines(self.star_margin(looks.stars_mag[starry], behind, 0.0 * behind, power))
        nothing = np.flatnonzero(~np.isfinite(looks.brightness[:, 0]) & np.isinf(looks.stars_mag))
        shift, dim, toll = single(shift), single(dim), np.float32(self.k)

        def margins(sky_mag: Array, air_mass: Array) -> Array:
            at, t, beyond = _between_knots(sky_mag + shift)
            best = _read(glows[0], at, t)
            for part in glows[1:]:
                np.maximum(best, _read(part, at, t), out=best)
            best += beyond
            if len(starry):  # over the last background a star gains nothing more
                at, t, beyond = _between_knots(sky_mag[..., starry] + dim)
                points = _read(stars, at, t) + np.minimum(beyond, 0.0)
                best[..., starry] = np.maximum(best[..., starry], points)
            best -= toll * air_mass
            best[..., nothing] = -np.inf
            return best

        return margins

    def choose(self, looks: Looks, sky_mag: Array, air_mass: Array) -> ChosenLenses:
        """For each of (n,) objects its eyepiece, the second best, its filter and the margin.

        By contrast, shape and room together: the margin, up to the ample one, and what the
        eyepiece is worth beside it (:func:`suits_mag`). A filter is taken where it makes the glow
        of gas show better by enough, and at all.
        """
        n, m = len(looks), len(self.eyepieces)
        rows = np.arange(n)
        best = np.empty((m, n))
        for i in range(m):
            best[i] = self.margins(self._through(looks, i, 0), rows, sky_mag, air_mass)
        which = np.zeros((m, n), dtype=np.intp)
        gas = np.flatnonzero(looks.gas) if len(self.filters) > 1 else np.zeros(0, dtype=np.intp)
        if len(gas):
            few, sky, air = looks.take(gas), sky_mag[gas], air_mass[gas]
            for i in range(m):
                glow = self._in(few, i, 0, sky, air)[:-1].max(axis=0)
                least = np.maximum(glow + WORTH_A_CHANGE_MAG, _NO_USE_MAG)
                for f in range(1, len(self.filters)):
                    with_it = self._in(few, i, f, sky, air)[:-1].max(axis=0)
                    better = with_it > least
                    which[i, gas[better]] = f
                    least = np.maximum(least, with_it)
                    best[i, gas] = np.maximum(best[i, gas], np.where(better, with_it, -np.inf))
        worth = np.minimum(best, AMPLE_MAG) + suits_mag(
            self._power, self._field, self.aperture_mm, looks.length, looks.half, looks.pupil_mm
        )
        first = np.argmax(worth, axis=0)
        worth[first, rows] = -np.inf
        return ChosenLenses(first, np.argmax(worth, axis=0), which[first, rows], best[first, rows])

    def _in(
        self, looks: Looks, eyepiece: int, filter_: int, sky_mag: Array, air_mass: Array
    ) -> Array:
        """Margins (4, n) of the parts of all in one eyepiece, behind one filter."""
        seen = self._through(looks, eyepiece, filter_)
        return self.part_margins(seen, np.arange(len(looks)), sky_mag, air_mass)

    def _through(self, looks: Looks, eyepiece: int, filter_: int) -> Through:
        """All in one eyepiece, behind one filter."""
        n = len(looks)
        return self.through(looks, np.full(n, eyepiece), np.full(n, filter_))

    def setting(self, first: int, second: int, filter_: int = 0) -> LookWith:
        """Indices as what to look with; a second that is the first is none."""
        e = self.eyepieces
        return LookWith(e[first], e[second] if second != first else None, self.filters[filter_])

    # ---- points and discs -------------------------------------------------------------------

    def star_margin(
        self, v_mag: ArrayLike, sky_mag: Array, air_mass: Array, power: ArrayLike
    ) -> Array:
        """Magnitudes (...) by which a star is brighter than the faintest that shows."""
        limit = eye.star_limit(sky_mag, self.aperture_mm, power, self.sky)
        return np.asarray(limit - self.k * air_mass - np.asarray(v_mag))

    def disc_margin(
        self,
        v_mag: ArrayLike,
        diameter_arcsec: ArrayLike,
        sky_mag: Array,
        air_mass: Array,
        power: ArrayLike,
    ) -> Array:
        """As :meth:`star_margin` for even discs of that size."""
        limit = eye.disc_limit(sky_mag, diameter_arcsec, self.aperture_mm, power, self.sky)
        return np.asarray(limit - self.k * air_mass - np.asarray(v_mag))

    def planet_setting(self) -> LookWith:
        """The highest power that air and aperture bear: a millimetre of exit pupil, and an image's
        blur not wider than 8 arcminutes to the eye; then the one below. Common practice, no source.
        """
        high = self._highest()
        other = high - 1 if high else min(1, len(self.eyepieces) - 1)
        return self.setting(high, other)

    def _highest(self) -> int:
        most = min(self.aperture_mm / 1.0, 480.0 / self.sky.seeing_arcsec)
        fitting = np.flatnonzero(self._power <= most)
        return int(fitting[-1]) if len(fitting) else 0

    def double_setting(self, separation_arcsec: float, difference_mag: float) -> LookWith:
        """The lowest power that shows two stars eight arcminutes apart to the eye, more for unequal
        ones (a quarter for each magnitude), or else the highest that the air bears; then the next.
        Common practice, no source.
        """
        wanted = 480.0 * (1.0 + 0.25 * difference_mag)
        enough = np.flatnonzero(self._power * separation_arcsec >= wanted)
        high = self._highest()
        first = min(int(enough[0]), high) if len(enough) else high
        return self.setting(first, first + 1 if first < high else max(first - 1, 0))


def _lines(margins: Array) -> Single:
    """Values (backgrounds, n) at the eye's backgrounds, ready for :func:`_read`."""
    return single(np.maximum(margins, _NOTHING))


def _between_knots(background_mag: Array) -> tuple[Indices, Single, Single]:
    """Where backgrounds (..., n) fall among the eye's in a table (backgrounds, n): the place before
    it, the way to the next from 0 to 1, and how far it is beyond them all."""
    first, last = float(eye.BACKGROUND[0]), float(eye.BACKGROUND[-1])
    held = np.clip(background_mag, first, last)
    beyond = background_mag - held
    held -= first
    before = np.minimum(np.floor(held), len(eye.BACKGROUND) - 2)
    held -= before
    n = background_mag.shape[-1]
    return before.astype(np.intp) * n + np.arange(n), single(held), single(beyond)


def _read(table: Single, at: Indices, t: Single) -> Single:
    """A straight line from the value before to the next."""
    low = table.take(at)
    high = table.ravel()[table.shape[1] :].take(at)
    high -= low
    high *= t
    high += low
    return np.asarray(high)
