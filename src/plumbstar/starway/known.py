"""What everybody knows in the sky, to begin from: figures, and lines in them that lead on.

The lines and the words are of our own making; which figures people know: common practice, no
source. The stars are named as the catalogue finds them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.catalogue import Star


@dataclass(frozen=True, slots=True)
class Landmark:
    """``name`` as after "from". ``rank``: 0 what a child knows, 2 what a beginner learns first.
    ``lines``: (words, from, to): two stars of it whose line is followed beyond the second."""

    name: str
    rank: int
    stars: tuple[Star, ...]
    lines: tuple[tuple[str, Star, Star], ...]


_THREE = "Alnitak Alnilam Mintaka"
_LANDMARKS: tuple[tuple[str, int, str, tuple[tuple[str, str, str], ...]], ...] = (
    ("the three in a row", 0, _THREE, (
        ("the line of the three in a row", "Alnitak", "Mintaka"),
        ("the line of the three in a row", "Mintaka", "Alnitak"),
    )),
    ("the Plough", 0, "Alkaid Mizar Alioth Megrez Phecda Merak Dubhe", (
        ("the line of the Plough’s two end stars", "Merak", "Dubhe"),
        ("the line of the Plough’s two end stars", "Dubhe", "Merak"),
    )),
    ("the W", 1, "epsilon_Cas delta_Cas gamma_Cas alpha_Cas beta_Cas", ()),
    ("the Southern Cross", 0, "Acrux Gacrux Mimosa delta_Cru", (
        ("the long beam of the Southern Cross", "Gacrux", "Acrux"),
        ("the long beam of the Southern Cross", "Acrux", "Gacrux"),
    )),
    ("the Pointers beside the Southern Cross", 0, "alpha_Cen beta_Cen", (
        ("the line of the Pointers", "alpha_Cen", "beta_Cen"),
    )),
    ("the tight little group of the Seven Sisters", 0, "Alcyone", ()),
    ("the Twins, two alike side by side,", 1, "Castor Pollux", ()),
    ("the Great Square", 1, "Alpheratz Scheat Markab Algenib", (
        ("one side of the Great Square", "Scheat", "Markab"),
        ("one side of the Great Square", "Alpheratz", "Algenib"),
        ("one side of the Great Square", "Scheat", "Alpheratz"),
    )),
    ("the Northern Cross", 1, "Deneb Sadr Albireo epsilon_Cyg delta_Cyg", ()),
    ("the Sickle", 2, "Regulus eta_Leo Algieba zeta_Leo mu_Leo epsilon_Leo", ()),
    ("the Sail, four in a lopsided square,", 2, "gamma_Crv delta_Crv beta_Crv epsilon_Crv", ()),
    ("the Scorpion’s long hook", 1, "delta_Sco Antares tau_Sco epsilon_Sco theta_Sco Shaula", ()),
    ("the Teapot", 1, "gamma_Sgr delta_Sgr lambda_Sgr phi_Sgr sigma_Sgr zeta_Sgr epsilon_Sgr", ()),
    ("Sirius, the brightest star of all,", 0, "Sirius", ()),
    ("Vega, the brilliant white one,", 1, "Vega", ()),
    ("Canopus, the second brightest of all,", 1, "Canopus", ()),
    ("Arcturus, the brilliant orange one,", 1, "Arcturus", ()),
)  # fmt: skip


@lru_cache(maxsize=1)
def landmarks() -> tuple[Landmark, ...]:
    """All of them; the stars are looked up once."""
    stars = catalogue.load()

    def star(name: str) -> Star:
        return stars.find(name.replace("_", " "))

    return tuple(
        Landmark(
            name,
            rank,
            tuple(star(s) for s in members.split()),
            tuple((words, star(a), star(b)) for words, a, b in lines),
        )
        for name, rank, members, lines in _LANDMARKS
    )
