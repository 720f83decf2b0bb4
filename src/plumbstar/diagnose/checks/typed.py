"""Numbers as people write them down: decimal points or commas, minutes and seconds with a colon."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from plumbstar.errors import UserError
from plumbstar.text.words import many

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
#: Two numbers of one list that lie so near one another are two readings of one thing. Common
#: practice, no source.
_ALIKE = 1.5
#: Whole readings of one thing lie within so much (common practice, no source); and from here on
#: have two figures.
_SAME, _ONE_FIGURE = 5.0, 10.0


def separate(text: str, key: str, one: bool) -> list[str]:
    """The numbers of a text, each with a decimal point; ``one``: a single one is wanted.

    A comma between figures is a decimal comma where the numbers are kept apart by something else,
    or where one number is wanted; else it keeps them apart. Raises :class:`UserError` where it may
    be either.
    """
    text = text.strip().replace("−", "-")
    if one and _DECIMAL_COMMA.fullmatch(text):
        return [text.replace(",", ".")]
    # A comma before a blank keeps apart, whatever the others do.
    words = [w.strip(",") for w in re.split(r"[;\s]+", text) if w.strip(",")]
    with_comma = [w for w in words if "," in w]
    if not with_comma:
        return words
    if len(words) > 1 and all(map(_DECIMAL_COMMA.fullmatch, with_comma)):
        return [w.replace(",", ".") for w in words]
    parts = [p for w in words for p in w.split(",") if p.strip()]
    if "." not in text and _may_be_decimals(parts):
        raise UserError(
            f"{key}: '{text}', which may be {many(len(parts) // 2, 'number')} with "
            f"{'a decimal comma' if len(parts) == 2 else 'decimal commas'} or {len(parts)} whole "
            "ones",
            "numbers that can be told apart",
            f"Write {parts[0]}.{parts[1]} with a point, or keep whole numbers apart with blanks",
        )
    return parts


def _may_be_decimals(parts: list[str]) -> bool:
    """Whether every second of them looks like the decimals of the one before."""
    try:
        values = [float(p) for p in parts]
    except ValueError:
        return False
    wholes, tails = values[0::2], values[1::2]
    if len(values) % 2 or not all(p.isdigit() for p in parts[1::2]):
        return False
    # Whole degrees read time and again: all near one another, and not so near nought that a tail
    # of one figure is as near.
    if min(wholes) >= _ONE_FIGURE and all(
        abs(t - w) <= _SAME for w, t in zip(wholes, tails, strict=True)
    ):
        return False
    return max(wholes) - min(wholes) <= _ALIKE or all(len(p) <= 2 for p in parts[1::2])


def coarseness(lists: Sequence[str | Sequence[Any]]) -> float:
    """The step in which numbers were written: 1 for 12 and 13, 0.1 for 12.0 and 12.1; the finest of
    all counts. 0 where they did not come as text."""
    words = [w for x in lists for w in (separate(x, "", False) if isinstance(x, str) else x)]
    if not words or not all(isinstance(w, str) for w in words):
        return 0.0
    return float(10.0 ** -max(len(w.partition(".")[2]) for w in words))


def seconds_of(text: str) -> str:
    """Seconds of a time written with a colon, as 4:02; anything else as it is."""
    written = re.fullmatch(r"(\d+):([0-5]?\d(?:\.\d+)?)", text)
    return str(60 * int(written[1]) + float(written[2])) if written else text
