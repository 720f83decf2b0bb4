"""Regenerate jovian_l12.csv: Jupiter's moons by the theory L1.2, as astronomy-engine has it.

Not run by the tests. Needs, in an environment of its own: astronomy-engine==2.1.19, numpy.

    python tests/authorities/make_jovian.py
"""

from pathlib import Path

import astronomy
import numpy as np

HERE = Path(__file__).parent
HEAD = """\
# Jupiter's four bright moons and the vectors to Jupiter and Sun: raw output of astronomy-engine
# 2.1.19 (MIT; the moons by the theory L1.2 of Lainey, Duriez and Vienne, truncated there),
# geocentric, au, mean equator of J2000. Moons from Jupiter's middle, when the light left it.
"""


def main() -> None:
    rng = np.random.default_rng(20270128)
    bodies = ("jupiter", "sun", "io", "europa", "ganymede", "callisto")
    lines = ["tt_jd," + ",".join(f"{b}_{a}" for b in bodies for a in "xyz")]
    for moment in rng.uniform(2455000, 2469800, 40):
        jd = round(float(moment), 5)
        t = astronomy.Time.FromTerrestrialTime(jd - 2451545.0)
        jupiter = astronomy.GeoVector(astronomy.Body.Jupiter, t, False)
        sun = astronomy.GeoVector(astronomy.Body.Sun, t, False)
        left = astronomy.Time.FromTerrestrialTime(jd - 2451545.0 - jupiter.Length() / 173.1446)
        m = astronomy.JupiterMoons(left)
        row = [f"{jd:.5f}"]
        for v in (jupiter, sun, m.io, m.europa, m.ganymede, m.callisto):
            row += [f"{x:.8f}" for x in (v.x, v.y, v.z)]
        lines.append(",".join(row))
    (HERE / "jovian_l12.csv").write_text(HEAD + "\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
