"""Times found wrong afterwards: the fix then equals that of right times, and nothing is lost."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import astropy.units as u
import numpy as np
import pytest
from astropy.table import Table
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.commands.log import command
from plumbstar.commands.log.correct_time import seconds_of
from plumbstar.controller.evening import read_evening
from plumbstar.errors import UserError
from plumbstar.logbook import (
    Logbook,
    NotSaved,
    TimedBy,
    rescue,
    schema,
    to_nanosecond,
)
from plumbstar.logbook.changes import sentence_part
from plumbstar.logbook.connecting import connect
from plumbstar.logbook.places import placing
from plumbstar.logbook.shown import DISPLAY, DisplayEntry, as_saved, load_display
from plumbstar.logbook.words import signed_clock
from plumbstar.mount import kinematics
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.sightings_file import parse
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.times import Instant
from plumbstar.web.evening.solve_again import solve_outing

SCENE = thornback_ridge()
NIGHT = Instant.parse("2027-01-28T18:30:00Z")
STARS = ("Capella", "Rigel", "Pollux")
PLACE = placing(SCENE.site)
SLOW = 743.0  # the wrong clock is behind by so many seconds
RIGHT = TimedBy("boot-a", NIGHT.to_unix() - 100.0)
WRONG = TimedBy("boot-a", RIGHT.zero - SLOW)


def sighting(k: int, clock_slow_s: float = 0.0) -> Sighting:
    """Star k as truly centred through the hidden mount, timed by a clock that is slow."""
    utc = NIGHT.plus_seconds(60.0 * k)
    _, az, alt = PLACE(STARS[k], utc)
    read = np.degrees(
        kinematics.reading_of(kinematics.unit(np.radians(az), np.radians(alt)), SCENE.hidden)
    )
    told = utc.plus_seconds(-clock_slow_s)
    _, az, alt = PLACE(STARS[k], told)
    return Sighting(STARS[k], az, alt, float(read[0]), float(read[1]), told, "32 mm")


def fill(book: Logbook, slow: float = 0.0, n: int = 3, boot: TimedBy | None = None) -> int:
    book.basis = lambda: boot
    start = NIGHT.plus_seconds(-30.0 - slow)
    key = book.start_outing(SCENE.site, SCENE.kit, kits.example_text(), start).id
    for k in range(n):
        book.add_sighting(key, sighting(k, slow), "typed")
    found = sighting(0, slow).utc
    assert found is not None
    book.add_find(key, "M 42", found, (10.0, 20.0), (10.1, 20.1), 0.5)
    book.add_note(key, "dew", found)
    return key


def test_the_fix_after_correction_is_that_of_right_times(tmp_path: Path) -> None:
    solved = {}
    for name, slow in (("right", 0.0), ("wrong", SLOW), ("mended", SLOW)):
        with Logbook.open(tmp_path / f"{name}.sqlite3") as book:
            key = fill(book, slow)
            if name == "mended":
                assert book.correct_times(key, book.shifts_by(key, SLOW), PLACE) == 3
            got = solve_outing(book, key, NIGHT)
            assert got is not None
            solved[name] = got
    mean = {name: s.fix.mean for name, s in solved.items()}
    np.testing.assert_allclose(mean["mended"], mean["right"], atol=1e-9)
    np.testing.assert_allclose(solved["mended"].fix.sigma, solved["right"].fix.sigma, atol=1e-9)
    assert solved["mended"].sentence == solved["right"].sentence
    # 743 s turn the sky by 3.1 degrees: the wrong outing was truly wrong.
    assert np.max(np.abs(mean["wrong"] - mean["right"])) > np.radians(1.0)


def test_what_was_saved_is_kept_beside(book: Logbook) -> None:
    key = fill(book, SLOW)
    before = book.sightings(key)
    book.correct_times(key, book.shifts_by(key, SLOW), PLACE)
    for k, s in enumerate(book.sightings(key)):
        truth = sighting(k)
        assert s.as_saved == before[k].sighting
        assert s.corrected_by_s == SLOW
        assert s.sighting.utc is not None
        assert truth.utc is not None
        assert abs(s.sighting.utc.minus(truth.utc)) < 1e-8
        assert s.sighting.true_az_deg == pytest.approx(truth.true_az_deg, abs=1e-9)
        assert s.sighting.az_reading_deg == truth.az_reading_deg
    raw = sqlite3.connect(book.path).execute("SELECT utc, true_az_deg FROM sightings").fetchall()
    assert [Instant.parse(r[0]) for r in raw] == [b.sighting.utc for b in before]
    assert [r[1] for r in raw] == [b.sighting.true_az_deg for b in before]
    assert book.finds(key)[0].corrected_by_s == SLOW
    assert abs(book.finds(key)[0].utc.minus(NIGHT)) < 1e-6
    assert abs(book.notes(key)[0].utc.minus(NIGHT)) < 1e-6
    assert abs(book.outing(key).started.minus(NIGHT) + 30.0) < 1e-6


def test_one_undo_takes_it_back_and_redo_brings_it(book: Logbook) -> None:
    key = fill(book, SLOW)
    before = (book.sightings(key), book.finds(key), book.notes(key), book.outing(key))
    book.correct_times(key, book.shifts_by(key, SLOW), PLACE)
    after = (book.sightings(key), book.finds(key), book.notes(key), book.outing(key))
    assert before != after
    change = book.undo(key)
    assert change is not None
    assert sentence_part(change) == f"the correction of outing {key}'s times by +0:12:23"
    assert (book.sightings(key), book.finds(key), book.notes(key), book.outing(key)) == before
    book.redo(key)
    assert (book.sightings(key), book.finds(key), book.notes(key), book.outing(key)) == after


def test_two_corrections_add_up_and_the_way_back_leaves_none(book: Logbook) -> None:
    key = fill(book, SLOW)
    before = book.sightings(key)
    book.correct_times(key, book.shifts_by(key, 700.0), PLACE)
    book.correct_times(key, book.shifts_by(key, 43.0), PLACE)
    assert {s.corrected_by_s for s in book.sightings(key)} == {SLOW}
    book.correct_times(key, book.shifts_by(key, -SLOW), PLACE)
    assert book.sightings(key) == before


def test_only_those_before_the_clock_was_set(book: Logbook) -> None:
    key = fill(book, SLOW, n=2)
    book.add_sighting(key, sighting(2), "typed")  # by then it was right
    book.add_note(key, "late", NIGHT.plus_seconds(900.0))
    book.correct_times(key, book.shifts_by(key, SLOW, up_to=2), PLACE)
    assert [s.corrected_by_s for s in book.sightings(key)] == [SLOW, SLOW, 0.0]
    assert [r.corrected_by_s for r in book.notes(key)] == [SLOW, 0.0]


def test_the_steady_clock_tells_which_and_by_how_much(book: Logbook) -> None:
    key = fill(book, SLOW, n=2, boot=WRONG)
    book.basis = lambda: RIGHT
    book.add_sighting(key, sighting(2), "typed")
    book.basis = lambda: TimedBy("boot-b", WRONG.zero)  # another run of the computer: unknowable
    book.add_sighting(key, replace(sighting(2), utc=NIGHT), "typed")
    shifts = book.shifts_to(key, RIGHT, 4.0)
    assert list(shifts.sightings.values()) == [SLOW, SLOW]
    assert (len(shifts.finds), len(shifts.notes), shifts.start) == (1, 1, SLOW)
    assert shifts.words == "+0:12:23"
    book.correct_times(key, shifts, PLACE)
    assert not book.shifts_to(key, RIGHT, 4.0)  # asked again, nothing is left to do
    book.undo(key)
    assert book.shifts_to(key, RIGHT, 4.0) == shifts


def test_a_correction_that_cannot_be_is_refused_whole(book: Logbook) -> None:
    key = fill(book, SLOW)
    before = book.sightings(key)
    with pytest.raises(NotSaved, match="below the horizon"):
        book.correct_times(key, book.shifts_by(key, 12 * 3600.0), PLACE)
    with pytest.raises(NotSaved, match="without a site"):
        book.correct_times(key, book.shifts_by(key, SLOW), None)
    for bad in (0.0, float("nan"), 1e12):
        with pytest.raises(UserError, match="less than a century"):
            book.shifts_by(key, bad)
    book.add_sighting(key, replace(sighting(0), star="Nosuchstar"), "imported")
    with pytest.raises(NotSaved, match="Nosuchstar"):
        book.correct_times(key, book.shifts_by(key, SLOW), PLACE)
    assert book.sightings(key)[:3] == before
    book.delete_sighting(book.sighting(key, 4).id)  # a deleted one does not stand in the way
    assert book.correct_times(key, book.shifts_by(key, SLOW), PLACE) == 3


def test_exports_tell_of_it_and_come_back_the_same(book: Logbook, tmp_path: Path) -> None:
    key = fill(book, SLOW)
    book.end_outing(key, NIGHT.plus_seconds(600.0))
    plain = book.export_csv(key)
    book.correct_times(key, book.shifts_by(key, SLOW), PLACE)
    assert "corrected_by_s" not in plain
    csv = book.export_csv(key)
    assert csv.splitlines()[0].endswith(",corrected_by_s")
    assert csv.splitlines()[1].endswith(",743.0")
    read = parse(csv).sightings
    for got, want in zip(read, book.sightings(key), strict=True):
        assert want.sighting.utc is not None
        assert got == replace(want.sighting, utc=to_nanosecond(want.sighting.utc))
    text = book.export_json(key)
    told = json.loads(text)["outings"][0]
    assert told["sightings"][0]["saved_utc"] == "2027-01-28T18:17:37Z"
    assert told["start_corrected_by_s"] == SLOW
    with Logbook.open(tmp_path / "other.sqlite3") as other:
        (o,) = other.import_json(text)
        assert other.export_json(o.id) == text
        assert [s.as_saved for s in other.sightings(o.id)] == [
            s.as_saved for s in book.sightings(key)
        ]


def test_an_older_logbook_is_brought_up_and_even_rescued(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite3"
    db = sqlite3.connect(path, isolation_level=None)
    schema.migrate(db, "t", schema.MIGRATIONS[:1])
    place = '{"lat_deg":47.2,"lon_deg":11.6,"elevation_m":940.0}'
    db.execute(
        "INSERT INTO outings (uid, site, kit_name, kit_text, started) VALUES ('u', ?, 'k', '', ?)",
        (place, "2027-01-28T18:00:00.000000000Z"),
    )
    db.execute("INSERT INTO notes (outing_id, utc, text) VALUES (1, '2027-01-28T18:05:00Z', 'dew')")
    db.close()
    done = rescue.Recovered(path, path, None)
    fresh = tmp_path / "fresh.sqlite3"
    Logbook.open(fresh).close()
    with closing(connect(fresh, "mode=rw")) as new:
        rescue._take(new, path, done)
    assert done.added == {"outings": 1, "notes": 1}
    with Logbook.open(path) as book:
        assert book.notes(1)[0].corrected_by_s == 0.0
        assert book.outing(1).clock is None


# The command


def ask(path: Path, *words: str) -> str:
    done = CliRunner().invoke(command, [*words, "--logbook", str(path)])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.output


def test_the_command_corrects_and_solves_again(book: Logbook) -> None:
    key = fill(book, SLOW)
    text = ask(Path(book.path), "correct-time", "last", "--by", "743")
    assert f"Corrected outing {key} by +0:12:23: 3 sightings, 1 find, 1 note." in text
    assert "stop" in text
    assert book.fixes(key)[-1].body["sentence"] in text
    shown = ask(Path(book.path), "show", "last")
    assert "time corrected by +0:12:23" in shown
    assert "Undo done" in ask(Path(book.path), "undo")
    assert book.sightings(key)[0].corrected_by_s == 0.0


def beside(book: Logbook, slow: float = 0.0) -> int:
    """What a closed controller was told, as the pages keep it."""
    start = NIGHT.plus_seconds(-slow)
    key = book.start_outing(SCENE.site, SCENE.kit, kits.example_text(), start).id
    told = (("upright", ""), ("star", "Capella"), ("star", "Rigel"), ("number", ""))
    entries = tuple(
        DisplayEntry(f"p{k}", start.plus_seconds(20.0 * k).to_unix(), what, star)
        for k, (what, star) in enumerate(told)
    )
    book.update_state(key, **{DISPLAY: as_saved(entries)})
    return key


def test_what_a_controller_was_told_is_corrected_too(book: Logbook) -> None:
    key = beside(book, SLOW)
    saved = book.state(key)[DISPLAY]
    text = ask(Path(book.path), "correct-time", "last", "--by", "743")
    assert "0 sightings, 0 finds, 0 notes, 4 lines beside the controller." in text
    entries = load_display(book.state(key))
    assert [round(e.utc.minus(NIGHT), 3) for e in entries] == [0.0, 20.0, 40.0, 60.0]
    assert {e.corrected_by_s for e in entries} == {SLOW}
    assert book.state(key)[DISPLAY] == saved  # the times as they were saved
    book.correct_times(key, book.shifts_by(key, 7.0), PLACE)
    assert {e.corrected_by_s for e in load_display(book.state(key))} == {SLOW + 7.0}
    # What is kept beside it meanwhile is no part of the undo.
    book.update_state(key, desk={"target": "M 42"})
    book.undo(key)
    book.undo(key)
    assert {e.corrected_by_s for e in load_display(book.state(key))} == {0.0}
    assert book.state(key)["desk"] == {"target": "M 42"}
    book.redo(key)
    assert {e.corrected_by_s for e in load_display(book.state(key))} == {SLOW}
    with pytest.raises(NotSaved, match=r"Beside the controller: .* below the horizon"):
        book.correct_times(key, book.shifts_by(key, 12 * 3600.0), PLACE)
    assert {e.corrected_by_s for e in load_display(book.state(key))} == {SLOW}


def test_what_a_controller_was_told_goes_out_and_comes_in_whole(
    book: Logbook, tmp_path: Path
) -> None:
    key = beside(book, SLOW)
    book.correct_times(key, book.shifts_by(key, SLOW), PLACE)
    with Logbook.open(tmp_path / "other.sqlite3") as other:
        (there,) = other.import_json(book.export_json(key))
        mine, theirs = (load_display(b.state(k)) for b, k in ((book, key), (other, there.id)))
        assert [(e.event, e.star, e.corrected_by_s) for e in theirs] == [
            (e.event, e.star, e.corrected_by_s) for e in mine
        ]
        assert all(abs(a.at_unix - b.at_unix) < 1e-3 for a, b in zip(mine, theirs, strict=True))
        # Imported, it is over: at its last press.
        ended = other.outing(there.id).ended
        assert ended is not None
        assert abs(ended.minus(theirs[-1].utc)) < 1e-3
        assert other.export_json(there.id).count('"event"') == 4


@pytest.mark.parametrize(
    ("was", "truly", "by"),
    [
        ("18:04:10", "19:04:12", 3602.0),
        ("23:50", "00:10", 1200.0),  # over midnight the nearer way round
        ("0:10:00", "23:50:00", -1200.0),
        ("1970-01-01T00:05:00Z", "2027-01-28T18:05:00Z", 1801159200.0),
    ],
)
def test_two_clock_times_say_the_correction(was: str, truly: str, by: float) -> None:
    assert seconds_of(None, was, truly) == pytest.approx(by, abs=1e-3)


@pytest.mark.parametrize(
    "said",
    [(None, None, None), (5.0, "18:00", "19:00"), (None, "18:00", None), (None, "18:00", "x"),
     (None, "18:00", "2027-01-28T19:00:00Z")],
)  # fmt: skip
def test_a_correction_said_badly_is_refused(said: tuple[float | None, str | None, str]) -> None:
    with pytest.raises(UserError):
        seconds_of(*said)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(3602.0, "+1:00:02"), (-0.5, "-0:00:00.5"), (1801159200.0, "+20846 d 18:00:00"),
     (59.97, "+0:01:00")],
)  # fmt: skip
def test_a_difference_in_words(seconds: float, words: str) -> None:
    assert signed_clock(seconds) == words


def test_a_comment_in_a_csv_file_is_passed_over() -> None:
    text = (
        "# evening, by hand; with a semicolon\n"
        "utc,star,az_reading_deg,alt_reading_deg,true_az_deg,true_alt_deg\n"
        "# the first\n2027-01-28T17:05:45Z,Aldebaran,28,46,126,48\n"
    )
    assert [s.star for s in parse(text).sightings] == ["Aldebaran"]


def test_lines_beside_a_controller_are_numbered_and_corrected_up_to_one(book: Logbook) -> None:
    key = beside(book, SLOW)
    assert "   3  18:18:17  star Rigel" in ask(Path(book.path), "show", "last")
    text = ask(Path(book.path), "correct-time", "last", "--by", "743", "--up-to", "3")
    assert "3 lines beside the controller" in text
    entries = {e.press: e.corrected_by_s for e in load_display(book.state(key))}
    assert entries == {"p0": SLOW, "p1": SLOW, "p2": SLOW, "p3": 0.0}
    book.undo(key)
    with pytest.raises(UserError, match="line 5 beside the controller"):
        book.shifts_by(key, SLOW, up_to=5)


def test_an_evening_of_taps_goes_out_as_a_table_that_is_read_back(
    book: Logbook, tmp_path: Path
) -> None:
    key = beside(book)
    found = NIGHT.plus_seconds(300.0).to_unix()
    more = (
        DisplayEntry("p4", NIGHT.plus_seconds(60.0).to_unix(), "number", number_deg=-0.4),
        DisplayEntry("p5", found, "centred", "M 42", left_az_deg=0.3, left_alt_deg=-0.1,
                     chosen="Rigel"),
        DisplayEntry("p6", found + 60.0, "missed", "M 1", looked=((0.2, 0.1), (0.9, 0.1)),
                     field_deg=1.0),
        DisplayEntry("p7", found + 90.0, "missed", "M 81"),
    )  # fmt: skip
    entries = (*load_display(book.state(key))[:3], *more)
    book.update_state(key, **{DISPLAY: as_saved(entries)})
    table = tmp_path / "evening.csv"
    ask(Path(book.path), "export", "last", "--csv", "-o", str(table))
    told = read_evening(table.read_text(), str(table))
    assert (told.first.target.label, told.second.target.label) == ("Capella", "Rigel")
    assert told.number_deg == -0.4
    (m42,) = told.centred
    assert (m42.left_deg, m42.chosen.label if m42.chosen else "") == ((0.3, -0.1), "Rigel")
    assert [(m.target.key, m.left_deg) for m in told.missed] == [
        ("M1", ((-0.2, -0.1), (-0.9, -0.1)))
    ]
    out = tmp_path / "evening.ecsv"
    ask(Path(book.path), "export", "last", "--ecsv", "-o", str(out))
    t = Table.read(out, format="ascii.ecsv")
    assert list(t["event"]) == [
        "upright", "star", "star", "number", "centred", "missed", "missed", "missed",
    ]  # fmt: skip
    assert t["left_az_deg"].unit == u.deg
    assert t["number_deg"][3] == -0.4
    assert bool(t["number_deg"].mask[0])
