"""The observer's own objects, added and taken out on the phone: the same file as the command's."""

from __future__ import annotations

from plumbstar.contract.asked import OwnAnswer, OwnObjectRecord
from plumbstar.errors import UserError
from plumbstar.logbook import own_file
from plumbstar.sky.naming.lookup import coordinates_label
from plumbstar.text import table

_AGAIN = "Go back and change it"


def listed() -> OwnAnswer:
    """What is on the list: names and places."""
    kept = own_file.load(own_file.default_path())
    return OwnAnswer(
        objects=tuple(
            OwnObjectRecord(name=o.name, words=coordinates_label(o.ra_deg, o.dec_deg)) for o in kept
        )
    )


def add(answers: dict[str, str]) -> None:
    """One object, by the columns of docs/objects.md. Raises :class:`UserError`."""
    path = own_file.default_path()
    if own_file.load(path).match(answers["name"]) is not None:
        raise UserError(f"'{answers['name']}', on your list already", "a new name", _AGAIN)
    try:
        own_file.add(path, table.write(list(answers), [list(answers.values())]), "", replace=False)
    except table.TableError as e:
        # Nobody has seen a table here, so its line is not named.
        came = f"{e.column} {e.fault.came}" if e.column else e.fault.came
        raise UserError(came, e.fault.wanted, e.fault.remedy or _AGAIN) from None


def remove(name: str) -> None:
    """Take one out. Raises :class:`UserError` if it is not there."""
    own_file.remove(own_file.default_path(), [name])
