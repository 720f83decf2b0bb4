"""A site, two stars, an outing with something of everything, and other processes."""

from __future__ import annotations

import textwrap
from pathlib import Path

import ready
from plumbstar import kit as kits
from plumbstar.logbook import Logbook
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

SRC = Path(__file__).parents[2] / "src"
DUSK = Instant.parse("2027-01-28T17:10:00Z")
RIDGE = Site(47.2, 11.6, 940.0, name="Thornback Ridge")
KIT = kits.example()
CAPELLA = Sighting("Capella", 71.3, 52.4, 70.1, 53.3, DUSK, "32 mm")
RIGEL = Sighting("Rigel", 134.2, 22.1, 133.0, 23.2, DUSK.plus_seconds(70.25), "32 mm")

# A table as `log export --csv` writes it.
GOOD = "2027-01-28T18:30:00Z,Capella,70.1,53.3,71.3,52.4,32 mm"
HEAD = "utc,star,az_reading_deg,alt_reading_deg,true_az_deg,true_alt_deg,eyepiece"


def outing(book: Logbook, utc: Instant = DUSK) -> int:
    return book.start_outing(RIDGE, KIT, kits.example_text(), utc).id


def full(book: Logbook) -> int:
    n = outing(book)
    a = book.add_sighting(n, CAPELLA, "encoders", (1795, -3), typed="capela")
    book.add_sighting(n, RIGEL, "typed")
    book.set_aside(a, "wrong star")
    book.delete_sighting(book.add_sighting(n, RIGEL, "typed"))
    book.add_find(n, "M 35", DUSK, (90.0, 50.0), (90.2, 49.9), 0.5, "32 mm")
    book.add_find(n, "NGC 2158", DUSK, (91.0, 50.0), None, 0.5)
    book.add_note(n, "dew\non the eyepiece", DUSK)
    book.add_fix(n, {"mean": [0.1, 0.2]}, DUSK)
    if book.file.rows("SELECT 1 FROM migrations WHERE number = 5"):
        seen(book, n)
    book.end_outing(n, DUSK.plus_seconds(7200.125))
    return n


def seen(book: Logbook, n: int) -> None:
    """Two looks, a sky and a sketch: what a file from before does not hold."""
    book.add_look(n, "M 35", DUSK, "clearly", "32 mm", "a spray", more={"rating": 2}, request="l1")
    book.add_look(n, "NGC 2158", DUSK.plus_seconds(60.0), "barely", "17 mm")
    book.tell_sky(n, DUSK, seeing=2, transparency=3, zenith_mag=21.1, faintest_mag=5.9, words="dry")
    book.add_sketch(n, "M 35", DUSK, "strokes", "[[[0,0],[500,-250]]]", request="s1")


def start(code: str, *args: str) -> ready.Program:
    """Python code in a process of its own."""
    return ready.Program(textwrap.dedent(code), *args, cwd="/", stderr=ready.PIPE)


def run(code: str, *args: str) -> str:
    """What it printed; it must end well."""
    process = start(code, *args)
    out, errors = process.communicate(timeout=60)
    assert process.returncode == 0, errors + out
    return out


SIGHT = """
    import sys
    from plumbstar.logbook import Logbook, NotSaved
    from plumbstar.errors import UserError
    from plumbstar.mount.sighting import Sighting
    def sight(b):
        return b.add_sighting(1, Sighting("Capella", 71.3, 52.4, 70.1, 53.3), "typed")
"""
