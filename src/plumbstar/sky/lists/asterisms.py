"""A few figures of bright stars that everybody knows, as lines from star to star.

The lines are of our own making. Each figure: what people call it, and chains of stars by a name or
designation that :meth:`plumbstar.sky.lists.catalogue.Catalogue.find` knows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.catalogue import Star


@dataclass(frozen=True, slots=True)
class Asterism:
    """``name`` as after "from": "the Plough". ``chains``: stars joined one after another."""

    name: str
    chains: tuple[tuple[Star, ...], ...]


_FIGURES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("the Plough", ("Alkaid Mizar Alioth Megrez Phecda Merak Dubhe Megrez",)),
    ("the W", ("epsilon_Cas delta_Cas gamma_Cas alpha_Cas beta_Cas",)),
    ("Orion", (
        "Betelgeuse Bellatrix Mintaka Alnilam Alnitak Saiph Rigel Mintaka", "Betelgeuse Alnitak",
    )),
    ("the Twins", ("Castor Pollux",)),
    ("the Sickle", ("Regulus eta_Leo Algieba zeta_Leo mu_Leo epsilon_Leo",)),
    ("the Great Square", ("Alpheratz Scheat Markab Algenib Alpheratz",)),
    ("the Northern Cross", ("Deneb Sadr Albireo", "epsilon_Cyg Sadr delta_Cyg")),
    ("the Sail", ("gamma_Crv delta_Crv beta_Crv epsilon_Crv gamma_Crv",)),
    ("the Scorpion", (
        "beta_Sco delta_Sco pi_Sco",
        "delta_Sco Antares tau_Sco epsilon_Sco mu1_Sco zeta2_Sco eta_Sco theta_Sco iota1_Sco "
        "kappa_Sco Shaula",
    )),
    ("the Teapot", (
        "gamma_Sgr delta_Sgr lambda_Sgr phi_Sgr sigma_Sgr tau_Sgr zeta_Sgr epsilon_Sgr gamma_Sgr",
    )),
    ("the Southern Cross", ("Acrux Gacrux", "Mimosa delta_Cru")),
    ("the Pointers", ("alpha_Cen beta_Cen",)),
    ("the Guards", ("Kochab gamma_UMi",)),
)  # fmt: skip


@lru_cache(maxsize=1)
def load() -> tuple[Asterism, ...]:
    """All of them; the stars are looked up once."""
    stars = catalogue.load()
    return tuple(
        Asterism(
            name,
            tuple(tuple(stars.find(s.replace("_", " ")) for s in c.split()) for c in chains),
        )
        for name, chains in _FIGURES
    )
