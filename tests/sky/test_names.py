"""Reading designations."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.sky.naming.constellations import CONSTELLATIONS, GREEK
from plumbstar.sky.naming.names import constellation_of, designation, fold


def test_there_are_88_constellations_and_24_letters():
    assert len(CONSTELLATIONS) == 88
    assert len(GREEK) == 24


@pytest.mark.parametrize("letter", list(GREEK))
def test_every_letter_in_every_form(letter):
    for form in (letter, *GREEK[letter], GREEK[letter][1].upper(), letter.upper()):
        assert designation(f"{form} Lyr") == (letter, "", "Lyr"), form
        assert designation(f"{form}2 Lyrae") == (letter, "2", "Lyr"), form


@pytest.mark.parametrize("abbreviation", list(CONSTELLATIONS))
def test_every_constellation_in_every_form(abbreviation):
    for form in (abbreviation, *CONSTELLATIONS[abbreviation]):
        assert constellation_of(form) == abbreviation
        assert designation(f"12 {form.upper()}") == ("12", "", abbreviation)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.text(max_size=30))
def test_any_text_is_read_without_failing(text):
    designation(text)
    assert fold(fold(text)) == fold(text)
