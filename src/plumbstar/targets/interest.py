"""How much an evening gains by an object, and how long to look. All of it judgement.

By what it shows in this telescope under this sky: its light as a whole, how far it stands over the
threshold, what there is to make out in it (stars that part, the shape of a glow, two colours), and
whether it has room in the field. Then by how seldom it stands high at this site, and how high
tonight. Never by whose list it is in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.places import Target
from plumbstar.targets.looks import NEBULA_MAG, gathered
from plumbstar.targets.model import Difficulty, SeenPart

_BODIES = {
    "Moon": 4.0, "Saturn": 5.0, "Jupiter": 5.0, "Mars": 2.5, "Venus": 1.5, "Mercury": 1.2,
    "Uranus": 1.2, "Neptune": 1.1,
}  # fmt: skip
_MINUTES: dict[Difficulty, float] = {"easy": 8.0, "fair": 10.0, "hard": 15.0, "unlikely": 15.0}
#: The brightest stars of a globular cluster are so much fainter than the whole: M 13 6.1, 47 Tuc
#: 7.5, omega Centauri 7.8. From memory, rounded down for how they are spread.
_GLOBULAR_STARS_MAG = 6.3
#: Over this height an object counts as well placed, degrees.
_HIGH_DEG, _USEFUL_DEG = 45.0, 25.0


@dataclass(frozen=True, slots=True)
class Weights:
    """What each thing to be seen counts; ``_mag`` for each magnitude brighter. Judgement, and tuned
    until twelve evenings looked as an expert's (tests/targets/test_expected_evenings.py)."""

    pair: float = 1.1
    pair_mag: float = 0.19
    pair_colours: float = 0.75
    pair_close: float = 0.3
    pair_alike: float = 0.4
    galaxy: float = 0.55
    galaxy_mag: float = 0.42
    galaxy_plain: float = 0.6
    galaxy_shape: float = 1.35
    galaxy_thin: float = 0.95
    galaxies: float = 0.5
    globular: float = 1
    globular_mag: float = 0.6
    globular_stars: float = 0.85
    planetary: float = 0.8
    planetary_mag: float = 0.335
    planetary_shape: float = 1.2
    cluster: float = 0
    cluster_mag: float = 0.335
    crowded: float = 0.175
    rich: float = 1.45
    middling: float = 0.85
    poor: float = -0.4
    gas: float = 0.25
    gas_mag: float = 0.5
    gas_shape: float = 1.9
    lesser_part: float = 0.15


WEIGHTS = Weights()


@dataclass(frozen=True, slots=True)
class ShownTonight:
    """What an object shows tonight: margins of the whole and of each part (magnitudes), the
    eyepiece, the faintest star in it, the height at its best, and the site's latitude."""

    margin_mag: float
    parts: tuple[float, float, float, float]
    magnification: float
    field_arcmin: float
    reach_mag: float
    alt_deg: float
    lat_deg: float


def interest_of(target: Target, shown: ShownTonight, w: Weights = WEIGHTS) -> float:
    """About 1 for an unknown object that shows without detail, 3 to 5 for the best of the sky."""
    high = 0.8 + 0.2 * min(1.0, shown.alt_deg / _HIGH_DEG)
    if isinstance(target, MinorBody):
        bright = _part(shown.margin_mag, 4.0)
        return (1.5 + 3.0 * bright if target.sort == "comet" else 0.8 + 0.4 * bright) * high
    if isinstance(target, Body):
        return _BODIES.get(target.name, 1.0) * high
    clear = 0.5 + 0.5 * _part(shown.margin_mag, 1.5)
    if isinstance(target, Double):
        return _pair(target, w) * high * clear
    if not isinstance(target, DeepSky):
        return 1.0
    return _deep(target, shown, w) * clear * high * seldom(target.dec_deg, shown.lat_deg)


def seldom(dec_deg: float, lat_deg: float) -> float:
    """1.1 for what stands high for an hour a day at that latitude, 0.95 for what never sets."""
    lat, dec, low = (math.radians(x) for x in (lat_deg, dec_deg, _USEFUL_DEG))
    c = math.cos(lat) * math.cos(dec)
    over = math.sin(low) - math.sin(lat) * math.sin(dec)
    if abs(c) < 1e-6:
        return 1.0
    hours = 24.0 / math.pi * math.acos(min(1.0, max(-1.0, over / c)))
    return 1.1 - 0.15 * hours / 24.0


def _part(x: float, whole: float) -> float:
    """How much of ``whole`` x is, 0 to 1."""
    return min(max(x / whole, 0.0), 1.0)


def _over(v_mag: float, zero: float, most: float = 9.0) -> float:
    """Magnitudes brighter than ``zero``."""
    return min(max(zero - v_mag, 0.0), most)


