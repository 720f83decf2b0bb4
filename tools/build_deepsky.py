"""Build src/plumbstar/sky/data/deepsky.txt from PyPI pyongc (OpenNGC, CC BY-SA 4.0).

Run from the top of the checkout, in an environment with pip: ``python tools/build_deepsky.py``

The output is an adaptation of OpenNGC, so it stands under CC BY-SA 4.0 too, apart from the rest of
the package; its first lines say so, and DATA-LICENSES.md gives the credit. What was changed:
objects picked (below), columns picked, types written as plain words, names tidied.

Picked: every Messier object; everything with a common name; NGC and IC objects to V 13, or to B
13.5 where no V is given; clusters and nebulae without a magnitude (often bright and large). M 102
is given as another name of NGC 5866: the source calls it a repeat of M 101, and both readings are
in use. Left out: stars, double stars (but M 40), records marked duplicate or nonexistent, pairs,
triplets and groups of galaxies without magnitude or name.
"""

from __future__ import annotations

import math
import re
import sqlite3
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

OUT = Path(__file__).resolve().parents[1] / "src/plumbstar/sky/data/deepsky.txt"

KINDS = {
    "OCl": "open cluster", "GCl": "globular cluster", "Cl+N": "cluster with nebula", "G": "galaxy",
    "GPair": "pair of galaxies", "GTrpl": "triplet of galaxies", "GGroup": "group of galaxies",
    "PN": "planetary nebula", "HII": "nebula", "DrkN": "dark nebula", "EmN": "nebula",
    "Neb": "nebula", "RfN": "reflection nebula", "SNR": "supernova remnant",
    "*Ass": "group of stars", "Other": "group of stars", "**": "double star",
}  # fmt: skip
NO_MAGNITUDE_WANTED = {"OCl", "GCl", "Cl+N", "PN", "HII", "EmN", "Neb", "RfN", "SNR", "DrkN",
                       "*Ass"}  # fmt: skip

HEADER = """\
# Deep-sky objects, ICRS J2000.0. An adaptation of OpenNGC by Mattia Verga, read from PyPI pyongc.
# Licence: CC BY-SA 4.0, https://creativecommons.org/licenses/by-sa/4.0/ - this file only.
# Changes: objects and columns picked, kinds in plain words, names tidied. By tools/build_deepsky.py
# key|names|kind|constellation|ra_deg|dec_deg|v_mag|b_mag|size_arcmin
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
    "NGC7009": "Saturn Nebula", "NGC6960": "Western Veil", "NGC6992": "Eastern Veil",
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
    "NGC6656": "Great Sagittarius Cluster",
}  # fmt: skip
# Integrated V that the source has wrong (it is fainter than its own B). From memory.
FIX_V = {"NGC0253": 7.1}


def tidy(name: str) -> str:
    """NGC0224 -> NGC 224, M040 -> M 40, Mel022 -> Mel 22."""
    m = re.fullmatch(r"([A-Za-z]+)0*(\d+)(.*)", name)
    return f"{m[1]} {m[2]}{m[3]}".strip() if m else name


def rows(db: Path) -> list[str]:
    """The lines of the packaged file, sorted by right ascension."""
    con = sqlite3.connect(db)
    con.row_factory = sqlite3.Row
    found = []
    for r in con.execute("select * from objects"):
        kind, name = r["type"], r["name"]
        common = [c.strip() for c in (r["commonnames"] or "").split(",") if c.strip()]
        if name in RENAME:
            common = [c for c in RENAME[name].split(",") if c]
        messier = "" if kind == "Dup" else (r["messier"] or "").lstrip("0")
        if kind not in KINDS or (kind == "**" and not messier) or r["ra"] is None:
            continue
        if kind == "Other" and not messier and not common:
            continue
        v, b = r["vmag"], r["bmag"]
        v = FIX_V.get(name, v)
        if v is not None and b is not None and v > b + 1.0 and kind in ("G", "OCl", "GCl"):
            v = None  # a galaxy or cluster is not bluer than any star: one of the two is a slip
        dim = v > 13.0 if v is not None else b > 13.5 if b is not None else None
        unknown = dim is None and kind not in NO_MAGNITUDE_WANTED
        if not messier and not common and (dim or unknown or " " in name):
            continue
        names = ([f"M {messier}"] if messier else []) + [tidy(name)] + common
        for other, prefix in (("ngc", "NGC"), ("ic", "IC")):
            names += [f"{prefix} {x.strip().lstrip('0')}" for x in (r[other] or "").split(",")
                      if x.strip()]  # fmt: skip
        if " NED" in name and not common:
            continue
        names = list(dict.fromkeys(n.removeprefix("the ") for n in names))

        def num(x: float | None, digits: int) -> str:
            return "" if x is None else f"{x:.{digits}f}"

        constellation = {"Se1": "Ser", "Se2": "Ser"}.get(r["const"], r["const"])
        found.append((r["ra"], "|".join((
            names[0].replace(" ", ""), ";".join(names), KINDS[kind], constellation,
            f"{math.degrees(r['ra']):.5f}", f"{math.degrees(r['dec']):.5f}",
            num(v, 1), num(b, 1), num(r["majax"], 2),
        ))))  # fmt: skip
    return [line for _, line in sorted(found)]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", folder,
             "pyongc==1.2.2"],
            check=True,
        )  # fmt: skip
        wheel = next(Path(folder).glob("pyongc-*.whl"))
        with zipfile.ZipFile(wheel) as z:
            z.extract("pyongc/ongc.db", folder)
        lines = rows(Path(folder) / "pyongc/ongc.db")
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text(HEADER + "\n".join(lines) + "\n", encoding="utf-8")
    print(f"{len(lines)} objects, {OUT.stat().st_size} bytes")


if __name__ == "__main__":
    main()
