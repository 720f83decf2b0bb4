"""The list of a simulated closed controller: its own stars, spellings and coordinates.

Of the equinox 2000, right ascension to a tenth of a minute of time and declination to an arcminute,
as small lists have them; neither precession nor proper motion, which the tool reckons with. The
places are from memory, not from the tool's catalogue; tests/simulate/test_closed.py holds each to
2 arcminutes of it.
"""

from __future__ import annotations

from collections.abc import Iterable

from plumbstar.errors import UserError
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.naming.lookup import find_target

#: (minutes of time, arcminutes): to what its coordinates are rounded.
GRAIN = 0.1, 1.0

#: Bright, well known, on all sides of both skies. In spellings of its own: the tool's are others.
_PLACES = {
    "Achernar": (1, 37.7, -57, 14), "Acrux": (12, 26.6, -63, 6), "Aldebaran": (4, 35.9, 16, 31),
    "Sirrah": (0, 8.4, 29, 5), "Altair": (19, 50.8, 8, 52), "Antares": (16, 29.4, -26, 26),
    "Arcturus": (14, 15.7, 19, 11), "Bellatrix": (5, 25.1, 6, 21), "Betelgeuse": (5, 55.2, 7, 24),
    "Canopus": (6, 24.0, -52, 42), "Capella": (5, 16.7, 46, 0), "Castor": (7, 34.6, 31, 53),
    "Deneb": (20, 41.4, 45, 17), "Denebola": (11, 49.1, 14, 34), "Diphda": (0, 43.6, -17, 59),
    "Dubhe": (11, 3.7, 61, 45), "Fomalhaut": (22, 57.7, -29, 37), "Hadar": (14, 3.8, -60, 22),
    "Hamal": (2, 7.2, 23, 28), "Menkar": (3, 2.3, 4, 5), "Mirach": (1, 9.7, 35, 37),
    "Mirfak": (3, 24.3, 49, 52), "Peacock": (20, 25.6, -56, 44), "Polaris": (2, 31.8, 89, 16),
    "Pollux": (7, 45.3, 28, 2), "Procyon": (7, 39.3, 5, 14), "Regulus": (10, 8.4, 11, 58),
    "Rigel": (5, 14.5, -8, 12), "Alpha Cen": (14, 39.6, -60, 50), "Alpha Cas": (0, 40.5, 56, 32),
    "Sirius": (6, 45.1, -16, 43), "Spica": (13, 25.2, -11, 10), "Vega": (18, 36.9, 38, 47),
}  # fmt: skip

STARS = tuple(_PLACES)


def _degrees(hours: float, minutes: float, deg: float, arcmin: float) -> tuple[float, float]:
    return (hours + minutes / 60.0) * 15.0, (abs(deg) + arcmin / 60.0) * (-1 if deg < 0 else 1)


def _spellings() -> dict[str, str]:
    """By the tool's key of each star: how this list spells it."""
    return {find_target(name).key: name for name in STARS}


def spelt(names: Iterable[str]) -> tuple[str, ...]:
    """These stars as this list spells them; one that it has not keeps its name.

    Raises :class:`UserError` for a name that nothing has.
    """
    own = _spellings()
    return tuple(dict.fromkeys(own.get(find_target(n).key, n) for n in names))


def known_to(names: Iterable[str]) -> dict[str, tuple[float, float]]:
    """Right ascension and declination, degrees, of what a controller has in its lists: its own
    where it has one, else the catalogue's to the same figures. What has no such place is left out.
    """
    out = {}
    own = _spellings()
    for name in names:
        try:
            found = find_target(name)
        except UserError:
            continue
        if found.key in own:
            out[name] = _degrees(*_PLACES[own[found.key]])
        elif isinstance(found, Star | DeepSky):
            minutes, arcmin = GRAIN
            ra = round(found.ra_deg * 4.0 / minutes) * minutes / 4.0
            out[name] = ra, round(found.dec_deg * 60.0 / arcmin) * arcmin / 60.0
    return out
