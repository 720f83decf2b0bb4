"""Build src/plumbstar/sky/data/deepsky.txt from PyPI pyongc (OpenNGC, CC BY-SA 4.0).

Run from the top of the checkout, in an environment with pip: ``python tools/build_deepsky.py``

The output is an adaptation of OpenNGC, so it stands under CC BY-SA 4.0 too, apart from the rest of
the package; its first lines say so, and DATA-LICENSES.md gives the credit. What was changed:
objects picked (below), columns picked, types written as plain words, names tidied.

Picked: every NGC and IC number and every Messier object, and what else has a common name or a
catalogue letter of its own. M 102 is given as another name of NGC 5866: the source calls it a
repeat of M 101, and both readings are in use. A number that repeats another is another name of that
object. Numbers that turned out to be one star, two stars, a nova or nothing are kept, under those
kinds, so that a typed number is answered; ``DeepSkyList.deep`` leaves them out. Left out:
nonexistent ones without a place, and components of a pair that is itself in the list.

Surface brightness: the source gives, for most galaxies, the mean B brightness within the isophote
of 25 B magnitudes a square arcsecond, whose axes are the sizes given. It is turned to V with the
galaxy's own colour B - V where both magnitudes are given, else with 0.8. Values that contradict
magnitude and size by more than a magnitude or so are dropped (Sculptor's dwarf: 5 magnitudes).
Where the column is empty, deepsky.py works it out from magnitude and size and says so.

Filled in from memory (``FROM_MEMORY``), because the source has no magnitude, the size of the core
alone, or gives a nebula its cluster's magnitude: showpieces that would never be judged otherwise.

The last column is a galaxy's type after Hubble, as the source has it: how its light is gathered. Of
a cluster it is how rich it is after Trumpler, from memory (``RICHNESS``).
"""

from __future__ import annotations

import math
import re
import sqlite3
from pathlib import Path

from wheels import members

OUT = Path(__file__).resolve().parents[1] / "src/plumbstar/sky/data/deepsky.txt"

KINDS = {
    "OCl": "open cluster", "GCl": "globular cluster", "Cl+N": "cluster with nebula", "G": "galaxy",
    "GPair": "pair of galaxies", "GTrpl": "triplet of galaxies", "GGroup": "group of galaxies",
    "PN": "planetary nebula", "HII": "nebula", "DrkN": "dark nebula", "EmN": "nebula",
    "Neb": "nebula", "RfN": "reflection nebula", "SNR": "supernova remnant",
    "*Ass": "group of stars", "Other": "not identified", "**": "double star",
    "*": "single star", "Nova": "nova",
}  # fmt: skip
GALAXIES = {"G", "GPair", "GTrpl", "GGroup"}

HEADER = """\
# Deep-sky objects, ICRS J2000.0. An adaptation of OpenNGC by Mattia Verga, read from PyPI pyongc.
# Licence: CC BY-SA 4.0, https://creativecommons.org/licenses/by-sa/4.0/ - this file only.
# Changes: objects and columns picked, kinds in plain words, names tidied. By tools/build_deepsky.py
# Some values are from memory (FROM_MEMORY there); type: of a galaxy, or how rich a cluster is.
# key|names|kind|constellation|ra_deg|dec_deg|v_mag|b_mag|size_arcmin|minor_arcmin|pa_deg|surface_v\
|type
"""

