"""The star catalogue: places against remembered published ones, and forgiving look-up."""

import numpy as np
import pytest

from plumbstar.errors import UserError
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.constellations import CONSTELLATIONS

from .outside import ARCSEC, dms, hms

stars = catalogue.load()


@pytest.mark.parametrize(
    ("name", "ra", "dec", "tolerance_arcsec"),
    [
        # ICRS, J2000.0, as in SIMBAD; all from memory.
        ("Sirius", (6, 45, 8.917), (-1, 16, 42, 58.02), 0.1),
        ("Betelgeuse", (5, 55, 10.3054), (1, 7, 24, 25.430), 0.1),
        ("Polaris", (2, 31, 49.095), (1, 89, 15, 50.79), 0.1),
        ("Vega", (18, 36, 56.336), (1, 38, 47, 1.28), 0.1),
        ("Rigil Kentaurus", (14, 39, 36.494), (-1, 60, 50, 2.37), 0.5),
        ("Arcturus", (14, 15, 39.672), (1, 19, 10, 56.67), 0.2),
        # A close pair whose members move by arcseconds; added by hand.
        ("xi UMa", (11, 18, 10.9), (1, 31, 31, 45.0), 3.0),
    ],
)
def test_remembered_places(name, ra, dec, tolerance_arcsec):
    s = stars.find(name)
    gap = separation_rad(np.radians(s.ra_deg), np.radians(s.dec_deg), hms(*ra), dms(*dec))
    assert gap / ARCSEC < tolerance_arcsec


def test_shape_of_the_catalogue():
    assert len(stars) == 8873
    assert np.all(np.diff(stars.v_mag) >= 0.0)
    assert stars.v_mag[-1] <= 6.5
    assert len(set(stars.hip)) == len(stars)
    assert np.all((stars.ra_deg >= 0.0) & (stars.ra_deg < 360.0))
    assert np.all(stars.parallax_mas >= 0.0)
    assert {s.constellation for s in stars} == set(CONSTELLATIONS)
    # Counts of naked-eye stars, from memory: about 170 to V 3, 1,600 to V 5.
    assert 165 <= len(stars.brighter_than(3.0)) <= 185
    assert 1500 <= len(stars.brighter_than(5.0)) <= 1700


def test_largest_motions():
    """Proper motions from memory: 61 Cyg 5.2, Arcturus 2.28, alpha Cen 3.7 arcsec a year."""
    for name, size in (("61 Cyg", 5.28), ("Arcturus", 2.28), ("Rigil Kentaurus", 3.71)):
        s = stars.find(name)
        assert np.hypot(s.pm_ra_mas, s.pm_dec_mas) / 1000.0 == pytest.approx(size, abs=0.1)


@pytest.mark.parametrize(
    "text",
    ["alf Ori", "alpha Ori", "α Ori", "alpha Orionis", "Betelgeuse", "58 Ori", "HIP 27989",
     "hip27989", "ALPHA  ORIONIS", "betelgeuse", "αOri", "Alpha-Orionis", "  58   ori "],
)  # fmt: skip
def test_many_ways_to_say_betelgeuse(text):
    assert stars.find(text).hip == 27989


@pytest.mark.parametrize(
    ("text", "hip"),
    [
        ("π³ Ori", 22449), ("pi3 Ori", 22449), ("pi-3 Ori", 22449),
        ("eta Bootis", 67927), ("η Boötis", 67927), ("Cor Caroli", 63125),
        ("alf Cen", 71683), ("α2 Cen", 71681), ("Toliman", 71681),
        ("P Cyg", 100044), ("g Her", 80704), ("ups3 Eri", 20535),
        ("alpha Lib", 72622),  # two components 4 arcmin apart: the bright one
        ("theta Tau", 20894), ("Schedar", 3179), ("Shedar", 3179), ("xi Sco", 78727),
        ("sigma Canis Majoris", 33856), ("beta CVn", 61317), ("Gienah", 59803),
    ],
)  # fmt: skip
def test_find(text, hip):
    assert stars.find(text).hip == hip


def test_every_label_and_designation_finds_its_star():
    """Each star is found by its own key, and by its label unless a companion outshines it."""
    for i in range(len(stars)):
        s = stars[i]
        assert stars.find_index(s.key) == i
        if s.name:
            assert stars.find(s.name).name == s.name
        if s.bayer or s.flamsteed:
            try:
                found = stars.find(s.designation)
            except UserError as e:
                assert "fits" in str(e)  # noqa: PT017
                continue
            assert found.constellation == s.constellation


def test_labels():
    assert stars.find("HIP 27989").label == "Betelgeuse"
    assert stars.find("eta Ori").label == "η Ori"
    assert stars.find("42 Ori").label == "42 Ori" or stars.find("42 Ori").bayer
    assert stars.find("HIP 88567").label == "HIP 88567"
    names = [s.name for s in stars if s.name]
    assert len(names) == len(set(names))


def test_several_stars_is_an_error_that_lists_them():
    with pytest.raises(UserError) as e:
        stars.find("pi Ori")
    assert "fits 6 stars" in e.value.came
    assert "Tabit (π3 Ori)" in e.value.remedy


@pytest.mark.parametrize(
    ("text", "meant"),
    [("Betelguese", "Betelgeuse"), ("Alderbaran", "Aldebaran"), ("siruis", "Sirius"),
     ("99 Ori", "Rigel")],
)  # fmt: skip
def test_slip_of_the_finger_gives_suggestions(text, meant):
    with pytest.raises(UserError) as e:
        stars.find(text)
    assert meant in e.value.remedy
    assert meant in stars.suggest(text)


@pytest.mark.parametrize(
    "text", ["", "   ", "xyzzy", "HIP 0", "HIP 99999999", "α", "Ori", "\N{SNOWMAN}"]
)
def test_nonsense_is_a_user_error(text):
    with pytest.raises(UserError):
        stars.find(text)


def test_search_puts_the_bright_and_exact_first():
    assert stars.search("betel")[0].label == "Betelgeuse"
    assert stars.search("Orion", 3)[0].label == "Rigel"
    assert stars.search("alf ori", 3)[0].label == "Betelgeuse"
    assert stars.search("", 5) == []
    assert len(stars.search("a", 7)) == 7
