"""The one table reader: every dialect through every reader, and every mistake with its place."""

from __future__ import annotations

import codecs
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.cli import group
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, own_file
from plumbstar.text import table
from plumbstar.text.table import TableError

SITE = "47.2,11.6,940"
#: Each kind of table as a program would write it: a heading, and lines of which one has a minus.
SIGHTINGS = [
    ["utc", "star", "az_reading_deg", "alt_reading_deg"],
    ["2027-01-28T17:15:00Z", "Aldebaran", "-30.25", "49.125"],
    ["2027-01-28T17:16:00Z", "Polaris", "260.9", "46.2"],
]
PLACED = [
    ["star", "true_az_deg", "true_alt_deg", "az_reading_deg", "alt_reading_deg"],
    ["Aldebaran", "91.5", "48.25", "-30.25", "49.125"],
    ["Polaris", "0.5", "47.5", "238.75", "48.5"],
]
OBJECTS = [
    ["name", "ra_deg", "dec", "mag", "pa"],
    ["My pair", "83.820833", "-5.383333", "8.5", "30.5"],
    ["Far patch", "10.5", "41.25", "9.5", "0.5"],
]
NIGHTS = [
    ["shown_deg", "star_a", "time_a", "star_b", "time_b", "label"],
    ["-1.25", "Capella", "2027-01-28T18:30:00Z", "Deneb", "2027-01-28T18:30:40Z", "first"],
    ["1.5", "Capella", "2027-01-29T18:30:00Z", "Diphda", "2027-01-29T18:30:30Z", "second"],
]
NUMBERS = ("az_reading_deg", "alt_reading_deg", "true_az_deg", "true_alt_deg", "ra_deg", "dec",
           "pa", "shown_deg")  # fmt: skip

Rows = list[list[str]]


def written(rows: Rows, mark: str = ",") -> str:
    return "".join(mark.join(r) + "\n" for r in rows)


def numbers(rows: Rows, change: Callable[[str], str]) -> Rows:
    """Angles and numbers written another way."""
    body = [[change(c) if h in NUMBERS else c for h, c in zip(rows[0], r, strict=True)]
            for r in rows[1:]]  # fmt: skip
    return [rows[0], *body]


def decimal_comma(cell: str) -> str:
    return cell.replace(".", ",")


DIALECTS: dict[str, Callable[[Rows], str]] = {
    "semicolons": lambda r: written(r, ";"),
    "semicolons, decimal commas": lambda r: written(numbers(r, decimal_comma), ";"),
    "tabs": lambda r: written(r, "\t"),
    "tabs, decimal commas": lambda r: written(numbers(r, decimal_comma), "\t"),
    "decimal commas in quotes": lambda r: written(numbers(r, lambda c: f'"{decimal_comma(c)}"')),
    "indented remarks": lambda r: "  # mine\n\n" + written(r).replace("\n", "\n\t# so\n\n", 1),
    "degree signs": lambda r: written(numbers(r, lambda c: f"{c}°")),
    "spaced degree signs": lambda r: written(numbers(r, lambda c: f" {c} °")),
    "true minus signs": lambda r: written(numbers(r, lambda c: c.replace("-", "−"))),
    "en dashes": lambda r: written(numbers(r, lambda c: c.replace("-", "–"))),
    "trailing empty columns": lambda r: written(r).replace("\n", ",,\n") + ",,,,,,,,\n",
    "capitals": lambda r: written([[f" {h.upper()}" for h in r[0]], *r[1:]]),
    "byte-order mark": lambda r: "\ufeff" + written(r),
    "ends of lines": lambda r: written(r).replace("\n", "\r\n"),
    "everything in quotes": lambda r: written([[f'"{c}"' for c in x] for x in r]),
    "all at once": lambda r: "\ufeff  # mine\r\n" + written(
        numbers([[f"{h.upper()} " for h in r[0]], *r[1:]], str), ";"
    ).replace("-30.25", "−30,25°").replace("-5.383333", "−5,383333°").replace("-1.25", "−1,25°")
    .replace("\n", ";;\r\n"),
    "twice": lambda r: written([*r, r[1]]),
}  # fmt: skip