# Names left out or put right. The source's names are the trade's; these few mislead. From memory.
RENAME = {
    "IC0434": "Horsehead's background nebula", "NGC6523": "Lagoon Nebula",
    "NGC6514": "Trifid Nebula", "NGC6618": "Omega Nebula,Swan Nebula",
    "NGC5194": "Whirlpool Galaxy",
    "NGC5457": "Pinwheel Galaxy", "NGC4594": "Sombrero Galaxy", "NGC4826": "Black Eye Galaxy",
    "NGC6720": "Ring Nebula", "NGC6853": "Dumbbell Nebula", "NGC3587": "Owl Nebula",
    "NGC7293": "Helix Nebula", "NGC6611": "Eagle Nebula", "IC4703": "Star Queen",
    "NGC2024": "Flame Nebula", "NGC6205": "Hercules Cluster", "NGC5139": "omega Centauri",
    "NGC7000": "North America Nebula", "NGC6543": "Cat's Eye Nebula", "NGC3242": "Ghost of Jupiter",
    "NGC7009": "Saturn Nebula", "NGC6960": "Western Veil,Veil Nebula", "NGC6992": "Eastern Veil",
    "NGC2237": "Rosette Nebula", "NGC2238": "", "NGC0104": "47 Tucanae",
    "NGC6705": "Wild Duck Cluster",
    "NGC5055": "Sunflower Galaxy", "NGC4631": "Whale Galaxy", "NGC7635": "Bubble Nebula",
    "NGC0253": "Sculptor Galaxy,Silver Coin", "NGC5236": "Southern Pinwheel",
    "NGC7662": "Blue Snowball", "NGC6826": "Blinking Planetary", "NGC3372": "Carina Nebula",
    "NGC4038": "Antennae Galaxies", "NGC4755": "Jewel Box", "NGC0884": "chi Persei Cluster",
    "NGC1952": "Crab Nebula", "NGC7654": "", "NGC5866": "Spindle Galaxy,M 102",
    "NGC1976": "Orion Nebula,Great Orion Nebula", "NGC0292": "Small Magellanic Cloud,SMC",
    "ESO056-115": "Large Magellanic Cloud,LMC", "NGC3031": "Bode's Galaxy",
    "Cl399": "Coathanger,Brocchi's Cluster",
    "NGC6656": "Great Sagittarius Cluster", "NGC0040": "Bow-Tie Nebula",
    # Codes of stars and constellations in the source: written out.
    "IC0348": "omicron Persei Cloud", "NGC2070": "Tarantula Nebula,30 Doradus",
    "IC0443": "Jellyfish Nebula,Gemini A", "IC2391": "omicron Velorum Cluster",
    "IC2602": "theta Carinae Cluster,Southern Pleiades", "IC2944": "lambda Centauri Nebula",
    "NGC6087": "S Normae Cluster", "IC4604": "rho Ophiuchi Nebula",
    "IC4715": "Small Sagittarius Star Cloud",
    "IC1318": "gamma Cygni",
}  # fmt: skip
# Integrated V put right. NGC 253: the source has it fainter than its own B. Globular clusters: the
# source mixes catalogues and is off by up to two magnitudes (M 14, M 71; M 15 has B 3.0 and no V);
# these are Harris 1996 (Astronomical Journal 112, 1487), V_t. All from memory.
FIX_V = {
    "NGC0253": 7.1, "NGC0104": 3.95, "NGC0288": 8.09, "NGC0362": 6.40, "NGC1261": 8.29,
    "NGC1851": 7.14, "NGC1904": 7.73, "NGC2808": 6.20, "NGC3201": 6.75, "NGC4372": 7.24,
    "NGC4590": 7.84, "NGC4833": 6.91, "NGC5024": 7.61, "NGC5139": 3.68, "NGC5272": 6.19,
    "NGC5904": 5.65, "NGC5986": 7.52, "NGC6093": 7.33, "NGC6121": 5.63, "NGC6171": 7.93,
    "NGC6205": 5.78, "NGC6218": 6.70, "NGC6254": 6.60, "NGC6266": 6.45, "NGC6273": 6.77,
    "NGC6333": 7.72, "NGC6341": 6.44, "NGC6388": 6.72, "NGC6397": 5.73, "NGC6402": 7.59,
    "NGC6441": 7.15, "NGC6541": 6.30, "NGC6626": 6.79, "NGC6637": 7.64, "NGC6656": 5.10,
    "NGC6681": 7.87, "NGC6715": 7.60, "NGC6723": 7.01, "NGC6752": 5.40, "NGC6779": 8.27,
    "NGC6809": 6.32, "NGC6838": 8.19, "NGC6864": 8.52, "NGC6981": 9.27, "NGC7078": 6.20,
    "NGC7089": 6.47, "NGC7099": 7.19,
}  # fmt: skip
#: How rich clusters are, after Trumpler (1930, Lick Observatory Bulletin 14, 154): poor, middling,
#: rich. From memory.
RICHNESS = {
    "p": (
        "NGC6913 NGC7092 NGC6613 NGC1746 NGC1980 NGC1981 NGC2169 NGC2175 NGC2232 NGC2264 "
        "NGC2362 NGC3324 IC2581 NGC6193 NGC6250 NGC6823 NGC6871 NGC7160 NGC7686 Mel111 IC1396 "
        "Cl399 "
    ),
    "m": (
        "NGC1960 NGC2287 NGC2632 NGC2422 NGC2323 NGC6531 IC4725 NGC6694 NGC1039 NGC0581 "
        "NGC6611 NGC0752 NGC1502 NGC1528 NGC1647 NGC1907 NGC2239 NGC2301 NGC2451 NGC2547 "
        "IC2391 NGC5460 NGC6025 NGC6087 NGC6242 NGC6530 NGC6633 NGC6709 NGC7243 IC4665 C041 "
        "IC1805 IC1848 IC4756 "
    ),
    "r": (
        "NGC6705 NGC2099 NGC2168 NGC1912 Mel022 NGC2437 NGC2548 NGC7654 NGC2682 NGC6405 "
        "NGC6494 NGC2447 C014 NGC0869 NGC0884 NGC0457 NGC0663 NGC1893 NGC2158 NGC2477 NGC2516 "
        "NGC3114 NGC3293 NGC3532 NGC3766 NGC4755 NGC5822 NGC6067 NGC6124 NGC6231 NGC6819 "
        "NGC6940 NGC7789 IC2602 NGC6475 "
    ),
}
#: Galaxies of an even type that have much to make out (a band of dust). From memory.
PECULIAR = ("NGC5128",)
RICH = {name: word for word, names in RICHNESS.items() for name in names.split()}
# Axes in arcminutes: the source has the whole Veil's for its western arc. From memory.
FIX_SIZE = {"NGC6960": (70.0, 6.0)}
#: (kind or "", V of the stars or of the whole, long and short axis in arcminutes, V surface
#: brightness of the glow), None to leave as the source has it, nan where its magnitude is that of
#: something else. All from memory, rounded; the surface brightnesses of nebulae are rough, to half
#: a magnitude at best.
FROM_MEMORY: dict[str, tuple[str, float | None, float | None, float | None, float | None]] = {
    "C041": ("", 0.5, 329.0, None, None),
    "Mel111": ("", 1.8, 275.0, None, None),
    "C014": ("open cluster", 3.0, 50.0, 30.0, None),
    "NGC0869": ("", 3.7, 18.0, None, None),
    "NGC0884": ("", 3.8, 18.0, None, None),
    "IC2602": ("", 1.9, 100.0, None, None),
    "NGC4755": ("", 4.2, 10.0, None, None),
    "NGC3532": ("", 3.0, 50.0, None, None),
    "NGC2516": ("", 3.8, 30.0, None, None),
    "IC2391": ("", 2.5, 60.0, None, None),
    "NGC6231": ("", 2.6, 15.0, None, None),
    "NGC6193": ("", 5.2, 14.0, None, None),
    "NGC6475": ("", 3.3, 80.0, None, None),
    "NGC6405": ("", 4.2, 25.0, None, None),
    "NGC2632": ("", 3.1, 95.0, None, None),
    "Mel022": ("", 1.5, 110.0, None, None),
    "HCG092": ("", 12.2, 3.5, None, None),
    "NGC7318": ("", 12.9, 1.9, 1.2, None),
    "NGC3372": ("", None, 120.0, 120.0, 21.6),
    "NGC2070": ("", None, 20.0, 16.0, 21.0),
    "NGC6611": ("cluster with nebula", 6.0, 30.0, 20.0, 22.8),
    "IC4703": ("nebula", math.nan, 30.0, 20.0, 22.8),
    "IC5146": ("cluster with nebula", 7.2, 10.0, 10.0, 23.5),
    "NGC1976": ("cluster with nebula", 4.0, 65.0, 60.0, 21.3),
    "NGC1982": ("nebula", None, 16.0, 12.0, 21.6),
    "NGC6523": ("", None, 45.0, 30.0, 22.0),
    "NGC6514": ("", None, 20.0, 20.0, 22.5),
    "NGC6618": ("", None, 15.0, 9.0, 20.8),
    "NGC2239": ("cluster with nebula", 4.8, 80.0, 60.0, 23.4),
    "NGC2237": ("", None, 80.0, 60.0, 23.4),
    "NGC2238": ("", None, 80.0, 60.0, 23.4),
    "NGC2264": ("cluster with nebula", 3.9, 30.0, 20.0, 24.3),
    "IC1805": ("cluster with nebula", 6.5, 60.0, 60.0, 24.3),
    "IC1848": ("cluster with nebula", 6.5, 60.0, 30.0, 24.3),
    "IC1396": ("cluster with nebula", 3.5, 170.0, 140.0, 24.6),
    "IC2944": ("cluster with nebula", 4.5, 65.0, 40.0, 23.6),
    "NGC2071": ("reflection nebula", 8.0, 7.0, 5.0, None),
    "NGC1981": ("open cluster", 4.2, 25.0, None, None),
    "NGC1980": ("cluster with nebula", 2.5, 14.0, 14.0, 24.0),
    "NGC6530": ("open cluster", 4.6, 14.0, None, None),
    "NGC7000": ("", None, 120.0, 100.0, 23.6),
    "NGC1499": ("", None, 145.0, 40.0, 24.0),
    "IC0434": ("", None, 60.0, 10.0, 24.3),
    "NGC2024": ("", None, 30.0, 30.0, 22.8),
    "NGC0281": ("", None, 35.0, 30.0, 23.3),
    "NGC6960": ("", None, 70.0, 6.0, 23.0),
    "NGC6992": ("", None, 60.0, 8.0, 22.8),
    "NGC6995": ("", None, 12.0, 12.0, 22.8),
    "NGC6888": ("", None, 18.0, 12.0, 23.2),
    "NGC7635": ("", None, 15.0, 8.0, 23.6),
}
# Common practice, no source; the median over the 3,328 galaxies with both magnitudes is 0.76.
GALAXY_COLOUR = 0.8


