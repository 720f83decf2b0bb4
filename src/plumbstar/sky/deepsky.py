"""Deep-sky objects within an amateur's reach: clusters, nebulae, galaxies.

The packaged file is an adaptation of OpenNGC (CC BY-SA 4.0, its own file and credit; see
DATA-LICENSES.md), made by tools/build_deepsky.py.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from plumbstar.errors import UserError
from plumbstar.sky.names import constellation_of, fold, nearest
from plumbstar.sky.vectors import Vectors


@dataclass(frozen=True, slots=True)
class DeepSky:
    """One object, or a plain place in the sky. ICRS degrees; nan where a number is unknown.

    ``key`` is stable (``"M31"``, ``"NGC891"``); ``name`` the common name or empty; ``names`` every
    name it is found by; ``kind`` plain words. ``b_mag`` is given because many galaxies have no V:
    they are about 0.8 brighter in V than in B (common practice, no source).
    """

    key: str
    name: str
    label: str
    kind: str
    constellation: str
    ra_deg: float
    dec_deg: float
    v_mag: float
    size_arcmin: float
    b_mag: float = math.nan
    names: tuple[str, ...] = ()


class DeepSkyList:
    """All objects, with their directions as columns of shape ``(n,)``; no proper motions."""

    def __init__(self, objects: list[DeepSky]) -> None:
        self._objects = objects
        self.ra_rad: NDArray[np.float64] = np.radians([o.ra_deg for o in objects])
        self.dec_rad: NDArray[np.float64] = np.radians([o.dec_deg for o in objects])
        self.v_mag: NDArray[np.float64] = np.array([o.v_mag for o in objects])
        self.pm_ra_mas: NDArray[np.float64] = np.zeros(len(objects))
        self.pm_dec_mas = self.pm_ra_mas
        self.parallax_mas = self.pm_ra_mas

    @cached_property
    def vectors(self) -> Vectors:
        """All objects as unit vectors."""
        return Vectors.of(
            self.ra_rad, self.dec_rad, self.pm_ra_mas, self.pm_dec_mas, self.parallax_mas
        )

    def __len__(self) -> int:
        return len(self._objects)

    def __getitem__(self, i: int) -> DeepSky:
        return self._objects[i]

    def __iter__(self) -> Iterator[DeepSky]:
        return iter(self._objects)

    @cached_property
    def _by_name(self) -> dict[str, int]:
        table: dict[str, int] = {}
        for i, o in enumerate(self._objects):
            for word in (o.key, *o.names):
                table.setdefault(fold(word), i)
                for noun in ("Galaxy", "Nebula", "Cluster"):
                    if word.endswith(" " + noun) and len(word) > len(noun) + 3:
                        table.setdefault(fold(word.removesuffix(noun)), i)
        return table

    def match(self, text: str) -> DeepSky | None:
        """The object known by exactly this name (accents, case and spacing forgiven), or None."""
        key = fold(text)
        key = re.sub(r"^messier(?=\d)", "m", key)
        key = re.sub(r"^(m|ngc|ic|c|n)0+(?=\d)", r"\1", key)
        i = self._by_name.get(key)
        if i is None and re.fullmatch(r"n\d+", key):
            i = self._by_name.get("ngc" + key[1:])
        if i is None and key.startswith("the"):
            i = self._by_name.get(key[3:])
        return None if i is None else self._objects[i]

    def find(self, text: str) -> DeepSky:
        """As :meth:`match`, but raises :class:`UserError` with suggestions."""
        found = self.match(text)
        if found is None:
            near = [o.label for o in self.search(text, 5)]
            raise UserError(
                f"No deep-sky object is known as '{text}'",
                "a Messier, NGC or IC number, or a common name",
                f"Did you mean {', '.join(near)}?" if near else "For example M 31 or NGC 869",
            )
        return found

    def search(self, text: str, n: int = 10) -> list[DeepSky]:
        """Up to ``n`` objects for a search box: exact, beginnings, in that constellation, near."""
        return [o for o, _ in self.search_ranked(text, n)]

    def search_ranked(self, text: str, n: int = 10) -> list[tuple[DeepSky, int]]:
        """As :meth:`search`, with ranks as in ``Catalogue.search_ranked``."""
        key = fold(text)
        if not key:
            return []
        ranked: dict[int, int] = {}
        exact = self.match(text)
        if exact is not None:
            ranked[self._by_name[fold(exact.key)]] = 0
        for word, i in self._by_name.items():
            if word.startswith(key):
                ranked.setdefault(i, 1)
        constellation = constellation_of(text)
        if constellation is not None:
            for i, o in enumerate(self._objects):
                if o.constellation == constellation:
                    ranked.setdefault(i, 2)
        if len(ranked) < n and len(key) > 3:
            for word, i in self._by_name.items():
                if key in word:
                    ranked.setdefault(i, 3)
            for word in nearest(text, self._by_name, n):
                ranked.setdefault(self._by_name[word], 3)

        def order(item: tuple[int, int]) -> tuple[int, int, int, float]:
            i, rank = item
            o = self._objects[i]
            number = re.fullmatch(r"(M|NGC|IC) ?(\d+)", o.names[0])
            # Shorter numbers first when a number is being typed: M 3 before M 31.
            digits = len(number[2]) if number and key[-1].isdigit() else 0
            mag = o.v_mag if not math.isnan(o.v_mag) else o.b_mag
            return rank, digits, not o.key.startswith("M"), 99.0 if math.isnan(mag) else mag

        return [(self._objects[i], r) for i, r in sorted(ranked.items(), key=order)[:n]]


@lru_cache(maxsize=1)
def load() -> DeepSkyList:
    """The packaged objects, read once and kept."""
    text = (files("plumbstar.sky") / "data" / "deepsky.txt").read_text(encoding="utf-8")
    objects = []
    for line in text.splitlines():
        if line.startswith("#"):
            continue
        key, names, kind, constellation, ra, dec, v, b, size = line.split("|")
        words = tuple(names.split(";"))
        # The first word that is not a catalogue number is the name people know it by.
        name = next((w for w in words[1:] if not re.match(r"[A-Z][A-Za-z]* \d", w)), "")
        objects.append(
            DeepSky(
                key=key,
                name=name,
                label=f"{words[0]} ({name})" if name else words[0],
                kind=kind,
                constellation=constellation,
                ra_deg=float(ra),
                dec_deg=float(dec),
                v_mag=float(v or "nan"),
                size_arcmin=float(size or "nan"),
                b_mag=float(b or "nan"),
                names=words,
            )
        )
    return DeepSkyList(objects)
