"""Comets and minor planets: places against Skyfield, formats, brightness, names."""

from __future__ import annotations

import contextlib
import gzip
import json
import math
from pathlib import Path

import erfa
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.sky.outside import ARCSEC, AUTHORITIES, instant_from_tt, rows

from plumbstar.errors import UserError
from plumbstar.logbook import elements_file
from plumbstar.sky import bodies
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.bodies import Body, body_icrs
from plumbstar.sky.frame import frame
from plumbstar.sky.minor import MinorBody, rough_magnitudes
from plumbstar.sky.naming import lookup, minor_source, mpc
from plumbstar.sky.naming.minor_bodies import MinorBodies
from plumbstar.sky.orbits import in_plane, pluto
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

COMETS = (AUTHORITIES / "comets_invented.txt").read_text()
MINORS = (AUTHORITIES / "minor_invented.txt").read_text()
BY_NAME = {b.name: b for t in (COMETS, MINORS) for b in mpc.read(t).bodies}
NIGHT = Instant.parse("2027-01-28T20:00:00Z")


def test_places_against_skyfield() -> None:
    """Geocentric with light time, 40 places: within 0.02 arcsec (Skyfield and DE421)."""
    worst = 0.0
    for row in rows("minor_skyfield.csv"):
        f = frame(instant_from_tt(float(row["tt_jd"]), 0.0), Site(0.0, 0.0))
        ra, dec, distance = body_icrs(BY_NAME[row["name"]], f, geocentric=True)
        there = np.radians([float(row["ra_deg"]), float(row["dec_deg"])])
        worst = max(worst, float(separation_rad(ra, dec, *there)))
        assert float(distance) == pytest.approx(float(row["distance_au"]), abs=2e-7)
    assert worst < 0.02 * ARCSEC


def test_light_time_is_counted() -> None:
    """Without it the fastest of them stands some arcseconds aside: the test above sees that."""
    body = BY_NAME["C/2026 Z1 (Invented)"]
    f = frame(NIGHT, Site(0.0, 0.0))
    ra, dec, d = body_icrs(body, f, geocentric=True)
    earth = erfa.epv00(float(f.tt1), float(f.tt2))[0]["p"]
    bare = body.heliocentric(float(f.tt1), float(f.tt2)) - earth
    straight = erfa.c2s(bare)
    assert 2.0 * ARCSEC < float(separation_rad(ra, dec, *straight)) < 60.0 * ARCSEC
    assert np.linalg.norm(bare) == pytest.approx(float(d), abs=1e-3)


@given(q=st.floats(0.005, 40.0), e=st.floats(0.0, 3.0), days=st.floats(-20000.0, 20000.0))
def test_keplers_equation_keeps_energy_and_areas(q: float, e: float, days: float) -> None:
    """Speed by differences: energy and angular momentum are those of the orbit, whatever its
    shape; far out, where differences lose their figures, it is left alone."""
    h = 1e-3 * max(1.0, q)
    x, y = in_plane(days + h * np.array([-2.0, -1.0, 0.0, 1.0, 2.0]), q, e)
    r = math.hypot(x[2], y[2])
    if r < 0.02 or r > 300.0:
        return
    k = 0.01720209895
    vx, vy = ((a[0] - 8 * a[1] + 8 * a[3] - a[4]) / (12 * h * k) for a in (x, y))
    assert vx * vx + vy * vy - 2.0 / r == pytest.approx(-(1.0 - e) / q, abs=2e-4 / r + 1e-6)
    assert x[2] * vy - y[2] * vx == pytest.approx(math.sqrt(q * (1.0 + e)), rel=2e-4, abs=1e-6)


def test_near_parabolas_go_over_into_the_parabola() -> None:
    """No step at e = 1: Barker's closed form (Meeus, chapter 34; from memory) there."""
    q, t = 0.9, np.linspace(-900.0, 900.0, 31)
    w = 3.0 * 0.01720209895 / math.sqrt(2.0) * t / q**1.5
    s = 2.0 * np.sinh(np.arcsinh(w / 2.0) / 3.0)
    x, y = q * (1.0 - s * s), 2.0 * q * s
    for e, off in ((1.0, 1e-11), (1.0 - 1e-9, 1e-6), (1.0 + 1e-9, 1e-6)):
        a, b = in_plane(t, q, e)
        assert np.hypot(a - x, b - y).max() < off


