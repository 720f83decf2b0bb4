"""What a change was is kept as a fact; the words are made last."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from plumbstar.logbook import ChangeKind, Logbook
from plumbstar.logbook.changes import Change, on_a_button, sentence_part
from plumbstar.logbook.schema import MIGRATIONS, migrate
from plumbstar.sky.times import Instant

THEN = Instant.parse("2027-01-28T18:00:00Z")
ONE = Change(1, THEN, 1, ChangeKind.FOUND, "M 31", None, "", False)


def test_on_a_button_and_in_a_sentence() -> None:
    assert on_a_button(ONE) == "Undo: M 31 found"
    assert on_a_button(replace(ONE, kind=ChangeKind.NOT_FOUND)) == "Undo: M 31 not found"
    aside = replace(ONE, kind=ChangeKind.SIGHTING_SET_ASIDE, about="Capella", number=3)
    assert on_a_button(aside) == "Undo: Capella set aside"
    assert sentence_part(aside) == "sighting 3 (Capella) of outing 1 set aside"


@pytest.mark.parametrize("kind", [k for k in ChangeKind if k is not ChangeKind.OTHER])
def test_every_kind_has_its_words(kind: ChangeKind) -> None:
    said = sentence_part(replace(ONE, kind=kind, number=2))
    assert said
    assert "{" not in said


def test_a_logbook_of_an_older_program_tells_what_undo_takes_back(tmp_path: Path) -> None:
    """It kept words alone: those that matter are read as kinds once, the others stay words."""
    path = tmp_path / "logbook.sqlite3"
    db = sqlite3.connect(path, isolation_level=None)
    migrate(db, "2026-01-01T00:00:00Z", MIGRATIONS[:2])
    for n, what in enumerate(("a sighting of Capella", "the find of M 31", "a note on outing 1")):
        db.execute(
            "INSERT INTO changes (at, outing_id, what, steps, made) VALUES (?, 1, ?, '[]', ?)",
            ("2026-01-01T00:00:00Z", what, n),
        )
    db.close()
    with Logbook.open(path) as book:
        note, find, sighting = book.history()
    assert (sighting.kind, sighting.about) == (ChangeKind.SIGHTED, "Capella")
    assert (find.kind, find.about) == (ChangeKind.FOUND, "M 31")
    assert note.kind is ChangeKind.OTHER
    assert sentence_part(note) == "a note on outing 1"
