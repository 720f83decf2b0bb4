"""The observer's own objects, added and taken out on the phone: the same file as the command's."""

from __future__ import annotations

import csv
import io

from plumbstar.errors import UserError
from plumbstar.logbook import own_file
from plumbstar.sky.naming.lookup import coordinates_label

_AGAIN = "Go back and change it"


def listed() -> list[dict[str, str]]:
    """What is on the list: names and places."""
    kept = own_file.load(own_file.default_path())
    return [{"name": o.name, "words": coordinates_label(o.ra_deg, o.dec_deg)} for o in kept]


def add(answers: dict[str, str]) -> None:
    """One object, by the columns of docs/objects.md. Raises :class:`UserError`."""
    path = own_file.default_path()
    if own_file.load(path).match(answers["name"]) is not None:
        raise UserError(f"'{answers['name']}', on your list already", "a new name", _AGAIN)
    table = io.StringIO()
    csv.writer(table).writerows([answers.keys(), answers.values()])
    try:
        own_file.add(path, table.getvalue(), "", replace=False)
    except UserError as e:
        # Nobody has seen a table here, so its line is not named.
        came = e.came.removeprefix("line 2 of : ")
        remedy = _AGAIN if e.remedy.startswith("Mend that line") else e.remedy
        raise UserError(came, e.wanted, remedy) from None


def remove(name: str) -> None:
    """Take one out. Raises :class:`UserError` if it is not there."""
    own_file.remove(own_file.default_path(), [name])
