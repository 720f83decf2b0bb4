"""What people mistype, and what they meant."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.errors import UserError
from plumbstar.sky import bodies
from plumbstar.sky.lists import catalogue, deepsky
from plumbstar.sky.naming.lookup import find_target, search_targets
from plumbstar.sky.naming.names import edits, letters, near_designations, near_numbers, nearest


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("Capela", "Capella"), ("Betelguese", "Betelgeuse"), ("Beatelgeuse", "Betelgeuse"),
        ("Aldeberan", "Aldebaran"), ("Rigal", "Rigel"), ("Andromida", "M 31 (Andromeda Galaxy)"),
        ("Andromida galaxy", "M 31 (Andromeda Galaxy)"), ("Orian nebula", "M 42 (Orion Nebula)"),
        ("Plieades", "M 45 (Pleiades)"), ("Jupitor", "Jupiter"), ("Satern", "Saturn"),
        ("m 311", "M 31 (Andromeda Galaxy)"), ("ngc 89l", "NGC 891"), ("Cirius", "Sirius"),
        ("Anteres", "Antares"), ("Procion", "Procyon"), ("Whirlpol", "M 51 (Whirlpool Galaxy)"),
        ("Polariss", "Polaris"), ("Alberio", "Albireo"), ("Fomalhout", "Fomalhaut"),
        ("Dumbell nebula", "M 27 (Dumbbell Nebula)"), ("Venis", "Venus"),
        ("Hercules clustr", "M 13 (Hercules Cluster)"), ("alpha Centuri", "Rigil Kentaurus"),
        ("eta Casiopeia", "Achird"), ("N 7OOO", "NGC 7000 (North America Nebula)"),
        ("messier 31l", "M 31 (Andromeda Galaxy)"), ("ngc 8911", "NGC 891"),
        ("Veil nebla", "NGC 6960 (Western Veil)"), ("Omega Centari", "NGC 5139 (omega Centauri)"),
    ],
)  # fmt: skip
def test_the_first_suggestion_is_what_was_meant(typed, meant):
    with pytest.raises(UserError) as e:
        find_target(typed)
    assert e.value.remedy.startswith(f"Did you mean {meant}")
    # And no crowd of others beside it.
    assert e.value.remedy.count(",") <= 3


@pytest.mark.parametrize("typed", ["Capela", "Jupitor", "Orian nebula", "Plieades", "ngc 89l"])
def test_the_search_box_puts_it_first(typed):
    with pytest.raises(UserError) as e:
        find_target(typed)
    assert search_targets(typed, 3)[0].label in e.value.remedy


@pytest.mark.parametrize("typed", ["xyzzy", "q", "hip 99999999", "kettle on the stove", "%%%"])
def test_nothing_like_it_gives_examples_and_no_guess(typed):
    with pytest.raises(UserError) as e:
        find_target(typed)
    assert "Did you mean" not in e.value.remedy
    assert "For example" in e.value.remedy


def test_one_slip_in_any_bright_name_is_found_again():
    """Every way to swap two neighbours in the names of the fifty brightest stars that have one."""
    stars = catalogue.load()
    lost = []
    tried = 0
    for i in range(60):
        name = stars[i].name
        for k in range(1, len(name) - 1):
            typed = name[:k] + name[k + 1] + name[k] + name[k + 2 :]
            if len(name) < 4 or typed == name or not stars.is_unknown(typed):
                continue
            tried += 1
            if name not in [t.label for t in search_targets(typed, 3)]:
                lost.append(typed)
    assert tried > 200
    assert not lost


@pytest.mark.parametrize(
    ("a", "b", "n"),
    [("rigel", "rigel", 0), ("rigal", "rigel", 1), ("plieades", "pleiades", 1),
     ("capela", "capella", 1), ("ca", "abc", 3), ("", "abc", 3), ("vega", "altair", 5)],
)  # fmt: skip
def test_edits_by_hand(a, b, n):
    # "ca" to "abc" is 3, not 2: the restricted distance edits no stretch twice (Damerau 1964).
    assert edits(a, b, 9) == n
    assert edits(a, b, 2) == min(n, 3)


def plain_edits(a, b):
    """Change, leave out, put in; no swaps: written out, to bound the other from above."""
    if not a or not b:
        return len(a) + len(b)
    return min(
        plain_edits(a[1:], b) + 1, plain_edits(a, b[1:]) + 1,
        plain_edits(a[1:], b[1:]) + (a[0] != b[0]),
    )  # fmt: skip


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.text("abc", max_size=5), st.text("abc", max_size=5))
def test_edits_against_the_definition(a, b):
    mine, plain = edits(a, b, 9), plain_edits(a, b)
    assert mine == edits(b, a, 9)
    assert mine <= plain <= 2 * mine  # a swap is two plain edits
    assert (mine == 0) == (a == b)
    assert edits(a, b, 1) == min(mine, 2)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.text("abcdefg", min_size=4, max_size=9), st.text("abcdefg", min_size=4, max_size=9))
def test_the_short_cut_by_letters_loses_nothing(a, b):
    most = 1 if len(a) < 6 else 2 if len(a) < 9 else 3
    off = edits(a, b, most)
    found = nearest(a, {b: letters(b)})
    assert (b in found) == (off <= most and off < len(b) / 2)


def test_numbers_and_designations():
    assert next(iter(near_numbers("89l"))) == "891"
    assert near_numbers("311")["31"] < near_numbers("311")["11"] < near_numbers("311")["312"]
    assert "0" not in near_numbers("10")
    assert near_designations("alpha Centuri") == [("α Cen", 1.0)]
    assert near_designations("Vega") == []


def test_bodies_are_offered_too():
    for name in bodies.NAMES:
        if len(name) > 4:
            assert search_targets(name[:-2] + name[-1] + name[-2], 1)[0].label == name
    assert deepsky.load().search("Jupitor") == []
