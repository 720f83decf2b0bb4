"""The one reader of tables: sightings, objects of one's own, the nights of a controller.

A table is a heading and one line a thing, as people keep it in a spreadsheet. What spreadsheets and
people make of it is understood everywhere alike: commas, semicolons or tabs between the cells;
decimal commas; degree signs and typographic minus signs; capitals in the heading; empty cells and
lines at the edge; remarks that start with #, indented or not; a byte-order mark; quoted cells.
A line that repeats another to the last figure is one thing written twice: it is counted once, and
:attr:`Table.repeats` says so.

Pure: text in, lines out, or a :class:`TableError` that says where.
"""

from __future__ import annotations

import csv
import io
import itertools
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from plumbstar.errors import UserError
from plumbstar.text.words import joined

#: What may stand between two cells; where two are as frequent in the heading, the first.
_MARKS = "\t;,"
_MEND = "Correct that line"
#: A cell that a spreadsheet would work out, as ``=HYPERLINK(...)``: it is written with an
#: apostrophe before it, the spreadsheets' own sign for plain text, and read without. One that
#: begins with apostrophes and then so gets one more, so that every cell comes back as it was.
_FORMULA = re.compile(r"'*[=+\-@\t\r＝＋－＠]")
#: Signs that people and spreadsheets write for a hyphen-minus: minus sign, en dash.
_MINUS = str.maketrans({"−": "-", "–": "-"})


class TableError(UserError):
    """What is wrong with a table, and where.

    ``source`` is the table's name, ``line`` counts from 1 (None: the table as a whole), ``column``
    is named as its heading names it. ``fault`` is the mistake without the place, for a reader who
    never saw a table; its remedy is "" where only "Correct that line" is to be said.
    """

    def __init__(
        self, fault: UserError, source: str, line: int | None = None, column: str = ""
    ) -> None:
        where = [source] if source else []
        where += [f"line {line}"] if line is not None else []
        where += [f"column {column}"] if column else []
        came = f"{', '.join(where)}: {fault.came}" if where else fault.came
        super().__init__(came, fault.wanted, fault.remedy or _MEND)
        self.remedy_on_pages = fault.remedy_on_pages or _MEND
        self.fault, self.source, self.line, self.column = fault, source, line, column


@dataclass(frozen=True, slots=True)
class Repeat:
    """Line ``line`` repeats line ``earlier`` to the last figure."""

    line: int
    earlier: int

    @property
    def sentence(self) -> str:
        return f"Line {self.line} repeats line {self.earlier} and is counted once."


@dataclass(frozen=True, slots=True)
class Row:
    """One line under the heading: its cells by column."""

    cells: Mapping[str, str]
    line: int
    source: str
    #: Our name of each column -> how the heading names it.
    named: Mapping[str, str]
    #: What stands between cells: a comma in a cell of another table is a decimal comma.
    mark: str = ","
    #: How many cells the line has; fewer than the heading where it ends early.
    count: int = 0

    def text(self, column: str) -> str:
        """The cell, "" where it is empty or there is no such column."""
        return self.cells.get(column, "")

    def number(self, column: str, wanted: str = "a number") -> float | None:
        """The cell as a number, None where it is empty. Raises :class:`TableError`."""
        text = self.text(column)
        if not text:
            return None
        value = plain_number(text)
        if math.isnan(value):
            raise self.error(f"'{text[:40]}'", wanted, "Correct that value", column)
        return value

    def needed(self, column: str, wanted: str = "a number") -> float:
        """As :meth:`number`, but an empty cell is an error too."""
        value = self.number(column, wanted)
        if value is not None:
            return value
        if self.count < len(self.named):
            n = len(self.named)
            raise self.error(f"{self.count} values", f"{n}, one for each column")
        raise self.error("no value", wanted, "Fill it in", column)

    def error(self, came: str, wanted: str, remedy: str = "", column: str = "") -> TableError:
        """The mistake with its place; the remedy when left out is to correct the line."""
        return self.at(UserError(came, wanted, remedy), column)

    def at(self, fault: UserError, column: str = "") -> TableError:
        """A mistake found elsewhere, with the place of this line."""
        return TableError(fault, self.source, self.line, self.named.get(column, column))


@dataclass(frozen=True, slots=True)
class Table:
    """A heading and the lines under it, each once."""

    source: str
    #: Our name of each column -> how the heading names it.
    named: Mapping[str, str]
    rows: tuple[Row, ...]
    repeats: tuple[Repeat, ...] = ()
    line: int = 1  # of the heading
    unknown: tuple[str, ...] = field(default=())

    def error(self, came: str, wanted: str, remedy: str = "Correct the heading line") -> TableError:
        """A mistake in the heading."""
        return TableError(UserError(came, wanted, remedy), self.source, self.line)

    def needs_rows(self, things: str) -> None:
        """Raises :class:`TableError` if there is a heading and nothing else."""
        if not self.rows:
            fault = UserError("a heading and nothing else", f"one or more {things}", "Add them")
            raise TableError(fault, self.source)


def plain_number(text: str) -> float:
    """A number as a person writes it in a table, finite; NaN for anything else."""
    text = text.translate(_MINUS).strip().rstrip("°º").strip().replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) and "_" not in text else math.nan


