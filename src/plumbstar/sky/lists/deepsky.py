"""Deep-sky objects within an amateur's reach: clusters, nebulae, galaxies.

The packaged file is an adaptation of OpenNGC (CC BY-SA 4.0, its own file and credit; see
DATA-LICENSES.md), made by tools/build_deepsky.py.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbstar.sky.naming.names import (
    constellation_of,
    fold,
    letters,
    near_numbers,
    near_rank,
    nearest,
)
from plumbstar.sky.vectors import Vectors
from plumbstar.units import Array, Bools

#: Kinds that show a star or nothing: numbers of old lists that turned out to be no object.
NOT_DEEP = ("single star", "double star", "nova", "not identified")
# B - V to take where V is not known. Galaxies: common practice, no source. The others: rounded
# medians of the objects in the packaged list that have both (379, 160, 124, and 48 nebulae).
_COLOUR = {
    "galaxy": 0.8, "pair of galaxies": 0.8, "triplet of galaxies": 0.8, "group of galaxies": 0.8,
    "open cluster": 0.4, "globular cluster": 0.7, "planetary nebula": 0.8,
}  # fmt: skip
_COLOUR_OTHER = 0.2
# A series of numbers, and a number in which a letter may have slipped.
_NUMBER = re.compile(r"(messier|ngc|ic|[mnc])(\d[\doilsza-f]{0,6}|[oilsz]\d[\doilsz]{0,5})")
#: A name of the packaged list that is a catalogue and a number: "M 31", "NGC 7318 A".
_NUMBERED = re.compile(r"([A-Z][A-Za-z]*) (\d+)")
_SERIES = {"messier": "m", "n": "ngc"}
_NUMBERS = ("ra_deg", "dec_deg", "v_mag", "b_mag", "size_arcmin", "minor_arcmin",
            "position_angle_deg", "surface_brightness")  # fmt: skip


@dataclass(frozen=True, slots=True)
class DeepSky:
    """One object, or a plain place in the sky. ICRS degrees; nan where a number is unknown.

    ``key`` is stable (``"M31"``, ``"NGC891"``); ``name`` the common name or empty; ``names`` every
    name it is found by; ``kind`` plain words; ``catalogue`` and ``number`` of its first name ("M"
    and 31), empty and 0 for what bears none. ``b_mag`` is given because many galaxies have no V:
    they are about 0.8 brighter in V than in B (common practice, no source).

    ``size_arcmin`` and ``minor_arcmin`` are whole axes, the second nan where it is unknown: take it
    as round. ``position_angle_deg`` is that of the long axis, from north through east, 0 to 180.
    ``surface_brightness`` is the mean inside that outline, V magnitudes a square arcsecond;
    ``surface_estimated`` when it was worked out from magnitude and size, not measured. Of a cluster
    with nebula the magnitude is the stars', the surface brightness the nebula's. ``sort`` is a
    galaxy's type after Hubble ("E", "SABc"), or how rich a cluster is after Trumpler ("p", "m" or
    "r" for poor, middling, rich); empty where it is not known.
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
    catalogue: str = ""
    number: int = 0
    minor_arcmin: float = math.nan
    position_angle_deg: float = math.nan
    surface_brightness: float = math.nan
    surface_estimated: bool = False
    sort: str = ""


def mean_surface_brightness(
    mag: ArrayLike, size_arcmin: ArrayLike, minor_arcmin: ArrayLike = math.nan
) -> Array:
    """Mean surface brightness of an ellipse that holds all the light; arrays broadcast.

    mag + 2.5 log10(pi / 4 a b), with a and b the whole axes in arcseconds (the definition of a
    magnitude), in the band of ``mag``. Round where ``minor_arcmin`` is nan. For a galaxy this is
    some 0.4 magnitudes too bright against the measured means (median of the 9,931 in the list):
    part of its light lies outside the outline.
    """
    a = 60.0 * np.asarray(size_arcmin, dtype=np.float64)
    minor = 60.0 * np.asarray(minor_arcmin, dtype=np.float64)
    b = np.where(np.isnan(minor), a, minor)
    mu = np.asarray(mag, dtype=np.float64) + 2.5 * np.log10(np.pi / 4.0 * a * b)
    return np.asarray(mu, dtype=np.float64)


def _given(o: DeepSky, column: str) -> float:
    """A number of an object as its list gave it; nan for what was worked out of the others."""
    worked_out = column == "surface_brightness" and o.surface_estimated
    return float("nan") if worked_out else float(getattr(o, column))