def plumbstar(*args: str, stdin: str | None = None) -> dict:
    done = CliRunner().invoke(group, [*args, "--json"], input=stdin, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return json.loads(done.output)


def fixed(file: str, logbook: str) -> tuple[object, list[str]]:
    got = plumbstar("fix", file, "--site", SITE)
    return (got["terms"], got["sightings"]), got["notes"]


def asked_why(file: str, logbook: str) -> tuple[object, list[str]]:
    got = plumbstar("why", file, "--site", SITE)
    return got["causes"], got["notes"]


def imported(file: str, logbook: str) -> tuple[object, list[str]]:
    got = plumbstar("log", "import", file, "--site", SITE, "--logbook", logbook)
    with Logbook.open(Path(logbook)) as book:
        return [s.sighting for s in book.sightings(book.outings()[-1].id)], got["notes"]


def objects_added(file: str, logbook: str) -> tuple[object, list[str]]:
    mine = Path(logbook).with_name("mine.csv")
    mine.unlink(missing_ok=True)
    got = plumbstar("objects", "add", file, "--file", str(mine))
    kept = [(o.name, o.ra_deg, o.dec_deg, o.v_mag, o.position_angle_deg)
            for o in own_file.load(mine)]  # fmt: skip
    return kept, got["notes"]


def nights(file: str, logbook: str) -> tuple[object, list[str]]:
    got = plumbstar("why", file, "--site", SITE)
    return got["evenings"], got["notes"]


#: Bytes with a byte-order mark, as spreadsheets and editors write them.
MARKS: dict[str, Callable[[str], bytes]] = {
    "UTF-16, small end first": lambda text: codecs.BOM_UTF16_LE + text.encode("utf-16-le"),
    "UTF-16, big end first": lambda text: codecs.BOM_UTF16_BE + text.encode("utf-16-be"),
    "UTF-32": lambda text: codecs.BOM_UTF32_LE + text.encode("utf-32-le"),
}
READERS = {
    "fix": (fixed, SIGHTINGS),
    "fix, placed": (fixed, PLACED),
    "why": (asked_why, SIGHTINGS),
    "log import": (imported, SIGHTINGS),
    "log import, placed": (imported, PLACED),
    "objects": (objects_added, OBJECTS),
    "why, of nights": (nights, NIGHTS),
}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    """What each reader makes of the plain table."""
    folder = tmp_path_factory.mktemp("plain")
    out = {}
    for name, (reader, rows) in READERS.items():
        file = folder / "plain.csv"
        file.write_text(written(rows), encoding="utf-8")
        out[name], notes = reader(str(file), str(folder / f"{name}.sqlite3"))
        assert len(notes) == len([n for n in notes if "repeats" not in n])
    return out


@pytest.mark.parametrize("dialect", DIALECTS)
@pytest.mark.parametrize("name", READERS)
def test_every_reader_takes_every_dialect(
    name: str, dialect: str, plain: dict[str, object], tmp_path: Path
) -> None:
    reader, rows = READERS[name]
    file = tmp_path / "table.csv"
    file.write_text(DIALECTS[dialect](rows), encoding="utf-8", newline="")
    got, notes = reader(str(file), str(tmp_path / "log.sqlite3"))
    assert got == plain[name]
    said = "Line 4 repeats line 2 and is counted once."
    assert (said in notes) == (dialect == "twice")


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("name", READERS)
def test_every_reader_takes_a_spreadsheets_unicode_text(
    name: str, mark: str, plain: dict[str, object], tmp_path: Path
) -> None:
    reader, rows = READERS[name]
    file = tmp_path / "table.csv"
    file.write_bytes(MARKS[mark](DIALECTS["tabs"](rows)))
    got, notes = reader(str(file), str(tmp_path / "log.sqlite3"))
    assert got == plain[name]
    assert not any("cannot be shown" in n for n in notes)


@pytest.mark.parametrize("name", ["fix", "why", "why, of nights"])
def test_a_dash_is_standard_input(name: str, plain: dict[str, object], tmp_path: Path) -> None:
    _, rows = READERS[name]
    got = plumbstar(*(["fix"] if name == "fix" else ["why"]), "-", "--site", SITE,
                    stdin=written(rows))  # fmt: skip
    expected = plain[name][0] if name == "fix" else plain[name]  # type: ignore[index]
    assert got[{"fix": "terms", "why": "causes"}.get(name, "evenings")] == expected


LINES = {
    "fix": (["fix", "{}", "--site", SITE], "az_reading_deg", SIGHTINGS, 2),
    "why": (["why", "{}", "--site", SITE], "az_reading_deg", SIGHTINGS, 2),
    "log import": (["log", "import", "{}", "--site", SITE, "--logbook", "{}.sqlite3"],
                   "az_reading_deg", SIGHTINGS, 2),
    "objects": (["objects", "add", "{}", "--file", "{}.mine"], "mag", OBJECTS, 3),
    "why, of nights": (["why", "{}", "--site", SITE], "shown_deg", NIGHTS, 0),
}  # fmt: skip


@pytest.mark.parametrize("name", LINES)
def test_a_mistake_is_named_by_source_line_and_column(name: str, tmp_path: Path) -> None:
    args, column, rows, k = LINES[name]
    bad = [r[:] for r in rows]
    bad[2][k] = "thirty"
    file = tmp_path / "my table.csv"
    file.write_text("# a remark\n" + written(bad), encoding="utf-8")
    with pytest.raises(TableError) as e:
        CliRunner().invoke(group, [a.format(file) for a in args], catch_exceptions=False)
    assert (e.value.source, e.value.line, e.value.column) == (str(file), 4, column)
    assert e.value.came == f"{file}, line 4, column {column}: 'thirty'"
    assert e.value.wanted
    assert e.value.remedy


@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("way", ["missing", "folder", "not utf-8", "no mark", "half", "empty"])
def test_a_file_that_cannot_be_read_is_told_plainly(name: str, way: str, tmp_path: Path) -> None:
    args = LINES[name][0]
    file = tmp_path / "x.csv"
    if way == "folder":
        file.mkdir()
    elif way == "not utf-8":
        file.write_bytes(written(LINES[name][2]).encode("latin-1") + b"\xb0\n")
    elif way == "no mark":
        file.write_bytes(written(LINES[name][2]).encode("utf-16-le"))
    elif way == "half":
        file.write_bytes(written(LINES[name][2]).encode("utf-16") + b"\n")
    elif way == "empty":
        file.write_bytes(b"\xef\xbb\xbf\n")
    with pytest.raises(UserError) as e:
        CliRunner().invoke(group, [a.format(file) for a in args], catch_exceptions=False)
    words = {
        "missing": "does not exist",
        "folder": "a folder",
        "not utf-8": "not UTF-8",
        "no mark": "UTF-16 text without its byte-order mark",
        "half": "begins as UTF-16 text",
        "empty": "empty",
    }
    assert str(file) in e.value.came
    assert words[way] in e.value.came


def read(text: str, **options: bool) -> table.Table:
    return table.read(text, "x.csv", lambda n: n if n in "abc" else "", "columns a,b,c", **options)


def test_a_cell_in_quotes_may_hold_marks_quotes_and_lines() -> None:
    got = read('a,b\n"1, ""2""\n# no remark",3\n# a remark\n4,5\n')
    assert [(r.line, dict(r.cells)) for r in got.rows] == [
        (2, {"a": '1, "2"\n# no remark', "b": "3"}),
        (5, {"a": "4", "b": "5"}),
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a,A\n1,2\n", "line 1: the column 'A' twice"),
        ("\n#\na,d\n1,2\n", "line 3: the column 'd', not known here"),
        ("a,b\n1,2,3\n", "line 2: 3 values. Wanted: 2, one for each column"),
        ('a,b\n1,"2\n', "line 2: broken CSV"),
        ("a\0,b\n", "no text"),
    ],
)
def test_what_is_no_table(text: str, said: str) -> None:
    with pytest.raises(TableError) as e:
        read(text)
    assert said in str(e.value)


