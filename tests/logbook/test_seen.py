"""What was seen is found again: by object, by kind, by date; and an imported object counts."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

import needs
from plumbstar.logbook import Logbook
from plumbstar.logbook.places import key_of
from plumbstar.logbook.seen import SeenQuery, seen_entries, seen_names

from .rig import DUSK, full, outing


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
    in_vain = log("seen", "--kind", "cluster", "--from", "2027-03")
    assert in_vain.startswith("1 object seen, 1 look; 1 more looked for, and not seen.")
    assert log("seen", "--kind", "open", "--from", "2027-03").startswith("Looked for, and not seen")
    assert "in the field, not seen" in in_vain
    assert "Nothing of that" in log("seen", "--until", "2026")
    assert json.loads(log("seen", "--json"))["objects"] == 3
    assert "As 2027-01-28" in log("seen", "--from", "yesterday", fails=True)


def test_tables_of_what_was_seen_go_out_and_come_back(
    book: Logbook, log: Callable[..., str], tmp_path: Path
) -> None:
    full(book)
    n = outing(book, DUSK.plus_seconds(86400.0))
    book.add_look(n, "no list has it", DUSK.plus_seconds(86400.0), "barely", "9 mm", '=1+1\n"x", y')
    for form in ("--csv", "--ecsv"):
        file = tmp_path / f"seen{form}"
        file.write_text(log("export", "all", "--seen", form))
        log("import", str(file), "--logbook", str(tmp_path / f"other{form}.sqlite3"))
        with Logbook.open(tmp_path / f"other{form}.sqlite3") as other:
            assert [(key_of(x.name), x.seen, x.eyepiece, x.kit, x.site, " ".join(x.words.split()))
                    for x in seen_entries(other)] == [
                   (key_of(x.name), x.seen, x.eyepiece, x.kit, x.site, " ".join(x.words.split()))
                    for x in seen_entries(book)]  # fmt: skip
            sky = other.skies(other.outings()[0].id)[0]
            assert (sky.seeing, sky.transparency, sky.zenith_mag) == (2, 3, 21.1)
        assert "3 observations of it were here already" in log("import", str(file))
    ascii = needs.module("astropy.table").Table.read(
        str(tmp_path / "seen--ecsv"), format="ascii.ecsv"
    )
    assert str(ascii["lat_deg"].unit) == "deg"
    assert list(ascii["seen"]) == ["clearly", "barely", "barely"]


def test_a_list_of_one_s_own_counts_as_seen_and_its_mistakes_are_told(
    book: Logbook, log: Callable[..., str], tmp_path: Path
) -> None:
    file = tmp_path / "mine.csv"
    file.write_text("date;object;rank\n2020-05-01T22:00:00Z;M13;3\n2020-05-01T23:00:00Z;M 92;4\n")
    said = log("import", str(file))
    assert "Imported 2 observations in 1 outing" in said
    assert "left alone: rank" in said
    assert {key_of(n) for n in seen_names(book)} == {"M13", "M92"}
    for bad, why in (("M13,nicely", "one of clearly"), (",seen", "Fill it in")):
        file.write_text(f"utc,object,seen\n2020-05-01T22:00:00Z,{bad}\n")
        said = log("import", str(file), fails=True)
        assert why in said
        assert "line 2" in said
        assert "Nothing was imported" in said
