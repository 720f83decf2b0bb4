"""The one kind of error a user may cause.

Everything that a user can get wrong (a file, a name, a value) ends in :class:`UserError`. The
command line prints it without a traceback and the pages show it as a sentence; anything else that
escapes is a bug of ours.
"""

from __future__ import annotations

from typing import Protocol

#: Longer, what came is shown by its beginning: whoever pasted a whole file for a name is to see
#: what was wanted without scrolling.
_LONGEST, _SHOWN = 600, 200


class Remedy(Protocol):
    """What to do, where that is said otherwise on the pages than in a terminal (``str`` of it)."""

    def on_pages(self) -> str:
        """In words for whoever has only the pages."""


class UserError(Exception):
    """What came, what was wanted, and what to do about it, in plain words.

    ``came`` and ``wanted`` are noun phrases or short sentences; ``remedy`` is an instruction, or
    advice as data (text/advice.py), of which the words are made here. Where nothing was typed that
    could have been otherwise, ``came`` tells what happened and ``wanted`` is empty. Of a very long
    one the beginning is kept.
    """

    def __init__(self, came: str, wanted: str, remedy: str | Remedy) -> None:
        if len(came) > _LONGEST:
            came = f"{came[:_SHOWN]}… ({len(came)} characters)"
        super().__init__(came, wanted, str(remedy))
        self.came = came
        self.wanted = wanted
        self.remedy = str(remedy)
        self.remedy_on_pages = remedy if isinstance(remedy, str) else remedy.on_pages()

    def __str__(self) -> str:
        return f"{self.trouble}. {self.remedy}"

    @property
    def trouble(self) -> str:
        """What came and what was wanted, without the last full stop."""
        return f"{self.came}. Wanted: {self.wanted}" if self.wanted else self.came

    @property
    def trouble_on_pages(self) -> str:
        """The same as whole sentences."""
        return f"{self.trouble[:1].upper()}{self.trouble[1:]}."

    def on_pages(self) -> str:
        """All of it as whole sentences, for whoever has only the pages."""
        return f"{self.trouble_on_pages} {self.remedy_on_pages}."

    def within(self, where: str) -> UserError:
        """The same mistake, with the place where it was found said first."""
        said = UserError(f"{where}: {self.came}", self.wanted, self.remedy)
        said.remedy_on_pages = self.remedy_on_pages
        return said


def how_to_add(part: str) -> str:
    """The command that adds an optional part; pyproject.toml names them."""
    return (
        f"pip install 'plumbstar[{part}]', or in a folder that ./dev made ready: "
        f".venv/bin/pip install -e '.[{part}]'"
    )
