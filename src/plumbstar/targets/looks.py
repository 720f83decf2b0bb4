"""What there is to be seen of an object: patches of glow, and stars.

A glow's edge fades; what catches the eye is often its bright middle. So each is taken as three even
patches, one inside the other, and the eye finds the easiest of them: the whole outline, the part
that holds half of the light, and the core. How small the inner ones are, by kind, is judgement: a
disc galaxy with Freeman's central brightness (1970, ApJ 160, 811; memory) has half of its light
within 0.54 of its outline at 25 magnitudes a square arcsecond and a twentieth within 0.1, and a
bulge adds to that; an elliptical has half within 0.3; which it is, its type after Hubble says.
Globular clusters and nebulae about hot stars are more peaked still; very long nebulae are even. A
cluster shows by its stars, too: its brightest dozen are about three magnitudes fainter than the
whole (common practice, no source). Of a cluster with nebula the magnitude is taken as its stars',
and the nebula is judged by a surface brightness of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from plumbstar.sky.lists.deepsky import DeepSkyList, mean_surface_brightness
from plumbstar.targets.filters import GAS, OXYGEN
from plumbstar.targets.lenses import USUAL_PUPIL_MM, WANTED_PUPIL_MM
from plumbstar.units import Array, Bools, Indices

#: Inner patches by kind: (part of the diameter, part of the light) for the half and for the core.
PEAKED: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "pair of galaxies": ((0.45, 0.5), (0.1, 0.05)),
    "group of galaxies": ((0.3, 0.5), (0.1, 0.15)),
    "triplet of galaxies": ((0.45, 0.5), (0.1, 0.05)),
    "globular cluster": ((0.2, 0.5), (0.1, 0.25)),
    "nebula": ((0.5, 0.5), (0.1, 0.2)),
    "cluster with nebula": ((0.5, 0.5), (0.1, 0.2)),
}
#: The same for galaxies, by type. An elliptical after de Vaucouleurs (1948; memory) has half of its
#: light within the effective radius, some 0.3 of the outline, and an eighth within a sixth of that;
#: the bulge of an early spiral some 8 % of its light; the nucleus of a late one hardly any.
GALAXY: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "early": ((0.3, 0.5), (0.05, 0.12)),
    "middle": ((0.4, 0.5), (0.06, 0.08)),
    "late": ((0.45, 0.5), (0.1, 0.06)),
    "irregular": ((0.5, 0.5), (0.5, 0.5)),
}
_MIDDLE = ("Sa", "SBa", "SABa", "Sab", "SBab", "SABab", "Sb", "SBb", "SABb", "S?", "")
#: A nebula fainter than this on the mean, V a square arcsecond, has no bright middle. Judgement.
FLAT_FROM_MAG = 22.4
FLAT = ((0.6, 0.5), (0.3, 0.18))
#: A faint nebula longer than this, or one of unknown brightness, is taken as even, arcminutes.
EVEN_FROM = 100.0
#: The magnitude listed for a reflection nebula is mostly that of the star that lights it: the glow
#: is taken as no brighter than this, V a square arcsecond. Judgement.
REFLECTION_MAG = 22.0
#: A nebula of gas is taken as no brighter than this, unless its surface brightness is given:
#: otherwise its magnitude is that of stars in it. Judgement.
NEBULA_MAG = 21.0
#: How much fainter than the whole the brightest dozen stars are.
STARS_BELOW_WHOLE = {"open cluster": 3.0, "cluster with nebula": 3.0, "group of stars": 2.5,
                     "double star": 1.6, "star": 0.0}  # fmt: skip
#: A usual size where the list has none, arcminutes. Common practice, no source.
USUAL_SIZE = {"galaxy": 1.0, "globular cluster": 3.0, "planetary nebula": 0.3}
#: Mean brightness of a nebula whose magnitude nobody lists, V a square arcsecond. Judgement.
USUAL_BRIGHTNESS = {
    "nebula": 23.5, "reflection nebula": 23.0, "supernova remnant": 24.0,
    "cluster with nebula": 23.5,
}  # fmt: skip
#: What an object of the observer's own is taken as when its row gives no magnitude. Judgement.
OWN_UNKNOWN_MAG = 10.0
#: Kinds that are a lack of light, or nothing in themselves.
NOT_JUDGED = ("dark nebula", "place in the sky")


@dataclass(frozen=True)
class Looks:
    """Columns of shape ``(n,)`` and, for the three patches, ``(n, 3)``: whole, half, core.

    ``brightness`` V magnitudes a square arcsecond (inf: no glow known); ``log_size`` log10 of the
    patch's mean diameter in arcminutes; ``stars_mag`` of its brightest stars, inf without;
    ``length`` the object's longest side in arcminutes, 0 if not known; ``half`` the size of its
    inner half; ``pupil_mm`` the exit pupil its kind wants; ``gas`` whether its glow is gas, and
    ``oxygen`` whether most of that in the line of oxygen.
    """

    brightness: Array
    log_size: Array
    stars_mag: Array
    length: Array
    half: Array
    pupil_mm: Array
    gas: Bools
    oxygen: Bools

    def __len__(self) -> int:
        return len(self.stars_mag)

    def take(self, rows: Indices) -> Looks:
        return Looks(*(getattr(self, f.name)[rows] for f in fields(self)))


def gathered(kind: str) -> str:
    """Which sort of :data:`GALAXY` a type is; not known counts as an early spiral."""
    if kind in _MIDDLE:
        return "middle"
    if kind.startswith("I") or kind.endswith(("m", "d")):
        return "irregular"
    return "early" if kind.startswith(("E", "S0")) else "late"


def looks_of(objects: DeepSkyList, unknown_mag: float = np.inf) -> Looks:
    """The columns for the whole list, in its order.

    What nobody gives a brightness is taken as a star of ``unknown_mag``; by default it shows
    nothing at all.
    """
    kind = objects.kind
    n = len(kind)

    def by_kind(table: dict[str, float], otherwise: float) -> Array:
        out = np.full(n, otherwise)
        for word, value in table.items():
            out[kind == word] = value
        return out

    # A nebula's B alone is the light of the stars in it, and so is all of a cluster's with nebula.
    mixed = kind == "cluster with nebula"
    bare = np.isin(kind, list(USUAL_BRIGHTNESS)) & ~mixed
    v = np.where(bare, objects.v_mag, objects.v_estimate)
    listed = ~np.isnan(objects.size_arcmin)
    length = np.where(listed, objects.size_arcmin, by_kind(USUAL_SIZE, np.nan))
    breadth = np.where(np.isnan(objects.minor_arcmin), length, objects.minor_arcmin)
    given = np.where(objects.surface_estimated, np.nan, objects.surface_brightness)
    of_light = np.where(mixed, np.nan, mean_surface_brightness(v, length, breadth))
    whole = np.where(np.isnan(given), of_light, given)
    guessed = np.isnan(whole)
    whole = np.where(guessed, by_kind(USUAL_BRIGHTNESS, np.nan), whole)
    # A magnitude that would make it brighter than the brightest is that of stars in it.
    starry = (kind == "nebula") & np.isnan(given) & ~guessed
    whole = np.where(starry, np.maximum(whole, NEBULA_MAG), whole)
    reflection = kind == "reflection nebula"
    whole = np.where(reflection, np.maximum(whole, REFLECTION_MAG), whole)
    faint_gas = np.isin(kind, ("nebula", "cluster with nebula")) & (whole > FLAT_FROM_MAG)
    even = guessed | ((length > EVEN_FROM) & faint_gas)
    log_size = 0.5 * np.log10(length * breadth)
    sizes, glows = [log_size], [whole]
    types, which = np.unique(objects.sort, return_inverse=True)
    sort = np.where(kind == "galaxy", np.array([gathered(str(x)) for x in types])[which], "")
    sort = np.where(faint_gas, "faint gas", sort)
    for i in (0, 1):
        part, light = (by_kind({k: p[i][j] for k, p in PEAKED.items()}, 1.0) for j in (0, 1))
        for name, p in {**GALAXY, "faint gas": FLAT}.items():
            part[sort == name], light[sort == name] = p[i]
        part, light = np.where(even, 1.0, part), np.where(even, 1.0, light)
        sizes.append(log_size + np.log10(part))
        glows.append(whole - 2.5 * np.log10(light / (part * part)))
    stars = v + by_kind(STARS_BELOW_WHOLE, np.inf)
    judged = objects.deep & ~np.isin(kind, NOT_JUDGED)
    glow = judged & ~np.isnan(whole) & ~np.isnan(log_size)
    shows_half = np.where(glow, 10.0 ** sizes[1], 0.5 * np.where(np.isnan(length), 1.0, length))
    return Looks(
        np.where(glow[:, None], np.stack(glows, axis=1), np.inf),
        np.where(glow[:, None], np.stack(sizes, axis=1), 0.0),
        np.where(judged & ~np.isnan(stars), stars, np.where(judged & ~glow, unknown_mag, np.inf)),
        np.where(listed, length, 0.0),
        shows_half,
        by_kind(WANTED_PUPIL_MM, USUAL_PUPIL_MM),
        np.isin(kind, GAS),
        np.isin(kind, OXYGEN),
    )
