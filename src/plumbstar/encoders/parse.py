"""Bytes to counts: the two whole numbers in each line that a board sends.

No board's protocol is known here. A line may hold labels, units and punctuation; what is taken is
its first two whole numbers, decimal or hexadecimal as the kit says. A board that ends its replies
with no line end at all is served by :meth:`ReplyParser.flush`, which the source calls once the
board has gone quiet. Nothing here touches a clock, and no input raises.
"""

from __future__ import annotations

import re
from typing import Final, Literal, NamedTuple

from plumbstar.kit import Connection

MAX_LINE: Final = 256
"""Bytes kept of one line. Longer is junk (a wrong baud rate has no line ends) and is dropped."""

_LINE_END: Final = re.compile(rb"[\r\n]")

# A name before '=' or ':' is a label, so that the 1 of "E1=" is no count.
_DECIMAL_LABEL: Final = re.compile(r"[A-Za-z_]\w*\s*[=:]")
# In hexadecimal "F1C3:0021" may be two counts, so ':' labels only what cannot be a number.
_HEX_LABEL: Final = re.compile(
    r"[A-Za-z_]\w*\s*=|\b[A-Za-z]\s*:|\b(?=\w*[G-Zg-z_])[A-Za-z_]\w*\s*:"
)
# A sign always opens a number, so that "+12-34" is two. The look-aheads refuse parts of a longer
# run of digits and numbers with a decimal point: those are not counts.
_DECIMAL: Final = re.compile(r"(?:[+-]|(?<![\d.]))\d{1,12}(?!\d|\.\d)")
_HEX: Final = re.compile(
    r"(?:[+-]|(?<![0-9A-Za-z_.]))(?:0[xX])?[0-9A-Fa-f]{1,10}(?![0-9A-Za-z_]|\.\d)"
)


class Counts(NamedTuple):
    """One reply: the raw count of each axis, ticks, as the board sent it."""

    az: int
    alt: int


def two_integers(line: bytes, base: Literal[10, 16] = 10) -> tuple[int, int] | None:
    """The first two whole numbers in a line, or None when there are not two. Never raises.

    When more than two are found, those glued to a letter ("E1 1234 E2 56") are left out as long as
    two remain.
    """
    text = line.decode("latin-1")
    if base == 16:
        text = _HEX_LABEL.sub(" ", text)
        found = list(_HEX.finditer(text))
    else:
        text = _DECIMAL_LABEL.sub(" ", text)
        found = list(_DECIMAL.finditer(text))
    if len(found) > 2:
        free = [m for m in found if not text[max(0, m.start() - 1) : m.start()].isalpha()]
        if len(free) >= 2:
            found = free
    if len(found) < 2:
        return None
    return int(found[0].group(), base), int(found[1].group(), base)


def printable(line: bytes, limit: int = 32) -> str:
    """A line as a person can read it: what is not plain ASCII becomes a dot, cut at ``limit``."""
    shown = "".join(chr(b) if 32 <= b < 127 else "." for b in line[:limit])
    return shown + ("..." if len(line) > limit else "")


class ReplyParser:
    """Takes bytes in any pieces; gives the same counts however the stream was cut."""

    def __init__(self, *, base: Literal[10, 16] = 10, altitude_first: bool = False) -> None:
        self._base: Literal[10, 16] = base
        self._altitude_first = altitude_first
        self._line = bytearray()
        self._overlong = False
        self._bare = False
        self.last_junk = ""
        """The last line (printable) that held no two whole numbers: shown to the observer."""

    @classmethod
    def for_connection(cls, connection: Connection) -> ReplyParser:
        """A parser for the board that the kit describes."""
        return cls(base=connection.base, altitude_first=connection.altitude_first)

    @property
    def pending(self) -> bool:
        """True if the bytes since the last line end already hold two whole numbers."""
        return not self._overlong and two_integers(bytes(self._line), self._base) is not None

    @property
    def bare(self) -> bool:
        """True once :meth:`flush` took a reply and no line end has since spoken against it."""
        return self._bare

    def feed(self, data: bytes) -> list[Counts]:
        """Add bytes; return the counts of every line that they complete (CR, LF or both)."""
        out: list[Counts] = []
        *ended, rest = _LINE_END.split(data)
        for piece in ended:
            self._append(piece)
            line, overlong = bytes(self._line), self._overlong
            self.clear()
            if overlong:
                continue
            counts = self._counts(line)
            if counts is not None:
                out.append(counts)
            if any(48 <= b < 58 for b in line):  # the line that ended here carried a number
                self._bare = False
        self._append(rest)
        return out

    def flush(self) -> list[Counts]:
        """Take what has come as a whole reply, for a board that sends no line end.

        Call it only after a quiet spell: a reply cut in the middle of its second number cannot be
        told from a short number. (If that happens, the counter refuses the odd one out.)
        """
        line, overlong = bytes(self._line), self._overlong
        self.clear()
        counts = None if overlong else self._counts(line)
        if counts is None:
            return []
        self._bare = True
        return [counts]

    def clear(self) -> None:
        """Forget an unfinished line."""
        self._line.clear()
        self._overlong = False

    def restart(self) -> None:
        """A new connection: forget the unfinished line and what was learnt about line ends."""
        self.clear()
        self._bare = False
        self.last_junk = ""

    def _append(self, piece: bytes) -> None:
        if self._overlong:
            return
        if len(self._line) + len(piece) > MAX_LINE:
            self.last_junk = printable(bytes(self._line) + piece[:MAX_LINE])
            self._line.clear()
            self._overlong = True
            return
        self._line += piece

    def _counts(self, line: bytes) -> Counts | None:
        pair = two_integers(line, self._base)
        if pair is None:
            if line.strip():
                self.last_junk = printable(line)
            return None
        return Counts(pair[1], pair[0]) if self._altitude_first else Counts(*pair)
