"""What was seen is found again: by object, by kind, by date; and an imported object counts."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from plumbstar.logbook import Logbook
from plumbstar.logbook.places import key_of
from plumbstar.logbook.seen import SeenQuery, seen_entries, seen_names

from .rig import DUSK, outing


@pytest.fixture
def two_evenings(book: Logbook) -> Logbook:
    n = outing(book)
    book.add_find(n, "M42", DUSK, (90.0, 50.0), (90.2, 49.9), 0.5, "32 mm")
    book.add_look(n, "M 42", DUSK, "clearly", "32 mm", "a cave")  # of that find, in other words
    book.add_find(n, "M 35", DUSK, (90.0, 50.0), (90.2, 49.9), 0.5, "17 mm")
    book.add_find(n, "M 1", DUSK, (90.0, 50.0), None, 0.5)  # looked for in vain
    later = DUSK.plus_seconds(40 * 86400.0)
    n = outing(book, later)
    book.add_look(n, "Orion Nebula", later, "faintly", "9 mm")
    book.add_look(n, "NGC 2158", later, "not", "9 mm")
    book.add_look(n, "Messier 81", later, "seen")
    return book


def test_by_object_kind_and_date(two_evenings: Logbook) -> None:
    b = two_evenings
    assert key_of("Orion Nebula") == key_of("M 42") == key_of("NGC 1976")
    m42 = seen_entries(b, SeenQuery("NGC1976"))
    assert [(x.seen, x.eyepiece) for x in m42] == [("faintly", "9 mm"), ("clearly", "32 mm")]
    assert {x.label.partition(" (")[0] for x in seen_entries(b, SeenQuery(kind="galaxies"))} == {
        seen_entries(b, SeenQuery("M 81"))[0].label.partition(" (")[0]
    }
    assert [x.name for x in seen_entries(b, SeenQuery(kind="open clusters"))] == [
        "NGC 2158", "M 35"
    ]  # fmt: skip
    assert len(seen_entries(b, SeenQuery(end=DUSK.plus_seconds(1.0)))) == 2
    assert len(seen_entries(b, SeenQuery(start=DUSK.plus_seconds(1.0)))) == 3
    assert "NGC 2158" not in seen_names(b)  # in the field, and not seen
    assert "M 1" not in seen_names(b)
    assert sum(key_of(n) == key_of("M 42") for n in seen_names(b)) == 2


def test_the_command_says_when_and_with_what(
    two_evenings: Logbook, log: Callable[..., str]
) -> None:
    said = log("seen", "M", "42")
    assert "seen 2 times, last on 2027-03-09" in said
    assert "faintly seen, 9 mm" in said
    assert '"a cave"' in said
    assert "in the field, not seen" in log("seen", "--kind", "cluster", "--from", "2027-03")
    assert "Nothing of that" in log("seen", "--until", "2026")
    assert json.loads(log("seen", "--json"))["objects"] == 3
    assert "As 2027-01-28" in log("seen", "--from", "yesterday", fails=True)
