"""Regenerate minor_skyfield.csv and the two files of elements beside it: invented bodies.

Not run by the tests. Needs, in an environment of its own: skyfield==1.55, skyfield-data (which
carries de421.bsp). Skyfield has its own propagation (SPICE's prop2b), light time, and JPL's Earth.

    python tests/authorities/make_minor.py PATH/TO/skyfield_data/data/de421.bsp
"""

import csv
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
from skyfield.api import Loader
from skyfield.constants import GM_SUN_Pitjeva_2005_km3_s2 as GM

sys.modules.setdefault("pandas", ModuleType("pandas"))  # only its table reader needs it
from skyfield.data import mpc  # noqa: E402

HERE = Path(__file__).parent
# name, q, e, argument, node, inclination, perihelion (y, m, d), epoch (y, m, d), H, n
COMETS = [
    ("C/2026 Z1 (Invented)", 0.812345, 1.000000, 123.4567, 45.6789, 112.3456,
     (2027, 2, 14.1234), (2026, 11, 21), 7.5, 4.0),
    ("C/2025 Z9 (Invented)", 1.912345, 1.002345, 283.4567, 345.6789, 62.3456,
     (2026, 8, 4.4321), (2026, 8, 10), 5.0, 4.0),
    ("901P/Invented-Two", 1.234567, 0.654321, 321.1234, 87.6543, 11.2345,
     (2027, 5, 30.5), (2027, 1, 1), 9.0, 6.0),
]  # fmt: skip
# name, a, e, argument, node, inclination, mean anomaly, epoch (packed), H, G
MINORS = [
    ("(900001) Madeup", 2.7672345, 0.0789123, 73.12345, 80.23456, 10.58765, 123.45678,
     "K26BL", 3.34, 0.12),
    ("(900002) Fabled", 1.4581234, 0.2230123, 178.91234, 304.27654, 10.82876, 310.55445,
     "K26BL", 10.31, 0.15),
]  # fmt: skip


class _Row(dict):
    """What the loader's functions take: names as attributes and as keys."""

    __getattr__ = dict.__getitem__


def comet_line(c) -> str:
    name, q, e, w, node, i, t, ep, h, n = c
    mark = f"{int(name.split('P/')[0]):04d}P       " if "P/" in name else "    CK26Z010"
    return (
        f"{mark:12}  {t[0]:4d} {t[1]:02d} {t[2]:07.4f} {q:9.6f}  {e:8.6f}  {w:8.4f}  {node:8.4f}  "
        f"{i:8.4f}  {ep[0]:4d}{ep[1]:02d}{ep[2]:02d}  {h:4.1f} {n:4.1f}  {name:56}  MPC 00000"
    )


def minor_line(m) -> str:
    name, a, e, w, node, i, mean, packed, h, g = m
    n = 0.9856076686 / a**1.5
    head = f"~0000  {h:6.2f} {g:5.2f} {packed} {mean:9.5f}  {w:9.5f}  {node:9.5f}  {i:9.5f}  "
    return f"{head}{e:9.7f} {n:11.8f} {a:11.7f}  0 E2026-W00".ljust(166) + f"{name:28}20261101"


def main(path: str) -> None:
    load = Loader(str(Path(path).parent))
    eph, ts = load(Path(path).name), load.timescale(builtin=True)
    sun, earth = eph["sun"], eph["earth"]
    bodies = []
    for name, q, e, w, node, i, t, _, *_ in COMETS:
        row = _Row(
            perihelion_distance_au=q,
            eccentricity=e,
            argument_of_perihelion_degrees=w,
            longitude_of_ascending_node_degrees=node,
            inclination_degrees=i,
            perihelion_year=t[0],
            perihelion_month=t[1],
            perihelion_day=t[2],
            designation=name,
        )
        bodies.append((name, sun + mpc.comet_orbit(row, ts, GM)))
    for name, a, e, w, node, i, mean, packed, *_ in MINORS:
        row = _Row(
            semimajor_axis_au=a,
            eccentricity=e,
            argument_of_perihelion_degrees=w,
            longitude_of_ascending_node_degrees=node,
            inclination_degrees=i,
            mean_anomaly_degrees=mean,
            epoch_packed=packed,
            designation=name,
        )
        bodies.append((name, sun + mpc.mpcorb_orbit(row, ts, GM)))
    rng = np.random.default_rng(20270128)
    with open(HERE / "minor_skyfield.csv", "w", newline="") as f:
        f.write(
            "# Invented comets and minor planets, astrometric from the Earth's centre, light time\n"
            "# counted: raw output of Skyfield 1.55 with JPL DE421. See make_minor.py.\n"
        )
        out = csv.writer(f, lineterminator="\n")
        out.writerow(["name", "tt_jd", "ra_deg", "dec_deg", "distance_au"])
        for name, body in bodies:
            for jd in rng.uniform(2461200, 2461700, 8):
                jd = round(float(jd), 4)
                ra, dec, d = earth.at(ts.tt_jd(jd)).observe(body).radec()
                out.writerow([name, jd, f"{ra._degrees:.7f}", f"{dec.degrees:.7f}", f"{d.au:.8f}"])
    (HERE / "comets_invented.txt").write_text("".join(comet_line(c) + "\n" for c in COMETS))
    (HERE / "minor_invented.txt").write_text("".join(minor_line(m) + "\n" for m in MINORS))


if __name__ == "__main__":
    main(sys.argv[1])