def test_pluto_against_de421() -> None:
    """From the Sun, JPL DE421 by Skyfield 1.55, au, equator of J2000: within an arcminute."""
    for jd, x, y, z in PLUTO:
        there, here = np.array([x, y, z]), pluto(jd).place(jd, 0.0)
        cross = float(np.linalg.norm(np.cross(there, here)))
        assert math.degrees(math.atan2(cross, float(there @ here))) * 60.0 < 1.0
        assert np.linalg.norm(here) == pytest.approx(float(np.linalg.norm(there)), rel=1e-3)
    # Near opposition in 2027 it is of magnitude 14.4 or so (well known, memory).
    assert bodies.magnitude(Body("pluto"), NIGHT) == pytest.approx(14.5, abs=0.2)


#: Julian date (TT) and place.
PLUTO = (
    (2448000.5, -19.71103, -22.13874, -0.96998),
    (2455000.5, 0.99785, -30.12238, -9.70044),
    (2461400.5, 20.19423, -25.78510, -14.13054),
    (2466000.5, 30.97779, -18.11391, -14.98775),
    (2469800.5, 37.44518, -10.23401, -14.47567),
)


def test_brightness_laws() -> None:
    comet, minor = BY_NAME["901P/Invented-Two"], BY_NAME["(900001) Madeup"]
    assert comet.brightness(0.3, 1.0, 1.0) == 9.0
    # n = 6: twice as far from the Sun is 15 log 2 = 4.515 fainter; from the Earth 5 log 2.
    assert comet.brightness(0.3, 1.0, 2.0) - 9.0 == pytest.approx(4.5154, abs=1e-4)
    assert comet.brightness(0.3, 2.0, 1.0) - 9.0 == pytest.approx(1.5051, abs=1e-4)
    assert minor.brightness(0.0, 1.0, 1.0) == 3.34
    # H, G with G = 0.15 at 20 degrees by hand: tan 10 deg = 0.17633, phi1 0.32776, phi2 0.79845.
    plain = MinorBody("x", "minor planet", minor.orbit, 0.0, 0.15)
    by_hand = -2.5 * math.log10(0.85 * 0.32776 + 0.15 * 0.79845)
    assert plain.brightness(math.radians(20.0), 1.0, 1.0) == pytest.approx(by_hand, abs=2e-3)
    rough = rough_magnitudes([comet, minor], NIGHT)
    assert rough == pytest.approx([bodies.magnitude(m, NIGHT) for m in (comet, minor)], abs=0.02)


def test_bad_lines_are_named_and_the_rest_kept() -> None:
    lines = COMETS.splitlines()
    spoilt = lines[0].replace("0.812345", "x.812345")
    month = lines[1].replace("2026 08", "2026 18")
    text = "\n".join([spoilt, "", "# a remark", lines[2], "not a line", month]) + "\n"
    found = mpc.read(text, "mine.txt")
    assert [b.name for b in found.bodies] == ["901P/Invented-Two"]
    assert [b.line for b in found.bad] == [1, 5, 6]
    assert found.bad[0].sentence == (
        "mine.txt, line 1: a perihelion distance (au) 'x.812345' in columns 31 to 39. "
        "Wanted: a perihelion distance (au) from 0.0001 to 1000."
    )
    assert "a month" in found.bad[2].sentence
    epoch = mpc.read(MINORS.replace("K26BL", "K26XL"), "m")
    assert len(epoch.bad) == 2
    assert "packed date" in epoch.bad[0].sentence
    header = "Words about it\n" * 3 + "-" * 60 + "\n" + MINORS
    assert len(mpc.read(header).bodies) == 2
    assert not mpc.read(header).bad


def test_json_says_the_same_as_the_lines() -> None:
    comet, minor = BY_NAME["901P/Invented-Two"], BY_NAME["(900001) Madeup"]
    entries = [
        {"Designation_and_name": "901P/Invented-Two", "Year_of_perihelion": 2027,
         "Month_of_perihelion": 5, "Day_of_perihelion": 30.5, "Perihelion_dist": 1.234567,
         "e": 0.654321, "Peri": 321.1234, "Node": 87.6543, "i": 11.2345, "Epoch_year": 2027,
         "Epoch_month": 1, "Epoch_day": 1, "H": 9.0, "G": 6.0},
        {"Number": "(900001)", "Name": "Madeup", "Epoch": 2461365.5, "M": 123.45678,
         "Peri": 73.12345, "Node": 80.23456, "i": 10.58765, "e": 0.0789123, "a": 2.7672345,
         "H": 3.34, "G": 0.12},
        {"Number": "(900003)", "Name": "Broken", "Peri": None},
    ]  # fmt: skip
    found = mpc.read(json.dumps(entries), "some.json")
    assert found.bodies[0] == comet
    assert found.bodies[1] == minor
    assert [b.line for b in found.bad] == [3]
    with pytest.raises(UserError, match="as JSON"):
        mpc.read("[{", "some.json")


