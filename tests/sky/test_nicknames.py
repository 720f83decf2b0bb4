"""What people call things leads to what the lists know."""

import pytest

from plumbstar.errors import UserError
from plumbstar.sky.lists import catalogue, deepsky
from plumbstar.sky.naming import lookup
from plumbstar.sky.naming.names import fold
from plumbstar.sky.naming.nicknames import NICKNAMES, known_as


def test_every_nickname_leads_to_one_thing_and_is_written_as_it_is_looked_up():
    for nick, name in NICKNAMES.items():
        assert fold(nick) == nick
        assert lookup.find_target(nick) == lookup.find_target(name)


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("seven sisters", "M45"), ("The Seven Sisters", "M45"), ("owl", "M97"),
        ("Caldwell 14", "C14"), ("caldwell 080", "NGC5139"), ("Barnard 33", "B33"),
        ("Hickson 44", "NGC3189"), ("HCG 92", "HCG92"), ("Hickson 92", "HCG92"),
        ("Collinder 399", "Cl399"), ("Melotte 111", "Mel111"), ("47 Tuc", "NGC104"),
        ("Leo Triplet", "M65"), ("Omega Cen", "NGC5139"), ("helix", "NGC7293"),
    ],
)  # fmt: skip
def test_catalogues_by_their_whole_names(said, key):
    found = lookup.find_target(said)
    assert key in (found.key, getattr(found, "label", "").replace(" ", "").split("(")[0])
    assert lookup.search_targets(said)[0].label == found.label


def test_what_the_lists_know_by_a_name_keeps_it():
    """No star and no whole name of an object is led astray; three short names are, on purpose:
    that of a cluster and of two galaxies that fewer people mean by it."""
    meant = {"owl", "theowl", "helix", "thehelix", "cocoon"}
    stars, objects = catalogue.load(), deepsky.load()
    for nick, name in NICKNAMES.items():
        assert stars.is_unknown(nick) or stars.find(nick) == lookup.find_target(name)
        there = objects.match(nick)
        assert there is None or there == lookup.find_target(name) or nick in meant


def test_an_unknown_number_is_refused_by_the_name_that_was_typed():
    assert known_as("Barnard 999") == "B 999"
    with pytest.raises(UserError, match="Barnard 999"):
        lookup.find_target("Barnard 999")