def _pair(d: Double, w: Weights) -> float:
    close = w.pair_close if d.separation_arcsec < 40.0 else 0.0
    alike = w.pair_alike if abs(d.mag_a - d.mag_b) < 1.5 else 0.0
    colours = w.pair_colours if d.two_colours else 0.0
    return w.pair + w.pair_mag * _over(d.v_mag, 6.0) + colours + close + alike


def _deep(o: DeepSky, shown: ShownTonight, w: Weights) -> float:
    v = o.v_mag if not math.isnan(o.v_mag) else o.b_mag - 0.7
    v = 12.0 if math.isnan(v) else v
    size = 0.0 if math.isnan(o.size_arcmin) else o.size_arcmin
    kind = o.kind
    if "galax" in kind:
        large = _part(0.4 * size * shown.magnification, 90.0)
        plain = gathered(o.sort) == "early" and not o.sort.endswith("p")
        shape = w.galaxy_plain if plain else w.galaxy_shape + w.galaxy_thin * _thin(o)
        detail = shape * large * _part(max(shown.parts[: SeenPart.CORE]), 1.0)
        several = w.galaxies if kind != "galaxy" else 0.0
        worth = w.galaxy + w.galaxy_mag * _over(v, 11.5) + detail + several
        return worth * _room(0.45 * size, shown)
    if kind == "globular cluster":
        parts = _part(shown.reach_mag - v - _GLOBULAR_STARS_MAG, 2.0)
        return w.globular + w.globular_mag * _over(v, 8.5) + w.globular_stars * parts
    if kind == "planetary nebula":
        shape = (
            w.planetary_shape
            * _part(size * shown.magnification, 150.0)
            * _part(shown.margin_mag, 1.0)
        )
        return w.planetary + w.planetary_mag * _over(v, 11.0) + shape
    if kind in ("nebula", "supernova remnant", "reflection nebula"):
        return _gas(o, size, shown, w)
    if kind == "cluster with nebula":
        two = sorted((_cluster(o, v, size, shown, w), _gas(o, size, shown, w)))
        return two[1] + w.lesser_part * two[0]
    return _cluster(o, v, size, shown, w) - (0.3 if kind == "group of stars" else 0.0)


def _thin(o: DeepSky) -> float:
    """0 for a round outline, near 1 for an edge."""
    return 0.0 if math.isnan(o.minor_arcmin) else 1.0 - o.minor_arcmin / o.size_arcmin


def _cluster(o: DeepSky, v: float, size: float, shown: ShownTonight, w: Weights) -> float:
    """The brighter, the richer and the closer together, the more striking."""
    crowded = 0.0
    if size > 0.0:
        mean = v + 2.5 * math.log10(math.pi / 4.0 * (60.0 * size) ** 2)
        crowded = w.crowded * _over(mean, 21.5, 4.0) * _part(size * shown.magnification, 120.0)
    rich = {"r": w.rich, "m": w.middling, "p": w.poor}.get(o.sort, 0.0)
    return max(w.cluster + w.cluster_mag * _over(v, 9.5) + crowded + rich, w.cluster) * _room(
        size, shown
    )


def _gas(o: DeepSky, size: float, shown: ShownTonight, w: Weights) -> float:
    """By the light of the whole glow, as far as any of it shows, and its shape."""
    glow = max(shown.parts[: SeenPart.STARS])
    if math.isinf(glow) or glow < -1.0:
        return 0.0
    area = size * (size if math.isnan(o.minor_arcmin) else o.minor_arcmin)
    total = 11.0
    if area > 0.0 and not math.isnan(o.surface_brightness):
        if not o.surface_estimated:
            total = o.surface_brightness - _area_mag(area)
        elif o.kind != "cluster with nebula" and not math.isnan(o.v_mag):
            total = max(o.surface_brightness, NEBULA_MAG) - _area_mag(area)
    seen = _part(glow + 1.0, 2.0)
    return w.gas + seen * w.gas_mag * _over(total, 8.7, 5.5) + w.gas_shape * _part(glow, 2.5)


def _area_mag(square_arcmin: float) -> float:
    """By how much an ellipse with axes of that product is brighter than a square arcsecond."""
    return 2.5 * math.log10(math.pi / 4.0 * 3600.0 * square_arcmin)


def _room(size_arcmin: float, shown: ShownTonight) -> float:
    """Less for what is cut off by the field's edge."""
    if size_arcmin <= 0.0:
        return 1.0
    return float(min(1.0, shown.field_arcmin / (0.9 * size_arcmin)) ** 0.3)


def minutes_for(target: Target, difficulty: Difficulty) -> float:
    """How long to look, finding not counted: the faint takes patience, the planets still air."""
    if isinstance(target, Body):
        return 10.0
    if isinstance(target, Double):
        return 5.0
    return _MINUTES[difficulty]
