"""Sightings and outings as CSV and JSON: out, and back to the last bit."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, NotSaved, clean, short, to_nanosecond
from plumbstar.logbook.slips import cuts, slips_in
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.sightings_file import parse
from plumbstar.sky.times import Instant
from samples import tries

from .rig import CAPELLA, DUSK, GOOD, HEAD, KIT, RIDGE, RIGEL, full, outing

ANGLES = st.floats(-359.0, 359.0)
WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
MOMENTS = st.none() | st.builds(
    Instant, st.integers(2415020, 2488069).map(lambda d: d + 0.5), st.floats(0, 1, exclude_max=True)
)
SIGHTINGS = st.builds(
    Sighting, WORDS, ANGLES, st.floats(-90, 90), st.floats(-1e5, 1e5), ANGLES, MOMENTS, WORDS
)


@settings(max_examples=tries(20, 60), deadline=None)
@given(st.lists(SIGHTINGS, min_size=1, max_size=5))
def test_sightings_go_out_and_come_back_to_the_last_bit(given_: list[Sighting]) -> None:
    with Logbook.open(":memory:") as book:
        n = book.start_outing(RIDGE, KIT, "", DUSK).id
        for s in given_:
            book.add_sighting(n, s, "encoders")
        kept = [s.sighting for s in book.sightings(n)]
        for s, k in zip(given_, kept, strict=True):
            assert k == Sighting(
                clean(s.star),
                *(s.true_az_deg, s.true_alt_deg, s.az_reading_deg, s.alt_reading_deg),
                to_nanosecond(s.utc) if s.utc is not None else None,
                clean(s.eyepiece),
            )
            if s.utc is not None and k.utc is not None:
                assert abs(k.utc.minus(s.utc)) < 1e-9
        again = book.import_csv(book.export_csv(n), site=RIDGE, kit=KIT)
        # A line that repeats another to the last figure is one sighting written twice.
        once = list({repr(s): s for s in kept}.values())
        assert [s.sighting for s in book.sightings(again.id)] == once
        with Logbook.open(":memory:") as other:
            (back,) = other.import_json(book.export_json(again.id))
            assert [s.sighting for s in other.sightings(back.id)] == once


def test_where_something_moved_goes_with_the_outing(book: Logbook) -> None:
    n = outing(book)
    for seen in (CAPELLA, RIGEL, CAPELLA):
        book.add_sighting(n, seen, "typed")
    ids = [s.id for s in book.sightings(n)]
    book.delete_sighting(ids[0])
    slips = [
        {"after": ids[1], "axes": ["azimuth", "base"], "why": "knocked", "told": True},
        {"after": ids[2], "axes": ["altitude"], "why": "jumped", "nothing_moved": True},
    ]
    book.update_state(n, desk={"slips": slips, "target": "M 42"})
    with Logbook.open(":memory:") as other:
        outing(other)  # so that the numbers differ
        for _ in range(2):
            other.add_sighting(1, RIGEL, "typed")
        (o,) = other.import_json(book.export_json(n))
        here = [s.id for s in other.sightings(o.id)]
        assert cuts(slips_in(other.state(o.id)), here) == [(1, ("azimuth", "base"))]


def test_an_outing_goes_out_as_json_and_comes_back_whole(book: Logbook) -> None:
    text = book.export_json(full(book))
    with Logbook.open(":memory:") as other:
        (o,) = other.import_json(text)
        assert other.export_json(o.id) == text
        assert [s.active for s in other.sightings(o.id)] == [False, True]
        with pytest.raises(NotSaved, match="here already"):
            other.import_json(text)
        other.undo()
        assert other.outings() == ()
        with pytest.raises(NotSaved, match="marked deleted"):
            other.import_json(text)
        other.restore_outing(o.id)
        assert other.export_json(o.id) == text


def test_mends_go_out_with_their_kit_and_come_back(book: Logbook) -> None:
    n = outing(book)
    kit = book.outing(n).kit_name
    put, box = ((1.0, 3), (0.25, -1)), ((1.0, 5), (0.25, 4))
    book.add_mend(kit, ["altitude_zero"], "shimmed", DUSK.plus_seconds(86400.5), put, box)
    book.add_mend(kit, ["cone", "squareness"], "collimated", DUSK)
    book.add_mend("another", ["cone"], "its own", DUSK)
    undone = book.add_mend(kit, ["cone"], "pressed in error", DUSK)
    book.undo_mend(undone)

    def told(b: Logbook, name: str = kit) -> list[Any]:
        return [(m.utc.iso(9), m.terms, m.text, m.put, m.box) for m in b.mends(name)]

    one, everything = book.export_json(n), book.export_json()
    assert [m["text"] for m in json.loads(one)["mends"]] == ["collimated", "shimmed"]
    with Logbook.open(":memory:") as other:
        other.import_json(one)
        assert told(other) == told(book)
        assert other.mends("another") == ()
        assert other.mends(kit)[-1].put_mm == 2.75
        with pytest.raises(NotSaved, match="here already"):
            other.import_json(everything)
        assert other.mends("another") == ()  # all or nothing
        only_mends = json.dumps({**json.loads(everything), "outings": []})
        other.import_json(only_mends)
        assert told(other) == told(book)  # each once
        assert told(other, "another") == told(book, "another")
        other.undo()
        assert other.mends("another") == ()
        other.undo()
        assert other.all_mends() == ()


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [("utc", "soon", "soon"), ("terms", ["hull"], "hull"), ("put", [[0.0, 1]], "0.01")],
)
def test_a_bad_mend_is_told_and_nothing_is_kept(
    book: Logbook, key: str, value: Any, says: str
) -> None:
    n = outing(book)
    book.add_mend(book.outing(n).kit_name, ["cone"], "collimated", DUSK)
    file = json.loads(book.export_json(n))
    file["mends"][0][key] = value
    with Logbook.open(":memory:") as other:
        with pytest.raises(UserError, match=says):
            other.import_json(json.dumps(file))
        assert not other.outings()
        assert not other.all_mends()


def test_csv_leaves_out_what_was_set_aside_unless_asked(book: Logbook) -> None:
    n = full(book)
    assert [s.star for s in parse(book.export_csv(n)).sightings] == ["Rigel"]
    both = parse(book.export_csv(n, set_aside=True)).sightings
    assert [s.star for s in both] == ["Capella", "Rigel"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("utc,star,az,alt\n", "line 1: the columns 'az' and 'alt'"),
        ("utc,star,utc,az_reading_deg\n", "line 1: the column 'utc' twice"),
        ("utc,star,az_reading_deg\n", "line 1: no column 'alt_reading_deg'"),
        ("star,az_reading_deg,alt_reading_deg\n", "line 1: neither"),
        (f"{HEAD}\n{GOOD}\n\n{GOOD.replace('70.1', 'x')}\n", "line 4, column az_reading_deg: 'x'"),
        (
            f"{HEAD}\n{GOOD}\n{GOOD.replace('70.1', 'nan')}\n",
            "line 3, column az_reading_deg: 'nan'",
        ),
        (f"{HEAD}\n{GOOD}\n{GOOD.replace('52.4', '91')}\n", "line 3: Capella: true altitude 91"),
        (f"{HEAD}\n{GOOD}\n{GOOD.replace('01-28', '02-30')}\n", "line 3, column utc: the date"),
        (f"{HEAD}\n{GOOD},9\n", "line 2: 8 values"),
        (f"{HEAD}\n{GOOD}\n,,70,,1,2,\n", "line 3, column alt_reading_deg: no value"),
        (f"{HEAD}\n,Vega,70,50,,,\n", "line 2: neither a true place nor star and time"),
        (f"{HEAD}\n{GOOD}\n2027-01-28T19:00Z,Vega,70,50,,,\n", "line 3: only a name for Vega"),
        (f'{HEAD}\n{GOOD}\n2027-01-28T19:00Z,"two\nlines,70,50\n', "line 3: broken CSV"),
    ],
)
def test_a_bad_csv_names_its_line_and_nothing_of_it_is_kept(
    book: Logbook, text: str, said: str
) -> None:
    before = book.version()
    with pytest.raises(UserError) as e:
        book.import_csv(text, site=RIDGE)
    assert said in str(e.value)
    assert book.outings(deleted=True) == ()
    assert book.version() == before


def test_csv_as_spreadsheets_write_it() -> None:
    plain = parse(f"{HEAD}\n{GOOD}\n").sightings
    semicolons = f"{HEAD}\n{GOOD}".replace(",", ";").replace(".", ",") + "\r\n"
    assert parse("\ufeff" + semicolons).sightings == plain
    assert parse(f"{HEAD}\n{GOOD}".replace(",", "\t")).sightings == plain


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: t.replace('"star"', '"stern"', 1), "stern"),
        (lambda t: t.replace('"version": 1', '"version": 2'), "version 2"),
        (lambda t: t.replace('"notes": [', '"notes": [,', 1), "line "),
        (lambda t: t.replace("52.4", "152.4", 1), "sighting 1: Capella: true altitude"),
        (lambda t: t.replace('"lat_deg": 47.2', '"lat_deg": 147.2'), "latitude"),
        (lambda t: t.replace("17:10:00Z", "27:10:00Z", 1), "27:10"),
    ],
)
def test_a_bad_json_says_where_and_nothing_of_it_is_kept(
    book: Logbook, change: object, said: str
) -> None:
    text = book.export_json(full(book))
    bad = change(text)  # type: ignore[operator]
    assert bad != text
    with Logbook.open(":memory:") as other:
        with pytest.raises(UserError) as e:
            other.import_json(bad)
        assert said in str(e.value)
        assert other.outings(deleted=True) == ()


def test_short_times_come_back() -> None:
    for text in (
        "2027-01-28T18:30:00Z",
        "2027-01-28T18:30:00.25Z",
        "2027-01-28T23:59:59.999999999Z",
    ):
        assert short(Instant.parse(text)) == text


@pytest.mark.parametrize("seed", range(4))
def test_values_beyond_all_bounds_are_refused_or_come_back(seed: int) -> None:
    """A number too large for the file, a correction out of the calendar: no surprise."""
    with Logbook.open(":memory:") as b:
        n = full(b)
        b.correct_times(n, b.shifts_by(n, 3600.0), lambda star, utc: (star, 100.0, 50.0))
        whole = b.export_json()
    ends: list[tuple[Any, str | int]] = []

    def walk(x: Any) -> None:
        for key, value in x.items() if isinstance(x, dict) else enumerate(x):
            ends.append((x, key))
            if isinstance(value, dict | list):
                walk(value)

    values = (
        *(10**30, 2**63, -(2**63) - 1, 2**53, 1e308, -1e308, 1e12, 0, -1, 1.5, None, "", True),
        *([], {}, "x" * 7000, "2100-12-31T23:59:59Z", "1900-01-01T00:00:00+23:59", "\x00"),
    )
    rng = random.Random(seed)
    taken = 0
    for _ in range(tries(75, 150)):
        file = json.loads(whole)
        ends.clear()
        walk(file)
        for place, key in rng.sample(ends, rng.randint(1, 2)):
            place[key] = rng.choice(values)
        with Logbook.open(":memory:") as b, Logbook.open(":memory:") as other:
            try:
                b.import_json(json.dumps(file))
            except UserError:
                assert b.outings() == ()
                continue
            taken += 1
            other.import_json(out := b.export_json())
            assert other.export_json() == out
    assert taken > tries(2, 5)