def heading(text: str) -> str:
    """The first line that is neither empty nor a remark, in small letters; "" for none."""
    for _, line in _lines(text):
        if not _skipped(line):
            return line.strip().casefold()
    return ""


def read(
    text: str,
    source: str,
    column: Callable[[str], str],
    wanted: str,
    *,
    only_known: bool = True,
) -> Table:
    """The table that ``text`` is.

    ``column(name)`` gives our name for a heading (in small letters, without spaces around it), ""
    for one that is not known; where ``only_known``, such a one is refused, else its cells are left
    alone. ``wanted`` says what a table of this kind holds. Raises :class:`TableError`.
    """
    if "\0" in text:
        raise TableError(UserError("no text", "a table of text", "Save it again as CSV"), source)
    mark = _mark(heading(text))
    records = _records(_lines(text), mark, source)
    at, headings = next(records, (0, []))
    if not headings:
        remedy = "Write a heading line, and under it one line for each"
        raise TableError(UserError("an empty table", wanted, remedy), source)
    while not headings[-1]:  # empty columns at the right edge of a spreadsheet
        headings.pop()
    names = [column(h.casefold()) for h in headings]
    unknown = tuple(h for h, n in zip(headings, names, strict=True) if not n)
    named = {n: h for h, n in zip(headings, names, strict=True) if n}
    table = Table(source, named, (), (), at, unknown)
    _refuse_doubles(table, headings, names)
    if unknown and only_known:
        quoted = joined([f"'{u}'" for u in unknown])
        raise table.error(
            f"the column{'' if len(unknown) == 1 else 's'} {quoted}, not known here",
            wanted,
            "Rename or remove what is not known; the first line is the heading",
        )
    rows: list[Row] = []
    repeats: list[Repeat] = []
    seen: dict[tuple[str, ...], int] = {}
    for number, cells in records:
        while len(cells) > len(headings) and not cells[-1]:
            cells.pop()
        count = len(cells)
        if count > len(headings):
            fault = UserError(
                f"{count} values",
                f"{len(headings)}, one for each column",
                "Look for a stray mark between cells, or put quotes round a cell that holds one",
            )
            raise TableError(fault, source, number)
        cells += [""] * (len(headings) - count)
        earlier = seen.setdefault(tuple(cells), number)
        if earlier != number:
            repeats.append(Repeat(number, earlier))
            continue
        found = {n: c for n, c in zip(names, cells, strict=True) if n}
        rows.append(Row(found, number, source, named, mark, count))
    return Table(source, named, tuple(rows), tuple(repeats), at, unknown)


def write(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table that :func:`read` reads back to the same cells."""
    out = io.StringIO()
    plain = csv.writer(out, lineterminator="\n")
    quoted = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    plain.writerow(columns)
    for row in ([_harmless(c) for c in cells] for cells in rows):
        # In quotes a line that begins with # is no remark.
        (quoted if row and row[0].lstrip().startswith("#") else plain).writerow(row)
    return out.getvalue()


def _harmless(cell: str) -> str:
    """The cell so that no spreadsheet takes it for a formula; numbers stay numbers."""
    bare = cell.lstrip()
    return f"'{cell}" if _FORMULA.match(bare) and math.isnan(plain_number(bare)) else cell


def _as_it_was(cell: str) -> str:
    """What :func:`_harmless` made harmless."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell, 1) else cell


def _refuse_doubles(table: Table, headings: Sequence[str], names: Sequence[str]) -> None:
    """One column under two headings would leave open which is meant."""
    for k, (h, n) in enumerate(zip(headings, names, strict=True)):
        for other, name in zip(headings[:k], names[:k], strict=True):
            if h.casefold() == other.casefold():
                raise table.error(f"the column '{h}' twice", "each column once", "Remove one")
            if n and n == name:
                raise table.error(f"both {other} and {h}", "one of the two", "Remove one column")


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Lines with their numbers, as a text editor counts them; ends of lines stay on."""
    return enumerate(io.StringIO(text.removeprefix("\ufeff"), newline=""), 1)


def _skipped(line: str) -> bool:
    bare = line.strip()
    return not bare.strip(_MARKS) or bare.startswith("#")


def _mark(head: str) -> str:
    """What stands between the cells of the heading; a comma where nothing does."""
    outside = "".join(head.split('"')[::2])
    return max(_MARKS, key=outside.count) if any(m in outside for m in _MARKS) else ","


def _records(
    lines: Iterator[tuple[int, str]], mark: str, source: str
) -> Iterator[tuple[int, list[str]]]:
    """The cells of each record, with the line where it begins; a quoted cell may span lines."""
    for number, line in lines:
        if _skipped(line):
            continue
        more = itertools.chain([line], (x for _, x in lines))
        reader = csv.reader(more, delimiter=mark, strict=True, skipinitialspace=True)
        try:
            cells = [_as_it_was(c.strip()) for c in next(reader)]
        except csv.Error as e:
            fault = UserError(f"broken CSV ({e})", "closed quotes", _MEND)
            raise TableError(fault, source, number) from None
        if any(cells):
            yield number, cells
