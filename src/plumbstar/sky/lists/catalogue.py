"""The bright stars: every star to V 6.5, with names and designations that people type.

The packaged file is made by tools/build_catalogue.py, which names its sources. Positions are ICRS
at epoch J2000.0; the proper motion carries them to the night in question (places.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from plumbstar.errors import UserError
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.naming.names import (
    constellation_of,
    designation,
    either,
    fold,
    letters,
    near_designations,
    near_rank,
    nearest,
)
from plumbstar.sky.vectors import Vectors
from plumbstar.units import Array, Indices

# Components of one designation closer than this are one star to a finder: take the brightest.
_ONE_STAR_DEG = 0.15


@dataclass(frozen=True, slots=True)
class Star:
    """One star. ICRS degrees at epoch J2000.0; ``pm_ra_mas`` is mu_alpha* (times cos dec).

    ``constellation`` is the one in the designation where there is one, else the one the star is in.
    Unknown: empty text, and nan for ``bv``. ``key`` is stable: ``"HIP 27989"``.
    """

    key: str
    name: str
    bayer: str
    flamsteed: str
    hip: int
    constellation: str
    v_mag: float
    bv: float
    ra_deg: float
    dec_deg: float
    pm_ra_mas: float
    pm_dec_mas: float
    parallax_mas: float

    @property
    def designation(self) -> str:
        """Bayer with its Greek letter, else Flamsteed, else HIP: ``"α Ori"``, ``"58 Ori"``."""
        if self.bayer:
            return f"{self.bayer} {self.constellation}"
        if self.flamsteed:
            return f"{self.flamsteed} {self.constellation}"
        return self.key

    @property
    def label(self) -> str:
        """The best plain name for a person: proper name, else the designation."""
        return self.name or self.designation

    @property
    def kind(self) -> str:
        return "star"


class Catalogue:
    """All stars, brightest first, as columns; each column has shape ``(n,)``.

    ``ra_rad, dec_rad`` (ICRS, J2000.0), ``pm_ra_mas`` (mu_alpha*), ``pm_dec_mas``,
    ``parallax_mas``, ``v_mag``, ``bv``, ``hip``.
    """

    def __init__(self, columns: dict[str, Array], text: list[str]) -> None:
        self.hip: NDArray[np.int64] = columns["hip"].astype(np.int64)
        self.ra_deg: Array = columns["ra_deg"]
        self.dec_deg: Array = columns["dec_deg"]
        self.ra_rad: Array = np.radians(self.ra_deg)
        self.dec_rad: Array = np.radians(self.dec_deg)
        self.pm_ra_mas: Array = columns["pm_ra_mas"].astype(np.float64)
        self.pm_dec_mas: Array = columns["pm_dec_mas"].astype(np.float64)
        self.parallax_mas: Array = columns["parallax_mas"].astype(np.float64)
        # The file's 32-bit floats, back to the two or three decimals that were published.
        self.v_mag: Array = columns["v_mag"].astype(np.float64).round(2)
        self.bv: Array = columns["bv"].astype(np.float64).round(3)
        self._text = text
        self._made: dict[int, Star] = {}  # the bright ones are asked for again and again

    def __len__(self) -> int:
        return len(self.hip)

    def __iter__(self) -> Iterator[Star]:
        return map(self._make, range(len(self)))

    def __getitem__(self, i: int) -> Star:
        if (star := self._made.get(i)) is None:
            star = self._made[i] = self._make(i)
        return star

    def _make(self, i: int) -> Star:
        name, bayer, flamsteed, constellation, _ = self._text[i].split("|")
        return Star(
            key=f"HIP {self.hip[i]}",
            name=name,
            bayer=bayer,
            flamsteed=flamsteed,
            hip=int(self.hip[i]),
            constellation=constellation,
            v_mag=float(self.v_mag[i]),
            bv=float(self.bv[i]),
            ra_deg=float(self.ra_deg[i]),
            dec_deg=float(self.dec_deg[i]),
            pm_ra_mas=float(self.pm_ra_mas[i]),
            pm_dec_mas=float(self.pm_dec_mas[i]),
            parallax_mas=float(self.parallax_mas[i]),
        )

    @cached_property
    def vectors(self) -> Vectors:
        """All stars as unit vectors with their motions."""
        return Vectors.of(
            self.ra_rad, self.dec_rad, self.pm_ra_mas, self.pm_dec_mas, self.parallax_mas
        )

    def brighter_than(self, v_mag: float) -> Indices:
        """Indices of the stars with V at most ``v_mag``, brightest first."""
        return np.arange(int(np.searchsorted(self.v_mag, v_mag, side="right")))

    # ---- looking up ------------------------------------------------------------------------

    @cached_property
    def _by_name(self) -> dict[str, list[int]]:
        """Folded proper name, or other name people use -> indices, brightest first."""
        table: dict[str, list[int]] = {}
        for i, line in enumerate(self._text):
            name, _, _, _, also = line.split("|")
            if name or also:
                for word in [name, *also.split(";")]:
                    if word:
                        table.setdefault(fold(word), []).append(i)
        return table

    @cached_property
    def _name_letters(self) -> dict[str, int]:
        return {word: letters(word) for word in self._by_name}

    @cached_property
    def _by_designation(self) -> dict[tuple[str, str], list[int]]:
        """(Bayer letter without superscript, or Flamsteed number; constellation) -> indices."""
        table: dict[tuple[str, str], list[int]] = {}
        for i, line in enumerate(self._text):
            _, bayer, flamsteed, constellation, _ = line.split("|")
            if bayer:
                table.setdefault((bayer.rstrip("0123456789"), constellation), []).append(i)
            if flamsteed:
                table.setdefault((flamsteed, constellation), []).append(i)
        return table

    @cached_property
    def _by_hip(self) -> dict[int, int]:
        return {int(h): i for i, h in enumerate(self.hip)}

    def _matches(self, text: str) -> list[int]:
        """Every star that ``text`` names, brightest first."""
        m = re.fullmatch(r"hip(\d+)", fold(text))
        if m:
            i = self._by_hip.get(int(m[1]))
            return [] if i is None else [i]
        found = self._by_name.get(fold(text))
        if found:
            return found
        parsed = designation(text)
        if parsed is None:
            return []
        head, sup, constellation = parsed
        candidates = self._by_designation.get((head, constellation), [])
        if not candidates and head.isalpha() and head.isascii():
            # Latin letters: try the other case before giving up.
            candidates = self._by_designation.get((head.swapcase(), constellation), [])
        if sup:
            candidates = [
                i
                for i in candidates
                if re.sub(r"^\D+", "", self._text[i].split("|")[1]).lstrip("0") == sup
            ]
        return candidates

    def is_unknown(self, text: str) -> bool:
        """Whether no star at all goes by ``text``."""
        return not self._matches(text)

    def find_index(self, text: str) -> int:
        """The index of the star that ``text`` names.

        Raises :class:`UserError`, with suggestions, when no star or several match. Close companions
        that share a designation (within 0.15 deg) count as one: the brightest is meant.
        """
        found = self._matches(text)
        if not found:
            near = self.suggest(text)
            hint = f"Did you mean {either(near)}?" if near else _HOW_TO_NAME
            raise UserError(f"No star to V 6.5 is known as '{text}'", "a star's name", hint)
        brightest = found[0]
        apart = [i for i in found[1:] if self._apart_deg(brightest, i) > _ONE_STAR_DEG]
        if apart:
            choices = [self._precise_label(i) for i in found[:6]]
            raise UserError(
                f"'{text}' fits {len(found)} stars", "", f"Say which: {either(choices)}"
            )
        return brightest

    def find(self, text: str) -> Star:
        """The star that ``text`` names; errors as :meth:`find_index`."""
        return self[self.find_index(text)]

    def suggest(self, text: str, n: int = 5) -> list[str]:
        """Labels of up to ``n`` stars that ``text`` may have meant, best first."""
        return [s.label for s in self.search(text, n)]

    def search(self, text: str, n: int = 10) -> list[Star]:
        """Up to ``n`` stars for a search box: exact, then beginnings, then near misses.

        Within each rank the brighter star comes first, since it is the likelier.
        """
        return [self[i] for i, _ in self.search_ranked(text, n)]

    def search_ranked(self, text: str, n: int = 10) -> list[tuple[int, float]]:
        """As :meth:`search`, as (index, rank).

        Ranks: 0 exact, 1 beginning, 2 of another name or in that constellation, 3 to under 4 a
        near miss, the nearer the less, 4 a neighbour.
        """
        key = fold(text)
        if not key:
            return []
        ranked: dict[int, float] = dict.fromkeys(self._matches(text), 0)
        for word, indices in self._by_name.items():
            if word.startswith(key):
                for i in indices:
                    # A name the star is also known by comes after those it is shown by.
                    shown = fold(self._text[i].split("|")[0]) == word
                    ranked[i] = min(ranked.get(i, 9), 1 if shown else 2)
        constellation = constellation_of(text)
        if constellation is not None:
            for i in range(len(self)):
                if self._text[i].split("|")[3] == constellation:
                    ranked.setdefault(i, 2)
        if len(ranked) < n:
            for word, off in nearest(text, self._name_letters).items():
                for i in self._by_name[word]:
                    ranked.setdefault(i, near_rank(off))
            for name, off in near_designations(text):
                for i in self._matches(name):
                    ranked.setdefault(i, near_rank(off))
            self._add_near_designations(text, ranked)
        return sorted(ranked.items(), key=lambda t: (t[1], t[0]))[:n]

    def _add_near_designations(self, text: str, ranked: dict[int, float]) -> None:
        """A letter or number that the constellation lacks: offer the constellation's own."""
        parsed = designation(text)
        if parsed is None:
            return
        head, _, constellation = parsed
        for (h, c), indices in self._by_designation.items():
            if c == constellation and h == head:
                for i in indices:
                    ranked.setdefault(i, 3)
        for i in range(len(self)):
            if len(ranked) >= 12:
                break
            if self._text[i].split("|")[3] == constellation:
                ranked.setdefault(i, 4)

    def _precise_label(self, i: int) -> str:
        star = self[i]
        if star.name:
            return f"{star.name} ({star.designation})" if star.designation else star.name
        return star.designation

    def _apart_deg(self, i: int, j: int) -> float:
        ra, dec = self.ra_rad, self.dec_rad
        return float(np.degrees(separation_rad(ra[i], dec[i], ra[j], dec[j])))


_HOW_TO_NAME = "Write a name (Vega), a designation (alf Lyr, 3 Lyr) or a number (HIP 91262)"


@lru_cache(maxsize=1)
def load() -> Catalogue:
    """The packaged catalogue, read once and kept."""
    path = files("plumbstar.sky") / "data" / "stars.npz"
    with path.open("rb") as handle, np.load(handle, allow_pickle=False) as z:
        columns = {k: z[k] for k in z.files}
    text = columns.pop("text").tobytes().decode("utf-8").split("\n")
    return Catalogue(columns, text)
