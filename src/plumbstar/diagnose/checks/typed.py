"""Numbers as people write them down: decimal points or commas, minutes and seconds with a colon."""

from __future__ import annotations

import re

from plumbstar.errors import UserError

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
#: Two numbers of one list that lie so near one another are two readings of one thing.
_ALIKE = 1.5


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
    if len(words) > 1 and "." not in text and all(map(_DECIMAL_COMMA.fullmatch, with_comma)):
        return [w.replace(",", ".") for w in words]
    parts = [p for w in words for p in w.split(",") if p.strip()]
    if "." not in text and _may_be_decimals(parts):
        raise UserError(
            f"{key}: '{text}', which may be {len(parts) // 2} numbers with decimal commas or "
            f"{len(parts)} whole ones",
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
    wholes = values[0::2]
    return (
        len(values) % 2 == 0
        and min(values[1::2]) >= 0
        and max(wholes) - min(wholes) <= _ALIKE
        and abs(values[1] - values[0]) > _ALIKE
    )


def seconds_of(text: str) -> str:
    """Seconds of a time written with a colon, as 4:02; anything else as it is."""
    written = re.fullmatch(r"(\d+):([0-5]?\d(?:\.\d+)?)", text)
    return str(60 * int(written[1]) + float(written[2])) if written else text
