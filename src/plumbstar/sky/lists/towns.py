"""Towns with their place and time zone, to start a site from. Offline.

The packaged file holds every place of over 5,000 people. Its data are those of GeoNames (CC BY 4.0,
its own file and credit; see DATA-LICENSES.md), made by tools/build_towns.py. Heights are not in it.
"""

from __future__ import annotations

import difflib
import gzip
import re
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib.resources import files

import numpy as np

from plumbstar.errors import UserError
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.naming.names import fold

#: Farther than this from any town its time zone is a guess.
ZONE_REACH_KM = 200.0
_EARTH_KM = 6371.0


@dataclass(frozen=True, slots=True)
class Town:
    """A town's middle to a hundredth of a degree; ``thousands`` of people, 0 for unknown."""

    name: str
    country: str
    region: str
    lat_deg: float
    lon_deg: float
    time_zone: str
    thousands: int

    @property
    def label(self) -> str:
        """With what tells it from others of its name: ``Springfield, IL, United States``."""
        return ", ".join(p for p in (self.name, self.region, self.country) if p)


class Towns:
    """All of them, in columns; :func:`load` gives the one object."""

    def __init__(self, text: str) -> None:
        blocks = [b.split("\n") for b in text.split("\f")]
        _, zones, countries, names, others, codes, regions, lats, lons, in_zone, people = blocks
        self._zones = zones
        self._countries = dict(c.split("=", 1) for c in countries)
        self.names, self._others, self._codes, self._regions = names, others, codes, regions
        self._lat = np.array(lats, dtype=float)
        self._lon = np.array(lons, dtype=float)
        self._in_zone = np.array(in_zone, dtype=int)
        self._people = np.array(people, dtype=int)

    def __len__(self) -> int:
        return len(self.names)

    def __getitem__(self, i: int) -> Town:
        code = self._codes[i]
        return Town(
            self.names[i],
            self._countries.get(code, code),
            self._regions[i],
            float(self._lat[i]),
            float(self._lon[i]),
            self._zones[self._in_zone[i]],
            int(self._people[i]),
        )

    @cached_property
    def _forms(self) -> list[tuple[str, ...]]:
        """Every name of each, folded; the first is its own."""
        return [
            (fold(name), *map(fold, other.split("|"))) if other else (fold(name),)
            for name, other in zip(self.names, self._others, strict=True)
        ]

    def find(self, text: str, most: int = 8) -> list[Town]:
        """The towns that may be meant, likeliest first: the name, its beginning, its parts.

        Capitals, accents and spaces are forgiven, and a wrong letter if nothing else fits. A
        country or state after a comma narrows it down. Among equals the larger comes first.
        """
        name, _, where = text[:100].partition(",")
        wanted = fold(name)
        if len(wanted) < 2:
            return []
        ranked = []
        for i, forms in enumerate(self._forms):
            rank = min(_rank(wanted, f, own=k == 0) for k, f in enumerate(forms))
            if rank < _NO_MATCH and self._lies_in(i, where):
                ranked.append((rank, -int(self._people[i]), i))
        if not ranked:
            ranked = self._alike(wanted, where)
        return [self[i] for _, _, i in sorted(ranked)[:most]]

    def _lies_in(self, i: int, where: str) -> bool:
        wanted = fold(where)
        if not wanted:
            return True
        code, region = self._codes[i], self._regions[i]
        return wanted in (code.lower(), region.lower()) or fold(
            self._countries.get(code, "")
        ).startswith(wanted)

    def _alike(self, wanted: str, where: str) -> list[tuple[int, int, int]]:
        """Names with a letter or two wrong; the first letter is taken to be right."""
        near: dict[str, list[int]] = {}
        for i, forms in enumerate(self._forms):
            for f in forms:
                if f[:1] == wanted[0] and abs(len(f) - len(wanted)) <= 2:
                    near.setdefault(f, []).append(i)
        close = difflib.get_close_matches(wanted, near, 8, 0.75)
        best: dict[int, int] = {}  # a town has many names, and several may be alike
        for k, form in enumerate(close):
            for i in near[form]:
                best.setdefault(i, k)
        return [(k, -int(self._people[i]), i) for i, k in best.items() if self._lies_in(i, where)]

    def nearest(self, lat_deg: float, lon_deg: float) -> tuple[Town, float]:
        """The town nearest to a place, and how far it is, km (on a round Earth, 0.5 % off)."""
        here = np.radians(lon_deg), np.radians(lat_deg)
        away = separation_rad(*here, np.radians(self._lon), np.radians(self._lat))
        i = int(np.argmin(away))
        return self[i], float(_EARTH_KM * away[i])

    def zone_at(self, lat_deg: float, lon_deg: float) -> str:
        """The time zone of the nearest town; "" where none is within 200 km."""
        town, km = self.nearest(lat_deg, lon_deg)
        return town.time_zone if km <= ZONE_REACH_KM else ""


_NO_MATCH = 9


def _rank(wanted: str, form: str, own: bool) -> int:
    if form == wanted:
        return 0 if own else 1
    if own and form.startswith(wanted):
        return 2
    if form.startswith(wanted):
        return 3
    return 4 if own and len(wanted) > 3 and wanted in form else _NO_MATCH


@lru_cache(maxsize=1)
def load() -> Towns:
    """The packaged list, read once."""
    raw = files("plumbstar.sky").joinpath("data/towns.txt.gz").read_bytes()
    return Towns(gzip.decompress(raw).decode())


def find(text: str, most: int = 8) -> list[Town]:
    """:meth:`Towns.find` on the packaged list. Raises :class:`UserError` if nothing is near."""
    shown = re.sub(r"\s+", " ", text.strip())[:60]
    found = load().find(text, most)
    if not found:
        raise UserError(
            f"the town '{shown}'",
            "a town of over 5,000 people, with its country after a comma if you like",
            "Try a larger town near by, or give coordinates: a map has them",
        )
    return found
