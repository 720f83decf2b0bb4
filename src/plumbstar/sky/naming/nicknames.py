"""What people call things that the lists have under another name.

From memory, and from what observers say to one another; each leads to a name that the lists know
(tests/sky/test_nicknames.py). Spellings that differ in spaces, accents and capitals are one.
"""

from __future__ import annotations

import re

from plumbstar.sky.naming.names import fold

#: Folded nickname -> the name that is known.
NICKNAMES = {
    # stars and planets
    "beetlejuice": "Betelgeuse", "beteigeuze": "Betelgeuse", "wega": "Vega", "sirio": "Sirius",
    "polarstern": "Polaris", "mirphak": "Mirfak", "benetnasch": "Alkaid", "ridgel": "Rigel",
    "garnetstar": "mu Cep", "eveningstar": "Venus", "morningstar": "Venus",
    "mizarandalcor": "Mizar", "thedoubledouble": "eps1 Lyr", "southernpolestar": "sig Oct",
    # clusters, nebulae, galaxies
    "sevensisters": "M 45", "thesevensisters": "M 45", "subaru": "M 45", "melotte22": "M 45",
    "owl": "M 97", "theowl": "M 97", "helix": "NGC 7293", "thehelix": "NGC 7293",
    "cocoon": "IC 5146", "manger": "M 44", "greatnebulainorion": "M 42", "orionssword": "M 42",
    "swordoforion": "M 42", "sagittariusstarcloud": "M 24", "smallsagittariusstarcloud": "M 24",
    "ptolemy": "M 7", "southernpleiades": "IC 2602", "thetacarinaecluster": "IC 2602",
    "clown": "NGC 2392", "clownface": "NGC 2392", "47tuc": "NGC 104", "omegacen": "NGC 5139",
    "etacarinaenebula": "NGC 3372", "etacarnebula": "NGC 3372", "keyhole": "NGC 3372",
    "cr399": "Cl 399", "comacluster": "Mel 111", "comaberenices": "Mel 111",
    "melotte25": "C 41", "mel25": "C 41", "hcg44": "NGC 3190", "hickson44": "NGC 3190",
    "leotriplet": "M 65", "leotrio": "M 65", "markarianschain": "NGC 4438", "heart": "IC 1805",
    "soul": "IC 1848", "pacman": "NGC 281", "elephanttrunk": "IC 1396",
    "silverdollar": "NGC 253", "carolinesrose": "NGC 7789", "etcluster": "NGC 457",
    "dragonfly": "NGC 457",
}  # fmt: skip
#: How catalogues are called, and their letters here.
_CATALOGUES = (
    (r"caldwell", "C"), (r"barnards?", "B"), (r"hickson(?:compactgroup)?|hcg", "HCG"),
    (r"collinder|cr", "Cl"), (r"melotte", "Mel"),
)  # fmt: skip


def known_as(text: str) -> str:
    """The name by which the lists know what ``text`` calls it; ``text`` itself where they know
    that, or nothing."""
    key = fold(text)
    if key in NICKNAMES:
        return NICKNAMES[key]
    for written, letters in _CATALOGUES:
        m = re.fullmatch(rf"(?:{written})0*(\d+)", key)
        if m is not None:
            return f"{letters} {m[1]}"
    return text
