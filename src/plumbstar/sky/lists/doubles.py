"""Fine double stars: how far apart, at which angle, on any date.

The packaged list (data/doubles.csv) holds published figures from memory; its head says so. Places
and proper motions are the star catalogue's own. Pairs that move visibly within a few years have an
orbit (data/orbits.csv) and are worked out for the date.

A star's name means the star, for a sighting as anywhere; :func:`load` lists the pairs as things to
look at, and :func:`of` says whether a star is one.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files

from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.turns import one_turn_deg

#: The year for which orbits are worked out unless another is asked for.
DEFAULT_YEAR = 2027.0


@dataclass(frozen=True, slots=True)
class Orbit:
    """A visual binary's apparent orbit, by its seven elements; years, arcseconds and degrees."""

    period_years: float
    periastron_year: float
    eccentricity: float
    axis_arcsec: float
    inclination_deg: float
    node_deg: float
    periastron_deg: float
    source: str

    def place(self, year: float) -> tuple[float, float]:
        """Separation in arcseconds and position angle in degrees, 0 to 360, at that date.

        Kepler's equation by Newton's method, then the Thiele-Innes constants: Meeus, Astronomical
        Algorithms (2nd ed.), chapters 30 and 57; Heintz, Double Stars, 1978. Left out: the change
        of the angle with precession (under 0.3 degrees in fifty years).
        """
        e = self.eccentricity
        turns = (year - self.periastron_year) / self.period_years
        anomaly = 2.0 * math.pi * math.remainder(turns, 1.0)
        eccentric = anomaly + math.copysign(0.85 * e, anomaly)  # a start from which Newton settles
        for _ in range(50):
            step = (eccentric - e * math.sin(eccentric) - anomaly) / (1 - e * math.cos(eccentric))
            eccentric -= step
            if abs(step) < 1e-12:
                break
        x = math.cos(eccentric) - e
        y = math.sqrt(1.0 - e * e) * math.sin(eccentric)
        cos_i = math.cos(math.radians(self.inclination_deg))
        node, peri = math.radians(self.node_deg), math.radians(self.periastron_deg)
        cn, sn, cp, sp = math.cos(node), math.sin(node), math.cos(peri), math.sin(peri)
        north = x * (cp * cn - sp * sn * cos_i) + y * (-sp * cn - cp * sn * cos_i)
        east = x * (cp * sn + sp * cn * cos_i) + y * (-sp * sn + cp * cn * cos_i)
        angle = one_turn_deg(math.degrees(math.atan2(east, north)))
        return self.axis_arcsec * math.hypot(north, east), angle


@dataclass(frozen=True, slots=True, kw_only=True)
class Double(DeepSky):
    """A pair of stars, as an object to look at: all that takes a DeepSky takes it.

    ``v_mag`` is that of the two together; ``position_angle_deg`` that of the fainter star as seen
    from the brighter, from north through east, at ``year``. ``star`` is the catalogue's star, with
    its proper motion. ``colours`` and ``note`` are empty where nothing is well known;
    ``two_colours`` when they are known to differ.
    """

    star: Star
    mag_a: float
    mag_b: float
    separation_arcsec: float
    year: float
    colours: str
    note: str
    source: str
    orbit: Orbit | None = None
    two_colours: bool = False

    def at(self, year: float) -> Double:
        """The pair as it is then; unchanged where no orbit is known."""
        if self.orbit is None:
            return self
        separation, angle = self.orbit.place(year)
        return replace(self, separation_arcsec=separation, position_angle_deg=angle, year=year)

    @property
    def summary(self) -> str:
        """``"magnitudes 3.2 and 4.7, 34.6 arcsec apart, golden and blue"``."""
        digits = 1 if self.separation_arcsec < 100.0 else 0
        apart = f"{self.separation_arcsec:.{digits}f} arcsec apart"
        parts = [f"magnitudes {self.mag_a:.1f} and {self.mag_b:.1f}", apart]
        return ", ".join(parts + [w for w in (self.colours, self.note) if w])


def together(mag_a: float, mag_b: float) -> float:
    """The magnitude of two lights that are seen as one."""
    return -2.5 * math.log10(10 ** (-0.4 * mag_a) + 10 ** (-0.4 * mag_b))


def rows(file: str) -> Iterator[dict[str, str]]:
    """The lines of a packaged table, as text by column."""
    text = (files("plumbstar.sky") / "data" / file).read_text(encoding="utf-8")
    return csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))


@lru_cache(maxsize=1)
def load() -> tuple[Double, ...]:
    """The packaged pairs, read once and kept; moving ones as in :data:`DEFAULT_YEAR`."""
    orbits = {}
    for row in rows("orbits.csv"):
        name, *elements, source = row.values()
        p, t, e, a, i, node, peri = (float(x) for x in elements)
        orbits[name] = Orbit(p, t, e, a, i, node, peri, source)
    stars = catalogue.load()
    made = []
    for row in rows("doubles.csv"):
        star = stars.find(row["star"])
        mag_a, mag_b = float(row["mag_a"]), float(row["mag_b"])
        orbit = orbits.get(row["star"])
        words = (star.label, star.designation, row["star"])
        pair = Double(
            key=f"{star.key} pair",
            name=star.name,
            label=f"{star.name} ({star.designation})" if star.name else star.designation,
            kind="double star",
            constellation=star.constellation,
            ra_deg=star.ra_deg,
            dec_deg=star.dec_deg,
            v_mag=together(mag_a, mag_b),
            size_arcmin=math.nan,
            names=tuple(dict.fromkeys(words)),
            position_angle_deg=float(row["position_angle_deg"] or "nan"),
            star=star,
            mag_a=mag_a,
            mag_b=mag_b,
            separation_arcsec=float(row["separation_arcsec"] or "nan"),
            year=float(row["year"] or "nan"),
            colours=row["colours"],
            two_colours=" and " in row["colours"],
            note=row["note"],
            source=orbit.source if orbit else row["source"],
            orbit=orbit,
        )
        made.append(pair.at(DEFAULT_YEAR))
    return tuple(made)


@lru_cache(maxsize=1)
def _by_star() -> dict[str, Double]:
    return {pair.star.key: pair for pair in load()}


def of(star: Star) -> Double | None:
    """The listed pair whose brighter star this is, or None."""
    return _by_star().get(star.key)
