"""The observer's own lists to work through: names under a name, kept with the settings."""

from __future__ import annotations

from plumbstar.errors import UserError
from plumbstar.logbook.kept import good_name
from plumbstar.logbook.records import clean
from plumbstar.logbook.store import Logbook
from plumbstar.sky.naming.names import fold
from plumbstar.text import table

_SETTING = "own_lists"
_MOST_LISTS, _MOST_NAMES = 50, 5000
_TAKEN = ("messier", "caldwell", "doublestars", "planets")
_HEADINGS = {"name": "name", "object": "name", "target": "name", "id": "name"}
_WANTED = "a table with a column 'name' (or 'object', 'target'), or one name a line"


def own_lists(book: Logbook) -> dict[str, list[str]]:
    """Names by the list's name."""
    kept = book.get_setting(_SETTING, {})
    return {str(k): [str(n) for n in v] for k, v in kept.items()} if isinstance(kept, dict) else {}


def read_list(text: str, source: str) -> list[str]:
    """The names, each once. Raises :class:`UserError`."""
    lines = [clean(line) for line in text.splitlines() if not line.lstrip().startswith("#")]
    names = [line for line in lines if line]
    cells = [c.strip(' "') for c in table.heading(text).replace(";", ",").split(",")]
    if any(c in _HEADINGS for c in cells):
        found = table.read(text, source, lambda n: _HEADINGS.get(n, ""), _WANTED, only_known=False)
        names = [name for r in found.rows if (name := clean(r.text("name")))]
    names = list(dict.fromkeys(names))
    if not names or len(names) > _MOST_NAMES:
        raise UserError(
            f"{source}: {len(names)} names", f"1 to {_MOST_NAMES}; {_WANTED}", "Check it"
        )
    return names


def put_list(book: Logbook, name: str, names: list[str]) -> None:
    """Keep it, in place of one so called. Raises :class:`UserError`."""
    called = good_name(name)
    if fold(called) in _TAKEN:
        raise UserError(f"a list of your own called '{called}'", "another name", "That one is here")
    kept = {k: v for k, v in own_lists(book).items() if fold(k) != fold(called)}
    if len(kept) >= _MOST_LISTS:
        raise UserError(f"list {len(kept) + 1}", f"at most {_MOST_LISTS}", "Remove one first")
    book.set_setting(_SETTING, {**kept, called: names})


def remove_list(book: Logbook, name: str) -> None:
    """Take it away. Raises :class:`UserError` where there is none."""
    kept = own_lists(book)
    rest = {k: v for k, v in kept.items() if fold(k) != fold(name)}
    if len(rest) == len(kept):
        raise UserError(
            f"no list of yours called '{name}'", ", ".join(kept) or "one you added", "Check it"
        )
    book.set_setting(_SETTING, rest)