def tidy(name: str) -> str:
    """NGC0224 -> NGC 224, M040 -> M 40, Mel022 -> Mel 22."""
    m = re.fullmatch(r"([A-Za-z]+)0*(\d+)(.*)", name)
    return f"{m[1]} {m[2]}{m[3]}".strip() if m else name


def surface_v(r: sqlite3.Row, v: float | None, b: float | None) -> float | None:
    """Mean V surface brightness within the outline, from the source's B value; None if unusable."""
    given = r["sbrightn"]
    if given is None or b is None or not r["majax"]:
        return None
    area = math.pi / 4.0 * (60.0 * r["majax"]) * (60.0 * (r["minax"] or r["majax"]))
    # Median 0.39 over 10,242 galaxies, 0.1 to 1.1 from the 5th to the 95th in a hundred: total
    # light is more than that inside the isophote, and the axes are rounded from logarithms.
    if not -0.6 <= given - (b + 2.5 * math.log10(area)) <= 1.8:
        return None
    return float(given) - (b - v if v is not None else GALAXY_COLOUR)


def sort_of(r: sqlite3.Row) -> str:
    """A galaxy's type, with a p for one that is peculiar; how rich a cluster is."""
    if r["type"] not in GALAXIES:
        return RICH.get(r["name"], "")
    return (r["hubble"] or "").strip() + "p" * (r["name"] in PECULIAR)