def test_an_unknown_column_is_left_alone_where_that_is_asked() -> None:
    got = read("a,d\n1,2\n", only_known=False)
    assert dict(got.rows[0].cells) == {"a": "1"}
    assert got.unknown == ("d",)


@pytest.mark.parametrize("text", ["", "x", "1_0", "inf", "nan", "1,2.3", "--3", "1e999", "°"])
def test_what_is_no_number(text: str) -> None:
    assert str(table.plain_number(text)) == "nan"


@settings(deadline=None, derandomize=True)
@given(st.lists(st.lists(st.text(max_size=6), min_size=3, max_size=3), min_size=1, max_size=6))
def test_what_is_written_is_read_back(cells: list[list[str]]) -> None:
    cells = [["".join(c for c in x if c.isprintable()).strip() for x in r] for r in cells]
    got = read(table.write(["a", "b", "c"], cells))
    once = [r for k, r in enumerate(cells) if any(r) and r not in cells[:k]]
    assert [list(r.cells.values()) for r in got.rows] == once


FORMULAS = [
    '=HYPERLINK("http://x.example","more")', "+1+cmd|' /C calc'!A0", "@SUM(1)", "-2+3", "'=1+1",
    "''+2a", "＝1+1", "'quoted", "-5.39", "+3", "'-5",
]  # fmt: skip


@pytest.mark.parametrize("cell", FORMULAS)
def test_no_cell_leaves_as_a_formula_and_every_cell_comes_back(cell: str) -> None:
    text = table.write(("name", "kind"), [(cell, "x")])
    written = text.splitlines()[1].strip('"')
    assert not written.startswith(("=", "@", "＝"))
    if written.startswith(("+", "-")):
        assert float(written.split(",")[0])
    back = table.read(text, "t", lambda n: n, "a table")
    assert back.rows[0].text("name") == cell


@given(st.text("=+-@'0123456789.aé＝ ", max_size=12).map(str.strip).filter(bool))
@settings(derandomize=True, database=None)
def test_any_cell_comes_back(cell: str) -> None:
    text = table.write(("a", "b"), [("x", cell)])
    assert table.read(text, "t", lambda n: n, "a table").rows[0].text("b") == cell


def test_an_own_object_called_like_a_formula_leaves_as_text(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = "=HYPERLINK(A1)"
    kept, out = tmp_path / "own.csv", tmp_path / "out.csv"
    monkeypatch.setenv(own_file.ENVIRONMENT, str(kept))
    own_file.add(kept, f"name,ra_deg,dec_deg\n{name},83.8,-5.4\n", "", replace=False)
    CliRunner().invoke(group, ["objects", "export", str(out)], catch_exceptions=False)
    for file in (kept, out):
        line = file.read_text().splitlines()[1]
        assert line.startswith("'=")
        assert ",-5.40000," in line  # numbers stay numbers
    other = tmp_path / "other.csv"
    own_file.add(other, out.read_text(), "", replace=False)
    assert [o.name for o in own_file.load(other)] == [name]
