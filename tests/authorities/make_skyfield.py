"""Regenerate stars_skyfield.csv and bodies_skyfield.csv: raw answers of Skyfield with JPL's DE421.

Not run by the tests. Needs, in an environment of its own: skyfield==1.55, skyfield-data (which
carries de421.bsp), astropy-iers-data. Skyfield shares no code with ERFA: its own precession,
nutation, aberration, light deflection and Earth rotation, and JPL's ephemeris for the Earth.
Skyfield's own Earth-rotation table is stale, so it is given the one that Plumbstar reads.

    python tests/authorities/make_skyfield.py PATH/TO/skyfield_data/data/de421.bsp
"""

import csv
import sys
from pathlib import Path

import astropy_iers_data
import numpy as np
from skyfield.api import Loader, Star, wgs84
from skyfield.data import iers
from skyfield.timelib import Timescale

HERE = Path(__file__).parent


def timescale() -> Timescale:
    with open(astropy_iers_data.IERS_A_FILE, "rb") as f:
        data = iers.parse_x_y_dut1_from_finals_all(f)
    tt, delta_t, leap_dates, leap_offsets = iers.build_timescale_arrays(
        data["utc_mjd"], data["dut1"]
    )
    ts = Timescale((tt, delta_t), leap_dates, leap_offsets)
    iers.install_polar_motion_table(ts, data)
    return ts


def main(path: str) -> None:
    ts = timescale()
    loader = Loader(str(Path(path).parent))
    eph = loader(Path(path).name)
    rng = np.random.default_rng(20270128)

    def moment():
        """A UTC second from 1973-01-03 to 2027-09."""
        day = int(rng.integers(0, 19980))
        second = int(rng.integers(0, 86400))
        t = ts.utc(1973, 1, 3 + day, 0, 0, second)
        return t, t.utc_iso()

    def site():
        return (
            round(float(rng.uniform(-90, 90)), 4),
            round(float(rng.uniform(-180, 180)), 4),
            int(rng.integers(0, 4000)),
        )

    with open(HERE / "stars_skyfield.csv", "w", newline="") as f:
        f.write(
            "# Places without air of made-up stars: raw output of Skyfield 1.55, JPL DE421 and\n"
            "# astropy-iers-data 0.2026.11.2 (UT1-UTC and polar motion). See make_skyfield.py.\n"
        )
        w = csv.writer(f, lineterminator="\n")
        w.writerow(
            [
                "utc",
                "lat_deg",
                "lon_deg",
                "elevation_m",
                "ra_deg",
                "dec_deg",
                "pm_ra_mas",
                "pm_dec_mas",
                "parallax_mas",
                "az_deg",
                "alt_deg",
            ]
        )
        for k in range(400):
            t, iso = moment()
            lat, lon, el = site()
            ra = round(float(rng.uniform(0, 360)), 6)
            dec = round(float(np.degrees(np.arcsin(rng.uniform(-1, 1)))), 6)
            fast = 3000 if k % 10 == 0 else 100
            pm1, pm2 = (round(float(x), 2) for x in rng.normal(0, fast, 2))
            plx = round(float(rng.exponential(20)), 2)
            star = Star(
                ra_hours=ra / 15,
                dec_degrees=dec,
                ra_mas_per_year=pm1,
                dec_mas_per_year=pm2,
                parallax_mas=plx,
            )
            observer = eph["earth"] + wgs84.latlon(lat, lon, el)
            alt, az, _ = observer.at(t).observe(star).apparent(deflectors=(10,)).altaz()
            w.writerow(
                [
                    iso,
                    lat,
                    lon,
                    el,
                    ra,
                    dec,
                    pm1,
                    pm2,
                    plx,
                    f"{az.degrees:.8f}",
                    f"{alt.degrees:.8f}",
                ]
            )

    with open(HERE / "bodies_skyfield.csv", "w", newline="") as f:
        f.write(
            "# Topocentric places of Sun, Moon, planets, no air: raw output of Skyfield 1.55\n"
            "# with JPL DE421 and astropy-iers-data 0.2026.11.2. See make_skyfield.py.\n"
        )
        w = csv.writer(f, lineterminator="\n")
        w.writerow(["utc", "lat_deg", "lon_deg", "elevation_m", "body", "az_deg", "alt_deg"])
        names = {"Sun": "sun", "Moon": "moon", "Mercury": "mercury", "Venus": "venus"} | {
            n: n.lower() + " barycenter" for n in ("Mars", "Jupiter", "Saturn", "Uranus", "Neptune")
        }
        for name, code in names.items():
            for _ in range(60):
                t, iso = moment()
                lat, lon, el = site()
                observer = eph["earth"] + wgs84.latlon(lat, lon, el)
                alt, az, _ = observer.at(t).observe(eph[code]).apparent(deflectors=(10,)).altaz()
                w.writerow([iso, lat, lon, el, name, f"{az.degrees:.7f}", f"{alt.degrees:.7f}"])


if __name__ == "__main__":
    main(sys.argv[1])