class DeepSkyList:
    """All objects, with their numbers as columns of shape ``(n,)``; no proper motions.

    ``ra_rad, dec_rad``, ``v_mag``, ``b_mag``, ``size_arcmin``, ``minor_arcmin``,
    ``position_angle_deg``, ``surface_brightness``, ``surface_estimated`` and ``sort`` as in
    :class:`DeepSky`, nan where unknown; ``kind`` holds words; ``v_estimate`` is V, or else B less
    the usual colour of the kind; ``deep`` is False for numbers that turned out to be a star or
    nothing (:data:`NOT_DEEP`), except M 40.
    """

    def __init__(
        self,
        names: Sequence[str],
        kinds: Sequence[str],
        constellations: Sequence[str],
        numbers: dict[str, Array],
        sort: Sequence[str] = (),
    ) -> None:
        self._names = names  # each ";" between them
        self.constellations = constellations
        self.kind: NDArray[np.str_] = np.array(kinds, dtype=np.str_)
        self.sort: NDArray[np.str_] = np.array(sort or [""] * len(names), dtype=np.str_)
        self.ra_deg, self.dec_deg = numbers["ra_deg"], numbers["dec_deg"]
        self.ra_rad: Array = np.radians(self.ra_deg)
        self.dec_rad: Array = np.radians(self.dec_deg)
        self.v_mag, self.b_mag = numbers["v_mag"], numbers["b_mag"]
        self.size_arcmin, self.minor_arcmin = numbers["size_arcmin"], numbers["minor_arcmin"]
        self.position_angle_deg = numbers["position_angle_deg"]
        colour = np.array([_COLOUR.get(k, _COLOUR_OTHER) for k in kinds], dtype=np.float64)
        self.v_estimate: Array = np.where(np.isnan(self.v_mag), self.b_mag - colour, self.v_mag)
        given = numbers["surface_brightness"]
        worked_out = mean_surface_brightness(self.v_estimate, self.size_arcmin, self.minor_arcmin)
        unknown = np.isnan(given)
        self.surface_brightness: Array = np.where(unknown, worked_out, given)
        self.surface_estimated: Bools = unknown & ~np.isnan(worked_out)
        messier = np.array([n.startswith("M ") for n in names], dtype=np.bool_)
        self.messier: Bools = messier
        self.deep: Bools = ~np.isin(self.kind, NOT_DEEP) | messier
        self.pm_ra_mas: Array = np.zeros(len(names))
        self.pm_dec_mas = self.pm_ra_mas
        self.parallax_mas = self.pm_ra_mas
        self._made: dict[int, DeepSky] = {}

    @classmethod
    def of(cls, objects: Iterable[DeepSky]) -> DeepSkyList:
        """The list of these objects, found by their names, or by the label if there are none."""
        kept = list(objects)
        made = cls(
            [";".join(o.names or (o.label,)) for o in kept],
            [o.kind for o in kept],
            [o.constellation for o in kept],
            {c: np.array([_given(o, c) for o in kept], dtype=np.float64) for c in _NUMBERS},
            [o.sort for o in kept],
        )
        made._made = dict(enumerate(kept))
        return made

    @classmethod
    def read(cls, text: str) -> DeepSkyList:
        """The list from the lines of the packaged file, whose head names its columns."""
        lines = [line.split("|") for line in text.splitlines() if not line.startswith("#")]
        _, names, kinds, constellations, *numbers, sort = zip(*lines, strict=True)
        return cls(
            names,
            kinds,
            constellations,
            {
                c: np.array([x or "nan" for x in column], dtype=np.float64)
                for c, column in zip(_NUMBERS, numbers, strict=True)
            },
            sort,
        )

    @cached_property
    def vectors(self) -> Vectors:
        """All objects as unit vectors."""
        return Vectors.of(
            self.ra_rad, self.dec_rad, self.pm_ra_mas, self.pm_dec_mas, self.parallax_mas
        )

    def __len__(self) -> int:
        return len(self._names)

    def __getitem__(self, i: int) -> DeepSky:
        found = self._made.get(i)
        if found is None:  # made when first asked for: most of the list never is
            i = range(len(self))[i]
            found = self._made.setdefault(i, self._make(i))
        return found

    def __iter__(self) -> Iterator[DeepSky]:
        return (self[i] for i in range(len(self)))

    def _make(self, i: int) -> DeepSky:
        words = tuple(self._names[i].split(";"))
        # The first word that is not a catalogue number is the name people know it by.
        name = next((w for w in words[1:] if not _NUMBERED.match(w)), "")
        numbered = _NUMBERED.match(words[0])
        return DeepSky(
            key=words[0].replace(" ", ""),
            name=name,
            label=f"{words[0]} ({name})" if name else words[0],
            kind=str(self.kind[i]),
            constellation=self.constellations[i],
            ra_deg=float(self.ra_deg[i]),
            dec_deg=float(self.dec_deg[i]),
            v_mag=float(self.v_mag[i]),
            size_arcmin=float(self.size_arcmin[i]),
            b_mag=float(self.b_mag[i]),
            names=words,
            catalogue=numbered[1] if numbered else "",
            number=int(numbered[2]) if numbered else 0,
            minor_arcmin=float(self.minor_arcmin[i]),
            position_angle_deg=float(self.position_angle_deg[i]),
            surface_brightness=round(float(self.surface_brightness[i]), 2),
            surface_estimated=bool(self.surface_estimated[i]),
            sort=str(self.sort[i]),
        )

    @cached_property
    def _by_name(self) -> dict[str, int]:
        table: dict[str, int] = {}
        for i, words in enumerate(self._names):
            for word in words.split(";"):
                table.setdefault(fold(word), i)
                for noun in ("Galaxy", "Nebula", "Cluster"):
                    if word.endswith(" " + noun) and len(word) > len(noun) + 3:
                        table.setdefault(fold(word.removesuffix(noun)), i)
        return table

    @cached_property
    def _name_letters(self) -> dict[str, int]:
        """The names that are words: a slip in a number is another matter."""
        return {w: letters(w) for w in self._by_name if not re.search(r"\d", w)}

    def match(self, text: str) -> DeepSky | None:
        """The object known by exactly this name (accents, case and spacing forgiven), or None."""
        i = self._index(text)
        return None if i is None else self[i]

    def _index(self, text: str) -> int | None:
        key = fold(text)
        key = re.sub(r"^messier(?=\d)", "m", key)
        key = re.sub(r"^(m|ngc|ic|c|n)0+(?=\d)", r"\1", key)
        i = self._by_name.get(key)
        if i is None and re.fullmatch(r"n\d+", key):
            i = self._by_name.get("ngc" + key[1:])
        if i is None and key.startswith("the"):
            i = self._by_name.get(key[3:])
        return i

    def search(self, text: str, n: int = 10) -> list[DeepSky]:
        """Up to ``n`` objects for a search box: exact, beginnings, in that constellation, near."""
        return [o for o, _ in self.search_ranked(text, n)]

    def search_ranked(self, text: str, n: int = 10) -> list[tuple[DeepSky, float]]:
        """As :meth:`search`, with ranks as in ``Catalogue.search_ranked``."""
        key = fold(text)
        if not key:
            return []
        ranked: dict[int, float] = {}
        exact = self._index(text)
        if exact is not None:
            ranked[exact] = 0
        # How many digits the number has by which it fits: M 3 comes before M 31.
        digits: dict[int, int] = {}
        for word, i in self._by_name.items():
            if word.startswith(key):
                ranked.setdefault(i, 1)
                if key[-1].isdigit():
                    n_digits = sum(c.isdigit() for c in word)
                    digits[i] = min(digits.get(i, 99), n_digits + 9 * (not word[-1].isdigit()))
        if key.isdigit():
            for series in ("m", "ngc", "ic"):
                i_bare = self._by_name.get(series + key)
                if i_bare is not None:
                    ranked.setdefault(i_bare, 2)
        constellation = constellation_of(text)
        if constellation is not None:
            for i, its in enumerate(self.constellations):
                if its == constellation:
                    ranked.setdefault(i, 2)
        if len(ranked) < n and len(key) > 3:
            for word, i in self._by_name.items():
                if key in word:
                    ranked.setdefault(i, 3)
            for word, off in nearest(text, self._name_letters).items():
                ranked.setdefault(self._by_name[word], near_rank(off))
        number = _NUMBER.fullmatch(key)
        if number and not ranked:
            series = _SERIES.get(number[1], number[1])
            for figures, off in near_numbers(number[2]).items():
                meant = self._by_name.get(series + figures)
                if meant is not None:
                    ranked.setdefault(meant, near_rank(off))

        def order(i: int) -> tuple[float, int, bool, bool, float]:
            mag = float(self.v_estimate[i])
            return (ranked[i], digits.get(i, 0), not self.messier[i], not self.deep[i],
                    99.0 if math.isnan(mag) else mag)  # fmt: skip

        return [(self[i], ranked[i]) for i in sorted(ranked, key=order)[:n]]


@lru_cache(maxsize=1)
def load() -> DeepSkyList:
    """The packaged objects, read once and kept."""
    path = files("plumbstar.sky") / "data" / "deepsky.txt"
    return DeepSkyList.read(path.read_text(encoding="utf-8"))
