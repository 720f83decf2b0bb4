"""Deep-sky objects: the list is whole, and places agree with remembered ones."""

import numpy as np
import pytest

from plumbstar.errors import UserError
from plumbstar.sky import deepsky
from plumbstar.sky.angles import separation_rad

from .outside import dms, hms

objects = deepsky.load()


def test_all_messier_objects():
    for number in range(1, 111):
        o = objects.find(f"M{number}")
        assert f"M {number}" in o.names


@pytest.mark.parametrize(
    ("name", "kind", "ra", "dec"),
    [
        # J2000, all from memory.
        ("M31", "galaxy", (0, 42, 44.3), (1, 41, 16, 9)),
        ("M13", "globular cluster", (16, 41, 41.2), (1, 36, 27, 36)),
        ("M57", "planetary nebula", (18, 53, 35.1), (1, 33, 1, 45)),
        ("M42", "cluster with nebula", (5, 35, 17), (-1, 5, 23, 28)),
        ("NGC 5139", "globular cluster", (13, 26, 47), (-1, 47, 28, 46)),
        ("M1", "supernova remnant", (5, 34, 31.9), (1, 22, 0, 52)),
        ("Pleiades", "open cluster", (3, 47, 0), (1, 24, 7, 0)),
    ],
)
def test_remembered_places(name, kind, ra, dec):
    o = objects.find(name)
    assert o.kind == kind
    gap = separation_rad(np.radians(o.ra_deg), np.radians(o.dec_deg), hms(*ra), dms(*dec))
    assert np.degrees(gap) * 60.0 < (10.0 if name == "Pleiades" else 1.0)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("m 31", "M31"), ("Messier 31", "M31"), ("NGC 224", "M31"), ("NGC0224", "M31"),
        ("andromeda galaxy", "M31"), ("Andromeda", "M31"), ("the Ring Nebula", "M57"),
        ("n891", "NGC891"), ("orion nebula", "M42"), ("LMC", "ESO56-115"), ("M102", "NGC5866"),
        ("double cluster", "C14"), ("stephan's quintet", "HCG92"), ("Stephans Quintet", "HCG92"),
    ],
)  # fmt: skip
def test_find(text, key):
    assert objects.find(text).key == key


def test_numbers_are_sane():
    keys = [o.key for o in objects]
    assert len(keys) == len(set(keys)) == 3860
    for o in objects:
        assert 0.0 <= o.ra_deg < 360.0
        assert -90.0 <= o.dec_deg <= 90.0
        assert not o.size_arcmin <= 0.0
        assert o.constellation in deepsky_constellations()
    # A catalogue's own slips (V fainter than B) must not come through for bright galaxies.
    assert objects.find("NGC 253").v_mag == pytest.approx(7.1, abs=0.6)


def deepsky_constellations():
    from plumbstar.sky.constellations import CONSTELLATIONS

    return CONSTELLATIONS


def test_licence_travels_with_the_data():
    from importlib.resources import files

    head = (files("plumbstar.sky") / "data" / "deepsky.txt").read_text()[:400]
    assert "CC BY-SA 4.0" in head
    assert "OpenNGC" in head


def test_unknown_is_a_user_error_with_suggestions():
    with pytest.raises(UserError) as e:
        objects.find("Andromida Galaxy")
    assert "M 31" in e.value.remedy


def test_search():
    assert objects.search("M 3", 3)[0].key == "M3"
    assert objects.search("whirl", 1)[0].key == "M51"
    assert objects.search("", 3) == []
