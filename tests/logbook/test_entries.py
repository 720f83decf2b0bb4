"""What was said to be saved is there, and what was deleted comes back."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, NotSaved
from plumbstar.logbook.changes import sentence_part
from samples import tries

from .rig import CAPELLA, DUSK, KIT, RIDGE, RIGEL, outing

# What is kept


def test_a_sighting_comes_back_as_it_was_made(book: Logbook, path: Path) -> None:
    n = outing(book)
    key = book.add_sighting(n, CAPELLA, "encoders", (1795, -3), typed="capela")
    book.close()
    with Logbook.open(path) as again:
        (got,) = again.sightings(n)
    assert got.id == key
    assert got.number == 1
    assert got.sighting == CAPELLA
    assert (got.typed, got.origin, got.az_count, got.alt_count) == ("capela", "encoders", 1795, -3)
    assert got.active
    assert got.deleted is None


def test_an_outing_keeps_site_and_kit_as_they_were(book: Logbook) -> None:
    o = book.outing(outing(book))
    assert o.site == RIDGE
    assert kits.loads(o.kit_text) == KIT
    assert (o.kit_name, o.started, o.ended, o.solar_filter) == ("Ridge box", DUSK, None, False)
    assert book.current_outing() == o
    book.end_outing(o.id, DUSK.plus_seconds(3600))
    assert book.current_outing() is None


def test_a_new_outing_ends_one_left_open_at_its_last_entry(book: Logbook) -> None:
    first = outing(book)
    book.add_sighting(first, RIGEL, "typed")
    second = book.start_outing(RIDGE, KIT, "", DUSK.plus_seconds(3 * 86400))
    assert book.outing(first).ended == RIGEL.utc
    book.undo()
    assert book.outing(first).ended is None
    assert [o.id for o in book.outings()] == [first]
    assert book.outing(second.id).deleted is not None


def test_finds_notes_fixes_mends_settings_state_skylines(book: Logbook) -> None:
    n = outing(book)
    book.add_find(n, "M 35", DUSK, (90.0, 50.0), (90.2, 49.9), 0.5, "32 mm")
    book.add_find(n, "NGC 2158", DUSK, (91.0, 50.0), None, 0.5)
    assert [(f.number, f.target, f.found) for f in book.finds(n)] == [
        (1, "M 35", True),
        (2, "NGC 2158", False),
    ]
    book.add_note(n, "dew\non the  eyepiece", DUSK)
    assert book.notes(n)[0].text == "dew\non the eyepiece"
    book.add_fix(n, {"mean": [0.1, 0.2], "sigma": [float("inf"), 1.0]}, DUSK)
    assert book.fixes(n)[0].body == {"mean": [0.1, 0.2], "sigma": [None, 1.0]}
    book.add_mend("Ridge box", ["altitude_zero"], "stop shimmed", DUSK)
    assert book.mends("Ridge box")[0].terms == ("altitude_zero",)
    assert book.mends("another") == ()
    assert book.get_setting("night", True) is True
    book.set_setting("night", False)
    assert book.get_setting("night", True) is False
    book.update_state(n, stars=["Capella"], target="M 35")
    assert book.update_state(n, target="M 37") == {"stars": ["Capella"], "target": "M 37"}
    assert book.update_state(n, target=None) == book.state(n) == {"stars": ["Capella"]}
    assert book.skyline(RIDGE) is None
    book.set_skyline(RIDGE, [(300.0, 25.0), (340.0, 5.0)])
    book.set_skyline(RIDGE, [(120.0, 40.0)])
    book.undo()
    assert book.skyline(RIDGE) == ((300.0, 25.0), (340.0, 5.0))


def test_a_press_sent_twice_is_kept_once(book: Logbook) -> None:
    n = outing(book)
    a = book.add_sighting(n, CAPELLA, "encoders", (1, 2), request="page-7")
    assert book.add_sighting(n, CAPELLA, "encoders", (1, 2), request="page-7") == a
    assert book.add_sighting(n, CAPELLA, "encoders", (1, 2)) != a
    f = book.add_find(n, "M 35", DUSK, (90.0, 50.0), None, 0.5, request="page-8")
    assert book.add_find(n, "M 35", DUSK, (90.0, 50.0), None, 0.5, request="page-8") == f
    assert len(book.sightings(n)) == 2
    assert len(book.finds(n)) == 1


# Delete, undo, purge


def test_nothing_deleted_is_gone_and_undo_outlives_the_program(book: Logbook, path: Path) -> None:
    n = outing(book)
    a = book.add_sighting(n, CAPELLA, "typed")
    b = book.add_sighting(n, RIGEL, "typed")
    book.set_aside(a, "wrong star")
    book.delete_sighting(b)
    book.delete_outing(n)
    assert book.outings() == ()
    assert len(book.outings(deleted=True)) == 1
    book.close()
    with Logbook.open(path) as again:
        assert again.undo() is not None
        assert [s.number for s in again.sightings(n)] == [1]
        assert again.undo() is not None
        assert [s.number for s in again.sightings(n)] == [1, 2]
        assert again.sightings(n)[0].reason == "wrong star"
        assert len(again.sightings(n, active=True)) == 1
        assert again.undo() is not None
        assert [(s.active, s.reason) for s in again.sightings(n)] == [(True, "")] * 2
    with Logbook.open(path) as third:
        for _ in range(3):
            assert third.redo() is not None
        assert third.redo() is None
        assert third.outings() == ()


def test_undo_takes_back_additions_and_redo_returns_them(book: Logbook) -> None:
    n = outing(book)
    book.add_sighting(n, CAPELLA, "typed")
    change = book.undo()
    assert change is not None
    assert "Capella" in sentence_part(change)
    assert book.sightings(n) == ()
    book.redo()
    assert [s.sighting for s in book.sightings(n)] == [CAPELLA]
    book.undo()
    book.add_sighting(n, RIGEL, "typed")  # something new: the undo can no longer be redone
    assert book.redo() is None
    assert book.sightings(n)[0].number == 2  # but the row is there, and its number is its own
    book.restore_sighting(book.sighting(n, 1).id)
    assert [s.number for s in book.sightings(n)] == [1, 2]


def test_undo_of_one_outing_leaves_others_alone(book: Logbook) -> None:
    first, second = outing(book), outing(book)
    book.add_sighting(first, CAPELLA, "typed")
    book.add_sighting(second, RIGEL, "typed")
    book.undo(first)
    assert book.sightings(first) == ()
    assert len(book.sightings(second)) == 1
    assert book.redo(second) is None
    assert book.redo(first) is not None
    assert len(book.sightings(first)) == 1


def test_undo_never_confirms_a_solar_filter(book: Logbook) -> None:
    n = outing(book)
    book.set_solar_filter(n, True)
    book.set_solar_filter(n, False)
    while book.undo() is not None:
        assert not book.outing(n).solar_filter


@settings(max_examples=tries(13, 40), deadline=None)
@given(st.lists(st.integers(0, 6), max_size=14), st.integers(0, 14))
def test_undo_and_redo_walk_through_every_earlier_state(actions: list[int], back: int) -> None:
    with Logbook.open(":memory:") as book:
        n = book.start_outing(RIDGE, KIT, "", DUSK).id
        keys = [book.add_sighting(n, CAPELLA, "typed")]

        def seen() -> str:
            left_out = [(s.id, s.active, s.reason) for s in book.sightings(n)]
            return repr((left_out, [f.id for f in book.finds(n)], book.skyline(RIDGE)))

        states = [seen()]
        for k, action in enumerate(actions):
            if action == 0:
                keys.append(book.add_sighting(n, RIGEL, "typed"))
            elif action == 1:
                book.set_aside(keys[k % len(keys)], f"reason {k}")
            elif action == 2:
                book.put_back(keys[k % len(keys)])
            elif action == 3:
                book.delete_sighting(keys[k % len(keys)])
            elif action == 4:
                book.restore_sighting(keys[k % len(keys)])
            elif action == 5:
                book.add_find(n, "M 35", DUSK, (1.0, 2.0), None, 0.5)
            else:
                book.set_skyline(RIDGE, [(float(k), 5.0)])
            states.append(seen())
        back = min(back, len(actions))
        for step in range(back):
            book.undo()
            assert seen() == states[-2 - step]
        for step in range(back):
            book.redo()
            assert seen() == states[len(states) - back + step]


def test_purge_removes_only_what_is_marked_and_its_history(book: Logbook) -> None:
    kept, gone = outing(book), outing(book)
    a = book.add_sighting(kept, CAPELLA, "typed")
    b = book.add_sighting(kept, RIGEL, "typed")
    book.add_sighting(gone, RIGEL, "typed")
    book.delete_outing(gone)
    book.delete_sighting(b)
    book.set_aside(a, "clouds")
    counts = book.purge()
    assert counts["outings"] == 1
    assert counts["sightings"] >= 1
    assert [s.id for s in book.sightings(kept, deleted=True)] == [a]
    assert book.file.rows("SELECT count(*) FROM sightings") == [(1,)]
    change = book.undo()
    assert change is not None
    assert "set aside" in sentence_part(change)
    assert book.sightings(kept)[0].active
    with pytest.raises(UserError):
        book.outing(gone)


# Refusals


def test_refused_entries_leave_no_trace(book: Logbook) -> None:
    n = outing(book)
    before = book.version()
    with pytest.raises(NotSaved, match="Nothing was saved"):
        book.add_sighting(n + 7, CAPELLA, "typed")
    with pytest.raises(NotSaved):
        book.add_sighting(n, CAPELLA, "guessed")  # type: ignore[arg-type]
    with pytest.raises(NotSaved):
        book.add_note(n, "  \n ", DUSK)
    with pytest.raises(NotSaved):
        book.add_find(n, "M 35", DUSK, (float("nan"), 1.0), None, 0.5)
    with pytest.raises(NotSaved):
        book.set_skyline(RIDGE, [(10.0, 91.0)])
    with pytest.raises(NotSaved):
        book.set_aside(99, "why")
    book.delete_outing(n)
    with pytest.raises(NotSaved, match="is deleted"):
        book.add_sighting(n, CAPELLA, "typed")
    assert book.version() == before + 1  # the deletion alone