def rows(database: bytes) -> list[str]:
    """The lines of the packaged file, sorted by right ascension."""
    con = sqlite3.connect(":memory:")
    con.deserialize(database)
    con.row_factory = sqlite3.Row
    source = con.execute("select * from objects").fetchall()
    whole = {r["name"] for r in source if r["type"] in KINDS}
    found = []
    for r in source:
        kind, name = r["type"], r["name"]
        common = [c.strip() for c in (r["commonnames"] or "").split(",") if c.strip()]
        if name in RENAME:
            common = [c for c in RENAME[name].split(",") if c]
        messier = (r["messier"] or "").lstrip("0")
        if kind not in KINDS or r["ra"] is None:
            continue
        base, _, part = name.partition(" NED")
        if part and not common:
            # One of a pair: only where the pair has no line of its own, and then the first.
            if base in whole:
                continue
            whole.add(base)
            name = base
        words = KINDS[kind]
        if kind == "Other" and (messier or common or "stars" in (r["nednotes"] or "")):
            words = "group of stars"
        v, b = r["vmag"], r["bmag"]
        v = FIX_V.get(name, v)
        if name in FIX_V and b is not None and b < FIX_V[name]:
            b = None
        # No galaxy is bluer than B - V = 0 or redder than 2, and a cluster is not bluer than any
        # star: one of the two is a slip, and the source's V is the one more often wrong.
        least, most = (0.0, 2.0) if kind in GALAXIES else (-1.0, 9.0)
        if v is not None and b is not None and kind in (*GALAXIES, "OCl", "GCl"):
            v = v if least <= b - v <= most else None
        names = ([f"M {messier}"] if messier else []) + [tidy(name)] + common
        for other, prefix in (("ngc", "NGC"), ("ic", "IC")):
            names += [f"{prefix} {x.strip().lstrip('0')}" for x in (r[other] or "").split(",")
                      if x.strip()]  # fmt: skip
        names += [tidy(x.replace(" ", "")) for x in (r["identifiers"] or "").split(",")
                  if re.fullmatch(r"C \d+", x)]  # fmt: skip
        names = list(dict.fromkeys(n.removeprefix("the ") for n in names))

        def num(x: float | None, digits: int) -> str:
            return "" if x is None else f"{x:.{digits}f}"

        constellation = {"Se1": "Ser", "Se2": "Ser"}.get(r["const"], r["const"])
        size, minor = FIX_SIZE.get(name, (r["majax"], r["minax"]))
        surface = surface_v(r, v, b) if kind in GALAXIES else None
        if name in FROM_MEMORY:
            told = FROM_MEMORY[name]
            words, v = told[0] or words, v if told[1] is None else told[1]
            size, minor, surface = told[2] or size, told[3], told[4] or surface
            if v is not None and math.isnan(v):
                v = b = None
        found.append((r["ra"], "|".join((
            names[0].replace(" ", ""), ";".join(names), words, constellation,
            f"{math.degrees(r['ra']):.5f}", f"{math.degrees(r['dec']):.5f}",
            num(v, 1), num(b, 1), num(size, 2), num(minor if size else None, 2),
            num(None if r["pa"] is None else r["pa"] % 180, 0),
            num(surface, 1), sort_of(r),
        ))))  # fmt: skip
    return [line for _, line in sorted(found)]


def main() -> None:
    (database,) = members("pyongc==1.2.2", "pyongc/ongc.db")
    lines = rows(database)
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text(HEADER + "\n".join(lines) + "\n", encoding="utf-8")
    print(f"{len(lines)} objects, {OUT.stat().st_size} bytes")


if __name__ == "__main__":
    main()