@given(st.text(max_size=220))
def test_no_text_breaks_the_reader(text: str) -> None:
    with contextlib.suppress(UserError):
        found = mpc.read(text)
        assert len(found.bodies) + len(found.bad) <= len(text.splitlines()) + 1


@pytest.fixture
def listed() -> object:
    minor_source.use(lambda: MinorBodies(tuple(BY_NAME.values())))
    yield
    minor_source.use(None)


@pytest.mark.usefixtures("listed")
def test_found_by_any_of_their_names() -> None:
    for name in ("901P/Invented-Two", "901p", "invented two", "comet 901P", "Invented-Two"):
        assert lookup.find_target(name).label == "901P/Invented-Two"
    for name in ("Madeup", "(900001) Madeup", "900001 madeup"):
        assert lookup.find_target(name).label == "(900001) Madeup"
    assert lookup.find_target("c/2026 z1").label == "C/2026 Z1 (Invented)"
    with pytest.raises(UserError, match=r"means several: C/2026 Z1 \(Invented\), C/2025"):
        lookup.find_target("Invented")
    assert [t.label for t in lookup.search_targets("fabl")] == ["(900002) Fabled"]
    assert lookup.search_targets("madeuq")[0].label == "(900001) Madeup"
    # What else goes by a name goes before.
    assert lookup.find_target("Mars") == Body("Mars")


def test_a_comet_without_elements_says_what_to_do() -> None:
    with pytest.raises(UserError, match="plumbstar orbits add FILE"):
        lookup.find_target("C/2031 Q7")


def test_a_file_as_mail_and_editors_leave_it(tmp_path: Path) -> None:
    """Byte-order mark, CRLF, blank lines and ends, headings, blanks lost before a line, a line of
    dashes between two bodies: all are read, and what is no body is named."""
    a, b, c = COMETS.splitlines()
    assert a.startswith("    C")
    heading = "Designation     perihelion        distance  eccentricity  argument  node ".ljust(
        120, "x"
    )
    lines = ["\ufeffComets of this winter", "", f"{a}   ", "   ", a.lstrip().replace("Z1", "Y1"),
             f"  {b}", "-" * 40 + "  ", heading, f"{c}\t ", " # mine", "spoilt", ""]  # fmt: skip
    (tmp_path / "c.txt").write_bytes("\r\n".join(lines).encode())
    kept = elements_file.load(tmp_path)
    whole = {x.name: x for x in mpc.read(COMETS).bodies}
    found = {x.name: x for x in kept.bodies}
    assert len(found) == 4
    assert whole.items() <= found.items()
    assert [x.line for x in kept.bad] == [1, 8, 11]
    assert kept.bad[0].came == "'Comets of this winter'"
    assert kept.bad[1].came.startswith("'Designation")
    (tmp_path / "c.txt").write_bytes(b"\xef\xbb\xbf[]")
    assert elements_file.load(tmp_path).bad == ()


def test_files_beside_the_logbook(tmp_path: Path) -> None:
    folder = tmp_path / "elements"
    assert not len(elements_file.load(folder).bodies)
    source = tmp_path / "CometEls.txt.gz"
    source.write_bytes(gzip.compress((COMETS + "spoilt\n").encode()))
    found, to = elements_file.add(folder, source)
    assert (len(found.bodies), len(found.bad), to.name) == (3, 1, "CometEls.txt")
    (folder / "m.txt").write_text(MINORS)
    (folder / "n.json").write_text("[")
    kept = elements_file.load(folder)
    assert len(kept.bodies) == 5
    assert [b.source for b in kept.bad] == ["CometEls.txt", "n.json"]
    nothing = tmp_path / "nothing.txt"
    nothing.write_text("hello\n")
    with pytest.raises(UserError, match="holds no elements"):
        elements_file.add(folder, nothing)
    elements_file.remove(folder, "m.txt")
    assert len(elements_file.load(folder).bodies) == 3
    with pytest.raises(UserError, match="not among your files"):
        elements_file.remove(folder, "../logbook")
