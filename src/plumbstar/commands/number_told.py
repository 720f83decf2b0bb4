"""A newcomer's message about the one number of a controller: "it shows +1.4 after A and B"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from plumbstar.text.table import plain_number

_TOLD = re.compile(
    r"(?:shows?|showed|shown|says?|said|displays?|displayed|number|reads?)\D{0,24}?"
    r"(?P<number>[+\-−]?\s?\d{1,2}(?:[.,]\d{1,3})?)\s*(?:°|deg\w*)?\s+"
    r"(?:after|with|from|for|on)\s+(?P<a>[^,;.\d]+?)\s*(?:,|and|then|&)\s*(?:then\s+)?"
    r"(?P<b>[^,;.!?\d\n]+)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class NumberTold:
    """The number, degrees, as shown, and the two stars as they were written."""

    shown_deg: float
    star_a: str
    star_b: str


def number_told(text: str) -> NumberTold | None:
    """What a message tells of a controller's number; None if it is about something else."""
    found = _TOLD.search(text)
    if found is None:
        return None
    number = plain_number(found["number"].replace(" ", ""))
    return NumberTold(number, found["a"].strip(), found["b"].strip())
