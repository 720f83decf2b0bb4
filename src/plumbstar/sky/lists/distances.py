"""How far some well-known deep-sky objects are, in light-years.

From memory, rounded to two figures where more are quoted; no list was at hand. Published values of
one object often differ by a fifth, so a figure here is only ever told with "about".
"""

from __future__ import annotations

from functools import lru_cache

#: Virgo's galaxies: one cluster, one distance.
_VIRGO = 54e6
_LY: dict[str, float] = {
    "M1": 6500, "M2": 37000, "M3": 34000, "M4": 6000, "M5": 25000, "M6": 1600, "M7": 980,
    "M8": 4100, "M9": 26000, "M10": 14000, "M11": 6200, "M12": 16000, "M13": 23000, "M14": 30000,
    "M15": 34000, "M16": 5700, "M17": 5500, "M19": 28000, "M20": 4100, "M22": 10000, "M23": 2100,
    "M25": 2000, "M26": 5000, "M27": 1300, "M28": 18000, "M30": 26000, "M31": 2.5e6, "M32": 2.5e6,
    "M33": 2.7e6, "M34": 1500, "M35": 2800, "M36": 4200, "M37": 4500, "M38": 4000, "M39": 1000,
    "M41": 2300, "M42": 1300, "M43": 1300, "M44": 600, "M45": 440, "M46": 5000, "M47": 1600,
    "M48": 2500, "M50": 3000, "M51": 28e6, "M52": 5000, "M53": 58000, "M54": 87000, "M55": 17000,
    "M56": 33000, "M57": 2500, "M62": 22000, "M63": 29e6, "M64": 17e6, "M65": 35e6, "M66": 35e6,
    "M67": 2800, "M68": 33000, "M69": 29000, "M70": 29000, "M71": 13000, "M72": 54000, "M74": 32e6,
    "M75": 68000, "M76": 2500, "M77": 45e6, "M78": 1300, "M79": 41000, "M80": 33000, "M81": 12e6,
    "M82": 12e6, "M83": 15e6, "M92": 27000, "M93": 3400, "M94": 16e6, "M95": 33e6, "M96": 33e6,
    "M101": 21e6, "M103": 8000, "M104": 30e6, "M105": 33e6, "M106": 24e6, "M107": 21000,
    "M110": 2.7e6,
    **dict.fromkeys(
        ("M49", "M58", "M59", "M60", "M61", "M84", "M85", "M86", "M87", "M88", "M89", "M90",
         "M91", "M98", "M99", "M100"), _VIRGO),
    "NGC104": 15000, "NGC253": 11e6, "NGC457": 8000, "NGC869": 7500, "NGC884": 7500,
    "NGC891": 30e6, "NGC1980": 1300, "NGC1981": 1300, "NGC2070": 160000, "NGC2237": 5000,
    "NGC3372": 7500, "NGC4565": 40e6, "NGC4755": 6400, "NGC5128": 12e6,
    "NGC5139": 17000, "NGC6960": 2400, "NGC6992": 2400, "NGC7000": 2600, "NGC7293": 650,
}  # fmt: skip


@lru_cache(maxsize=512)
def light_years(key: str) -> float | None:
    """About how far the object of that key (:attr:`plumbstar.sky.lists.deepsky.DeepSky.key`) is;
    None where this table does not say."""
    return _LY.get(key)
