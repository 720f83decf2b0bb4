"""What was seen: kept, said otherwise, taken back, corrected, given out and brought in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from plumbstar.logbook import Logbook, NotSaved

from .rig import DUSK, full, outing


def test_a_press_that_comes_twice_is_one_look_and_may_say_it_otherwise(book: Logbook) -> None:
    n = outing(book)
    first = book.add_look(n, "M 42", DUSK, "barely", "32 mm", "green", request="press-0001")
    again = book.add_look(n, "M 42", DUSK.plus_seconds(9.0), "clearly", request="press-0001")
    assert first == again
    (look,) = book.looks(n)
    assert (look.seen, look.words, look.utc) == ("clearly", "green", DUSK)
    book.undo()
    assert book.look(first).seen == "barely"
    book.undo()
    assert book.looks(n) == ()
    # Taken back, and tapped again: it is there again, as it was tapped now.
    book.add_look(n, "M 42", DUSK, "faintly", request="press-0001")
    assert [x.seen for x in book.looks(n)] == ["faintly"]


def test_the_last_that_was_told_of_the_sky_counts_and_none_is_lost(book: Logbook) -> None:
    n = outing(book)
    book.tell_sky(n, DUSK, seeing=4)
    book.tell_sky(n, DUSK.plus_seconds(3600.0), seeing=2, zenith_mag=21.3, request="sky-00001")
    book.tell_sky(n, DUSK.plus_seconds(3601.0), seeing=2, zenith_mag=21.3, request="sky-00001")
    assert [s.seeing for s in book.skies(n)] == [4, 2]
    for wrong in ({"seeing": 6}, {"transparency": 0}, {"zenith_mag": 35.0}, {}):
        with pytest.raises(NotSaved):
            book.tell_sky(n, DUSK, **wrong)  # type: ignore[arg-type]


def test_a_press_that_comes_again_is_answered_though_its_outing_is_deleted(book: Logbook) -> None:
    n = outing(book)
    told = book.tell_sky(n, DUSK, seeing=2, request="sky-00001")
    drawn = book.add_sketch(n, "M 42", DUSK, "strokes", "[[[0,0],[9,9]]]", request="ske-00001")
    find = ("M 42", DUSK, (10.0, 40.0), None, 0.5)
    missed = book.add_find(n, *find, request="find-0001")
    book.delete_outing(n)
    assert book.tell_sky(n, DUSK, seeing=2, request="sky-00001") == told
    again = book.add_sketch(n, "M 42", DUSK, "strokes", "[[[0,0],[9,9]]]", request="ske-00001")
    assert again == drawn
    assert book.add_find(n, *find, request="find-0001") == missed
    with pytest.raises(NotSaved):
        book.tell_sky(n, DUSK, seeing=2, request="sky-00002")


def test_what_is_no_sketch_is_refused_and_what_is_one_kept(book: Logbook) -> None:
    n = outing(book)
    for kind, body in (
        ("strokes", "[]"), ("strokes", "[[[1]]]"), ("strokes", "no"), ("png", "%%%"),
        ("png", "AAAA"), ("jpeg", "x" * 700_000),
    ):  # fmt: skip
        with pytest.raises(NotSaved):
            book.add_sketch(n, "M 42", DUSK, kind, body)  # type: ignore[arg-type]
    assert book.sketches(n) == ()
    k = book.add_sketch(n, "M 42", DUSK, "strokes", "[[[0,0],[9,-9]]]")
    assert book.sketch(k).strokes == [[(0, 0), (9, -9)]]
    book.delete_sketch(k)
    assert book.sketches(n) == ()
    book.undo()
    assert len(book.sketches(n)) == 1


def test_all_of_it_goes_out_and_comes_in_elsewhere(book: Logbook, tmp_path: Path) -> None:
    n = full(book)
    book.correct_times(n, book.shifts_by(n, 3600.0), lambda star, utc: (star, 100.0, 50.0))
    assert book.looks(n)[0].utc == DUSK.plus_seconds(3600.0)
    assert book.skies(n)[0].corrected_by_s == 3600.0
    text = book.export_json()
    with Logbook.open(tmp_path / "other.sqlite3") as other:
        other.import_json(text)
        assert other.export_json() == text
        assert [x.seen for x in other.looks()] == ["clearly", "barely"]
        assert other.looks()[0].more == {"rating": 2}
        other.delete_outing(other.outings()[0].id)
        assert other.looks() == ()  # of all outings: not of one that is deleted
        other.purge()
        for table in ("looks", "skies", "sketches"):
            assert other.file.rows(f"SELECT count(*) FROM {table}") == [(0,)]


def test_log_show_tells_what_was_seen(book: Logbook, log: Callable[..., str]) -> None:
    full(book)
    said = log("show", "1")
    assert "M 35: clearly seen, 32 mm. a spray" in said
    assert "1 sketch: M 35" in said
    assert "seeing good (2 of 5), a little haze (3 of 5), zenith 21.1" in said
